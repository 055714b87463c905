"""Security headers on every reply, also on those that no route made."""

from __future__ import annotations

import logging

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from loupebook.trouble import our_fault, told

log = logging.getLogger("loupebook.headers")

POLICIES = "loupebook svelte-trusted-html"
"""Trusted Types policies: ours for worker addresses, Svelte's own for its templates."""

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self' 'wasm-unsafe-eval'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "media-src 'self' blob:",
        "connect-src 'self'",
        "worker-src 'self'",
        "font-src 'self'",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        f"trusted-types {POLICIES}",
    )
)
"""ASVS 5.0.0 3.4.3 and 3.4.6. 'wasm-unsafe-eval' is for the code reader's WebAssembly and allows nothing else."""

HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), microphone=(), geolocation=(), payment=(), usb=()",
    "x-loupebook": "1",
}
"""ASVS 5.0.0 3.4.4, 3.4.5, 3.4.8; X-Loupebook tells our answers from a captive portal's."""


_HEADERS = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
_HEADERS.append((b"cache-control", b"private, no-store"))

STAY_ENCRYPTED = "max-age=31536000"
"""ASVS 5.0.0 3.4.1. Said over https only (RFC 6797, 7.2); it also takes away the way past a browser's warning."""


class SecurityHeaders:
    """ASGI layer outside all of ours. It answers for faults itself, because Starlette's
    own answer to them is made further out and would go without these headers.

    A reply that sets one of them itself keeps its own value.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        begun = False

        async def send_with_headers(message: Message) -> None:
            nonlocal begun
            begun = True
            if message["type"] == "http.response.start":
                own = list(message.get("headers", ()))
                there = {name for name, _ in own}
                own += [each for each in _HEADERS if each[0] not in there]
                if scope["scheme"] == "https":
                    own.append((b"strict-transport-security", STAY_ENCRYPTED.encode()))
                message["headers"] = own
            await send(message)

        try:
            await self.app(scope, receive, send_with_headers)
        except Exception:
            log.exception("no answer to %s %s", scope["method"], scope["path"])
            if begun:
                raise
            await told(our_fault())(scope, receive, send_with_headers)
