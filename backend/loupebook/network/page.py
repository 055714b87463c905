"""The plain page in the building: the authority's file, its fingerprint, the address, and how to trust it.

Nothing else is served there: no record, no cookie, nothing that writes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from loupebook.network.authority import fingerprint
from loupebook.network.look import CSS, POLICY, document
from loupebook.network.profile import profile
from loupebook.qr import modules

CRT = "/loupebook-authority.crt"
PROFILE = "/loupebook-authority.mobileconfig"
STYLE = "/page.css"

HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class File:
    """One thing to be had at the page's address."""

    type: str
    body: bytes
    save_as: str | None = None


def help_page(address: str, name: str, authority: x509.Certificate | None) -> ASGIApp:
    """The page as an app of its own. `authority` None: the hospital's own certificate is used, nothing to install."""
    files = _files(address, name, authority)

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        await _answer(files, scope)(scope, receive, send)

    return app


def _files(address: str, name: str, authority: x509.Certificate | None) -> Mapping[str, File]:
    style = File("text/css; charset=utf-8", CSS.encode())
    if authority is None:
        return {"/": _html(_nothing_to_install(address)), STYLE: style}
    pem = authority.public_bytes(Encoding.PEM)
    return {
        "/": _html(_how_to_trust(address, name, fingerprint(authority))),
        STYLE: style,
        CRT: File("application/x-x509-ca-cert", pem, "loupebook-authority.crt"),
        PROFILE: File("application/x-apple-aspen-config", profile(authority, name), "loupebook-authority.mobileconfig"),
    }


def _html(text: str) -> File:
    return File("text/html; charset=utf-8", text.encode())


def _answer(files: Mapping[str, File], scope: Scope) -> Response:
    found = files.get(scope["path"]) if scope["method"] in ("GET", "HEAD") else None
    if found is None:
        nothing = document("Nothing is here", "<p>Only the page at <a href='/'>the start of this address</a> is.</p>")
        return Response(nothing, 404, HEADERS, "text/html")
    headers = dict(HEADERS)
    if found.save_as is not None:
        headers["content-disposition"] = f'attachment; filename="{found.save_as}"'
    return Response(found.body, headers=headers, media_type=found.type)


def _how_to_trust(address: str, name: str, print_: str) -> str:
    body = f"""
<p class="lead">Do this once on each tablet. Afterwards the tablet opens Loupebook, also without a network.
The file lets a tablet trust <b>{escape(name)}</b> and no other server.</p>
<section class="box">
<h2>First compare</h2>
<p>This page is not protected. Before you trust the file, compare this fingerprint, sign by sign, with the one printed
where the server was started. The tablet shows it too, among the details of the certificate. If one sign differs, do
not install the file and tell whoever looks after the server.</p>
<p class="mono">{_spaced(print_)}</p>
<p class="note">SHA-256 fingerprint of the authority</p>
</section>
<section>
<h2>iPad</h2>
<ol>
<li>In Safari, open this page and get <a href="{PROFILE}">the profile (.mobileconfig)</a>. Tap Allow.</li>
<li>Open Settings, General, VPN &amp; Device Management. Choose “Loupebook at {escape(name)}”. Under More Details
compare the fingerprint, then Install.</li>
<li>Open Settings, General, About, Certificate Trust Settings (at the end). Switch on
“Loupebook authority of {escape(name)}”. Without this switch the iPad still does not trust it.</li>
<li>In Safari, open the address below. Choose Share, Add to Home Screen, and from then on open Loupebook from the home
screen. In a Safari tab it does not record, because a tab's storage is wiped.</li>
</ol>
<h2>Android</h2>
<ol>
<li>Get <a href="{CRT}">the certificate (.crt)</a>.</li>
<li>Open Settings, Security, Encryption &amp; credentials, Install a certificate. Choose <b>CA certificate</b>. Not
“Wi-Fi certificate”: filed there it is not used for pages.</li>
<li>Choose the file. Under Trusted credentials, User, compare the fingerprint.</li>
<li>In Chrome, open the address below. In its menu choose Add to Home screen.</li>
</ol>
<h2>Windows</h2>
<ol>
<li>Get <a href="{CRT}">the certificate (.crt)</a> and open it. Under Details compare the fingerprint where Windows
shows SHA-256.</li>
<li>Install Certificate, Current User, Place all certificates in the following store, Browse,
<b>Trusted Root Certification Authorities</b>.</li>
<li>Close the browser, open it again, and open the address below. Firefox may keep its own list: Settings,
Certificates, Import.</li>
</ol>
<h2>Tablets that somebody manages</h2>
<p>Give <a href="{CRT}">the certificate (.crt)</a> and the fingerprint to whoever manages them. Sent out by the
management, it is trusted at once and nothing has to be done on the tablet.</p>
</section>
{_address(address)}
<section>
<h2>If the browser warns</h2>
<p>Then the file is not installed on this tablet yet, or it is another server. Nothing was opened. Come back to this
page and do the steps again; do not go on past the warning. Loupebook would open, but it could not keep working without
a network.</p>
</section>
"""
    return document("Set up a tablet", body)


def _nothing_to_install(address: str) -> str:
    body = f"""
<p class="lead">This server has a certificate of the hospital's own. A tablet of the hospital trusts it already:
open the address, then add the page to the home screen and open it from there.</p>
{_address(address)}
<section>
<h2>If the browser warns</h2>
<p>Then this tablet does not know the hospital's authority. Nothing was opened. Ask whoever manages the tablets for it;
do not go on past the warning. Loupebook would open, but it could not keep working without a network.</p>
</section>
"""
    return document("Open Loupebook on a tablet", body)


def _address(address: str) -> str:
    shown = escape(address)
    return f"""<section class="box">
<h2>Then open</h2>
<p class="big"><a href="{shown}">{shown}</a></p>
{picture(address)}
<p>Keep to this address: what a tablet saves belongs to it. A lead makes a code for each tablet at the desk, under
Stations.</p>
</section>"""


def _spaced(print_: str) -> str:
    """Four lines of eight pairs, so that eyes keep their place."""
    pairs = print_.split(":")
    return "<br>".join(" ".join(pairs[i : i + 8]) for i in range(0, len(pairs), 8))


def picture(text: str) -> str:
    """A QR code as one SVG path, with the quiet zone of four modules that ISO/IEC 18004 asks for."""
    rows = modules(text)
    side = len(rows) + 8
    path = "".join(
        f"M{x + 4} {y + 4}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark == "1"
    )
    return (
        f'<svg class="qr" viewBox="0 0 {side} {side}" role="img" aria-label="The address as a code" '
        f'shape-rendering="crispEdges"><rect width="{side}" height="{side}" fill="#fff"/>'
        f'<path fill="#000" d="{path}"/></svg>'
    )
