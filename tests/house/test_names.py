"""Names that the repository must not hold."""

from __future__ import annotations

import pytest

from tests.house.tree import PACKAGE, ROOT, files, room_of

# Written in pieces, so that this file holds none of them.
REGISTRY_HOSTS = tuple(
    ".".join(pieces)
    for pieces in (
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("yarnpkg", "com"),
        ("jsdelivr", "net"),
        ("unpkg", "com"),
        ("deb", "debian", "org"),
        ("proxy", "golang", "org"),
        ("crates", "io"),
        ("registry-1", "docker", "io"),
    )
)
NOT_NOUNS = {"common", "helper", "helpers", "misc", "util", "utils"}


def hosts_in(text: bytes) -> list[str]:
    """The registry hosts that a text names."""
    return [host for host in REGISTRY_HOSTS if host.encode() in text]


def test_no_file_names_the_host_of_a_package_registry() -> None:
    named = {path.relative_to(ROOT).as_posix(): hosts_in(path.read_bytes()) for path in files()}
    assert {path: hosts for path, hosts in named.items() if hosts} == {}


@pytest.mark.parametrize("host", REGISTRY_HOSTS)
def test_a_host_is_found_in_an_address(host: str) -> None:
    assert hosts_in(f"from https://files.{host}/simple/".encode()) == [host]


def test_no_module_is_called_after_nothing() -> None:
    names = {room_of(path) for path in files(PACKAGE)} | {path.stem for path in files(PACKAGE)}
    assert names & NOT_NOUNS == set()
