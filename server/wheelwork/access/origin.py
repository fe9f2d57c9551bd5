"""Changes are taken from our own pages, and from what is no browser.

A browser says from whose page a request comes: by `Sec-Fetch-Site` (Fetch Metadata Request Headers, W3C working draft)
where we are reached over https or on this machine, by `Origin` (RFC 6454, section 7) everywhere. Neither can be written
by a page's script. Whatever sends neither is no browser, and carries no one's pass without their knowing.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.types import Scope

from wheelwork.access.addresses import Asker, header
from wheelwork.findings import Problem, quote

SAFE = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
"""Methods that change nothing (RFC 9110, section 9.2.1)."""

PORTS = {"http": 80, "https": 443}
ALLOWED = "ask from a page of this server"


def foreign(scope: Scope, asker: Asker) -> Problem | None:
    """Why a change is not taken: it comes from a page that is not ours. None where it may pass."""
    if scope["method"] in SAFE:
        return None
    site, origin = header(scope, b"sec-fetch-site"), header(scope, b"origin")
    if site:
        if site in ("same-origin", "none"):
            return None
        return Problem("Sec-Fetch-Site", f"the page that asks is {quote(site)} and not one of ours", ALLOWED)
    if not origin or is_ours(origin, asker):
        return None
    return Problem("Origin", f"the page that asks is of {quote(origin)} and not one of ours", ALLOWED)


def is_ours(origin: str, asker: Asker) -> bool:
    """Whether an origin is the one under which we are known to whoever asks.

    >>> lab = Asker(None, False, "clocks.lab:8000", "")
    >>> is_ours("http://clocks.lab:8000", lab), is_ours("http://clocks.lab", lab), is_ours("null", lab)
    (True, False, False)
    """
    scheme, separator, place = origin.lower().partition("://")
    if not separator or scheme not in PORTS or (asker.scheme and asker.scheme != scheme):
        return False
    theirs = _place(place, scheme)
    return theirs is not None and theirs == _place(asker.host.lower(), scheme)


def _place(text: str, scheme: str) -> tuple[str, int] | None:
    """Name and port; None for what is none."""
    try:
        split = urlsplit(f"//{text}")
        name, port = split.hostname, split.port
    except ValueError:
        return None
    if not name or split.netloc != text or "@" in text:
        return None
    return name, PORTS[scheme] if port is None else port
