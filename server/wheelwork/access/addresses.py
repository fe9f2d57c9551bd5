"""Who asks, and under which address we are known to them.

What a proxy says of the one behind it (`X-Forwarded-For`, `-Proto`, `-Host`) is believed from trusted addresses only;
from anyone else it is a claim, and left alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

from starlette.types import Scope

from wheelwork.settings import Network

LONGEST_USER = 100


@dataclass(frozen=True, slots=True)
class Asker:
    """One who asks: their address, whether a trusted proxy handed the request on, how they came to us.

    `host` is the name and port they asked for, `scheme` empty where nobody believed has told it.
    """

    address: IPv4Address | IPv6Address | None
    proxied: bool
    host: str
    scheme: str

    @property
    def here(self) -> bool:
        """Whether they are on this very machine."""
        return self.address is not None and self.address.is_loopback

    @property
    def key(self) -> str:
        """What they are counted under: the address, for IPv6 the network of a household (RFC 6177: /64 at least)."""
        if isinstance(self.address, IPv6Address):
            return str(ip_network((self.address, 64), strict=False))
        return str(self.address)


def asker_of(scope: Scope, trusted: tuple[Network, ...]) -> Asker:
    """Who asks, seen through the proxies that are trusted."""
    client = scope.get("client")
    peer = read_address(client[0]) if client else None
    host = header(scope, b"host")
    if not _within(peer, trusted):
        return Asker(peer, False, host, "https" if scope.get("scheme") == "https" else "")
    address = peer
    for each in reversed(header(scope, b"x-forwarded-for").split(",")):
        told = read_address(each)
        if told is None:
            break
        address = told
        if not _within(told, trusted):
            break
    said = _last(header(scope, b"x-forwarded-proto")).lower()
    return Asker(address, True, _last(header(scope, b"x-forwarded-host")) or host, said or str(scope.get("scheme", "")))


def user_named(scope: Scope, name: str) -> str:
    """The user that a header names: one line of printable text; empty where it is not there, or there twice."""
    wanted = name.lower().encode()
    values = [bytes(value) for key, value in scope["headers"] if key == wanted]
    if len(values) != 1:
        return ""
    text = _decoded(values[0]).strip()
    return text if text.isprintable() and len(text) <= LONGEST_USER else ""


def read_address(text: str) -> IPv4Address | IPv6Address | None:
    """An address, with or without a port; None for what is none.

    >>> str(read_address("[2001:db8::7]:4711")), str(read_address("192.0.2.7:80")), read_address("unknown")
    ('2001:db8::7', '192.0.2.7', None)
    """
    text = text.strip()
    if text.startswith("["):
        text = text[1:].partition("]")[0]
    elif text.count(":") == 1:
        text = text.partition(":")[0]
    try:
        found = ip_address(text)
    except ValueError:
        return None
    return getattr(found, "ipv4_mapped", None) or found


def header(scope: Scope, name: bytes) -> str:
    """All values of a header, as one list; empty where it is not there."""
    return ", ".join(_decoded(bytes(value)) for key, value in scope["headers"] if key == name).strip()


def _decoded(value: bytes) -> str:
    try:
        return value.decode("utf-8")
    except UnicodeDecodeError:
        return value.decode("latin-1")


def _within(address: IPv4Address | IPv6Address | None, networks: tuple[Network, ...]) -> bool:
    return address is not None and any(address in network for network in networks)


def _last(listed: str) -> str:
    return listed.rpartition(",")[2].strip()
