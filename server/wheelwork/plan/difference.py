"""What differs between two plans as they are written: place by place, and how much is the same."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

UNTOLD = ("format", "kept")


@dataclass(frozen=True, slots=True)
class Differing:
    """A place in which two plans differ, `set.core` or `link.2.rate`, with what stands there; None: nothing does."""

    where: str
    before: Any
    after: Any


def difference(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[list[Differing], int]:
    """The places that differ, in the order in which they are written, and how many are the same.

    >>> difference({"set": {"core": 1, "bus": 2}}, {"set": {"core": 4, "bus": 2}, "wait_states": 1})
    ([Differing(where='set.core', before=1, after=4), Differing(where='wait_states', before=None, after=1)], 1)
    """
    one, other = dict(_leaves(before, "")), dict(_leaves(after, ""))
    places = [place for place in dict.fromkeys((*one, *other)) if place not in UNTOLD]
    differs = [
        Differing(place, one.get(place), other.get(place)) for place in places if one.get(place) != other.get(place)
    ]
    return differs, len(places) - len(differs)


def _leaves(value: Any, place: str) -> Iterator[tuple[str, Any]]:
    """Every value that is no table, by its place; a list of plain values is one."""
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield from _leaves(each, f"{place}.{key}" if place else str(key))
    elif isinstance(value, list) and any(isinstance(each, Mapping) for each in value):
        for number, each in enumerate(value):
            yield from _leaves(each, f"{place}.{number}")
    else:
        yield place, value
