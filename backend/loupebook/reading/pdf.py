"""A page as PDF, made by WeasyPrint from the page's own HTML. Nothing is fetched but photos, from the vault."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable

PhotoOf = Callable[[str], bytes | None]
"""The picture of a photo by its hash, without whatever else its file carries; nothing where there is none to show."""

_PHOTO = re.compile(r"/photos/([0-9a-f]{64})\b")
ADDRESS = "loupebook://here"
"""Stands before the names of photos: an address that nothing but `_Photos` can read."""


class NoPdf(RuntimeError):
    """This machine cannot make a PDF: WeasyPrint's own libraries (Pango) are not here. The page prints itself."""


def as_pdf(html: str, photo_of: PhotoOf) -> bytes:
    """The PDF of a page, tagged for readers. Raises NoPdf."""
    try:
        import weasyprint  # opens Pango, which a machine may lack
        from weasyprint.urls import URLFetcher, URLFetcherResponse
    except OSError as wrong:
        raise NoPdf from wrong

    logging.getLogger("weasyprint").setLevel(logging.ERROR)  # a browser's own properties are not news

    class Photos(URLFetcher):  # type: ignore[misc]
        """Reads photos from the vault and refuses every other address."""

        def fetch(self, url: str, headers: object = None) -> object:
            named = _PHOTO.search(url) if url.startswith(ADDRESS) else None
            data = photo_of(named[1]) if named else None
            if data is None:
                raise ValueError(f"nothing is fetched from outside: {url}")
            return URLFetcherResponse(url, body=data)

    made: bytes = weasyprint.HTML(string=html, base_url=ADDRESS, url_fetcher=Photos()).write_pdf(pdf_tags=True)
    return made
