"""The names of the pages in the frame: each page module states its own, and joins the list by being there."""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import dataclass
from functools import cache
from urllib.parse import quote

import wheelwork.pages


@dataclass(frozen=True, slots=True)
class PageName:
    """A page's name, its address, its place in the list, and whether it opens on the plan one is at."""

    title: str
    address: str
    place: int
    of_a_plan: bool = True

    def leads_to(self, permalink: str) -> str:
        """The address of the page, with the plan one is at where it is a page of a plan.

        >>> PageName("Plan", "/plan", 1).leads_to("1.abc"), PageName("Shelf", "/shelf", 7, False).leads_to("1.abc")
        ('/plan?plan=1.abc', '/shelf')
        """
        return f"{self.address}?plan={quote(permalink)}" if permalink and self.of_a_plan else self.address


@cache
def page_names() -> tuple[PageName, ...]:
    """The `NAME` of every page module that has one, in the order of their places."""
    found = (module.name for module in pkgutil.iter_modules(wheelwork.pages.__path__))
    modules = (importlib.import_module(f"{wheelwork.pages.__name__}.{name}") for name in found)
    names = (getattr(module, "NAME", None) for module in modules)
    return tuple(sorted((name for name in names if isinstance(name, PageName)), key=lambda name: name.place))
