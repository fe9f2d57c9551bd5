"""Whatever can be posted has a bound for its work, and the guide names it."""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Iterator

import pytest

from tests.house.tree import ROOT
from wheelwork import api, pages
from wheelwork.access.origin import SAFE

GUIDE = (ROOT / "DEVELOPERS.md").read_text()


def changing() -> Iterator[str]:
    """The address of every route that takes a change."""
    for room in (api, pages):
        for module in pkgutil.iter_modules(room.__path__):
            router = getattr(importlib.import_module(f"{room.__name__}.{module.name}"), "router", None)
            yield from (route.path for route in getattr(router, "routes", ()) if set(route.methods) - SAFE)


def bounded() -> list[str]:
    """The addresses of the guide's table; one that ends in an ellipsis stands for all below it."""
    table = re.search(r"\| posted to \| bound \|\n(.+?)\n\n", GUIDE, re.S)
    assert table
    return [name for row in table[1].splitlines() for name in re.findall(r"`(/[^`]+)`", row.split("|")[1])]


def covered(path: str, names: list[str]) -> bool:
    return any(path == name or (name.endswith("…") and path.startswith(name[:-1])) for name in names)


def test_each_change_has_its_bound_in_the_guide() -> None:
    names = bounded()
    assert [path for path in changing() if not covered(path, names)] == []


@pytest.mark.parametrize(("path", "found"), [("/a", True), ("/b/{id}", True), ("/a/b", False), ("/c", False)])
def test_a_change_that_is_not_named_is_found(path: str, found: bool) -> None:
    assert covered(path, ["/a", "/b…"]) is found
