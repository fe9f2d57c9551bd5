"""Who asks: seen through trusted proxies only."""

from __future__ import annotations

from typing import Any

import pytest

from wheelwork.access.addresses import asker_of, user_named
from wheelwork.settings import read_networks

PROXIES = read_networks("10.1.0.0/24, ::1")


def scope(peer: str | None, **headers: str) -> dict[str, Any]:
    """A request from a peer, with headers."""
    pairs = [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()]
    return {"type": "http", "client": (peer, 4711) if peer else None, "headers": pairs, "scheme": "http"}


def address(peer: str | None, forwarded: str) -> str:
    return str(asker_of(scope(peer, x_forwarded_for=forwarded), PROXIES).address)


@pytest.mark.parametrize(
    ("peer", "forwarded", "asks"),
    [
        ("192.0.2.9", "198.51.100.7", "192.0.2.9"),  # a stranger's claim
        ("10.1.0.5", "198.51.100.7", "198.51.100.7"),
        ("10.1.0.5", "203.0.113.1, 198.51.100.7", "198.51.100.7"),  # what the stranger wrote before the proxy did
        ("10.1.0.5", "198.51.100.7, 10.1.0.6", "198.51.100.7"),  # two proxies, one behind the other
        ("10.1.0.5", "10.1.0.7, 10.1.0.6", "10.1.0.7"),
        ("10.1.0.5", "", "10.1.0.5"),
        ("10.1.0.5", "198.51.100.7, unknown", "10.1.0.5"),
        ("::ffff:10.1.0.5", "[2001:db8::7]:99", "2001:db8::7"),
        ("::1", "198.51.100.7:80", "198.51.100.7"),
        ("testclient", "198.51.100.7", "None"),
        (None, "198.51.100.7", "None"),
    ],
)
def test_the_address_is_the_last_that_no_trusted_proxy_has(peer: str | None, forwarded: str, asks: str) -> None:
    """The last value was written by the proxy nearest to us, the first ones may be anyone's."""
    assert address(peer, forwarded) == asks


def test_name_and_scheme_are_taken_from_a_trusted_proxy_only() -> None:
    told = {"host": "inner:8000", "x_forwarded_host": "clocks.lab", "x_forwarded_proto": "https"}
    believed, claimed = (asker_of(scope(peer, **told), PROXIES) for peer in ("10.1.0.5", "192.0.2.9"))
    assert (believed.host, believed.scheme, believed.proxied) == ("clocks.lab", "https", True)
    assert (claimed.host, claimed.scheme, claimed.proxied) == ("inner:8000", "", False)


def test_a_household_is_counted_as_one() -> None:
    """RFC 6177, section 2: whoever gets IPv6 gets a /64 at the least."""
    keys = [asker_of(scope(peer), ()).key for peer in ("2001:db8::7", "2001:db8::8", "2001:db8:0:1::7", "192.0.2.7")]
    assert keys[0] == keys[1] == "2001:db8::/64"
    assert len(set(keys)) == 3


@pytest.mark.parametrize(
    ("values", "named"),
    [
        ([b"ada"], "ada"),
        (["Jörg".encode()], "Jörg"),
        (["Jörg".encode("latin-1")], "Jörg"),
        ([b" ada "], "ada"),
        ([b"ada", b"grace"], ""),  # one of them is not the proxy's
        ([b"ada\x1b[2J"], ""),
        ([b"a" * 101], ""),
        ([], ""),
    ],
)
def test_a_user_is_one_printable_name(values: list[bytes], named: str) -> None:
    asked = {"headers": [(b"x-remote-user", value) for value in values]}
    assert user_named(asked, "X-Remote-User") == named
