"""The look of the pages that stand outside the app: its colours and sizes, no picture, no script."""

from __future__ import annotations

from html import escape

POLICY = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

CSS = """\
:root { --ink: #0b1e29; --ink-2: #33464f; --edge: #51646e; --well: #f1f5f6; --act: #07435a; --loupe: #ffc21f; }
* { box-sizing: border-box; margin: 0; }
body { font: 400 1.125rem/1.45 "Atkinson Hyperlegible Next", system-ui, sans-serif; color: var(--ink);
  background: #fff; -webkit-text-size-adjust: 100%; }
main { max-inline-size: 46rem; margin-inline: auto; padding: 2rem 1.25rem 4rem; display: grid; gap: 1.5rem; }
header { display: flex; align-items: center; gap: .75rem; font-weight: 700; }
header::before { content: ""; inline-size: 1.5rem; block-size: 1.5rem; border-radius: 50%;
  border: 3px solid var(--loupe); outline: 2px solid var(--ink); box-shadow: inset 0 0 0 2px var(--ink); }
h1 { font-size: 2.125rem; line-height: 1.12; letter-spacing: -.012em; }
h2 { font-size: 1.3125rem; line-height: 1.2; margin-block-end: .5rem; }
section:not(.box) > p + p { margin-block-start: .5rem; }
section > * + h2 { margin-block-start: 1.5rem; }
.lead { font-size: 1.3125rem; line-height: 1.35; }
.note { font-size: .9375rem; color: var(--ink-2); }
.big { font-size: 1.625rem; font-weight: 700; overflow-wrap: anywhere; }
.mono { font: 700 1.25rem/1.6 "Atkinson Hyperlegible Mono", ui-monospace, monospace; overflow-wrap: anywhere; }
.box { border: 2px solid var(--edge); border-radius: .75rem; padding: 1.25rem; background: var(--well);
  display: grid; gap: .75rem; }
ol { padding-inline-start: 1.5rem; display: grid; gap: .5rem; }
a { color: var(--act); font-weight: 600; text-underline-offset: .2em; }
a:focus-visible { outline: 3px solid var(--ink); outline-offset: 2px; box-shadow: 0 0 0 8px var(--loupe); }
.qr { inline-size: 14rem; max-inline-size: 100%; display: block; border-radius: .5rem; }
@media print { .box { background: none; break-inside: avoid; } main { padding: 0; } body { font-size: 11pt; } }
"""


def document(title: str, body: str) -> str:
    """A whole page. `body` is ours and holds nothing from outside that was not escaped."""
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(title)} · Loupebook</title>
<link rel="stylesheet" href="/page.css">
</head>
<body><main><header>Loupebook</header><h1>{escape(title)}</h1>{body}</main></body>
</html>
"""
