"""How a page for paper gets its words."""

from __future__ import annotations

from collections.abc import Callable

Say = Callable[..., str]
"""A sentence by its key, with what stands in its braces; the key itself where there is none."""
