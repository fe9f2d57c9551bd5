"""What is left of a faulty sheet: faulty values taken out, so that the rest can be checked and all be told together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import deepcopy
from typing import Any

Place = tuple[str | int, ...]

_NEUTRAL: Mapping[str, Any] = {
    "format": "wheelwork-part/1",
    "name": "-",
    "frequency": "1 MHz",
    "ratios": [1],
    "reference_divider": [1],
    "feedback": [1],
}
"""Values that stand in for faulty ones that a sheet cannot be without."""

_GOES_WITH: Mapping[str, tuple[str, ...]] = {
    "frequency": ("fits", "reset"),
    "ratios": ("codes", "reset"),
    "reference_divider": ("codes", "reset"),
    "feedback": ("codes", "reset"),
    "inputs": ("codes", "reset"),
}
"""What would be told as a second fault of the same place, and is taken out with it."""


def salvage(raw: Mapping[str, Any], places: Iterable[Place]) -> dict[str, Any] | None:
    """The sheet without its faulty values; None where too little is left to check anything."""
    left = deepcopy(dict(raw))
    _stand_in(left, ("format",))
    _stand_in(left, ("name",))
    for place in places:
        _take_out(left, place[:2] if "[key]" in place else place)
    _stand_in_volts(_tables(left, "core_voltage"))
    oscillators = left.get("oscillator")
    if not isinstance(oscillators, dict) or not oscillators:
        return None
    source = next(iter(oscillators))
    for kind in ("pll", "divider", "scaler", "load"):
        for table in _tables(left, kind):
            table.setdefault("input", source)
    for table in _tables(left, "selector"):
        table.setdefault("inputs", [source])
    core = left.setdefault("core", {"clock": source})
    if isinstance(core, dict):
        core.setdefault("clock", source)
    return left


def _stand_in_volts(steps: list[dict[str, Any]]) -> None:
    """Where one step's voltage is left out, falling ones for all: their order cannot be told any more."""
    if any("volts" not in step for step in steps):
        for place, step in enumerate(steps):
            step["volts"] = f"{len(steps) - place} V"


def _tables(left: Mapping[str, Any], kind: str) -> list[dict[str, Any]]:
    found = left.get(kind)
    return [table for table in found.values() if isinstance(table, dict)] if isinstance(found, dict) else []


def _take_out(left: dict[str, Any], place: Place) -> None:
    """Take the faulty value out: the key of a node's table, a whole row, or a stand-in where the key is needed."""
    short = place[:3] if place and place[0] in _NODE_KINDS else place[:2]
    if place and place[0] in ("core_voltage", "rule", "together", "mode"):
        short = place[:3]
    parent: Any = left
    for piece in short[:-1]:
        parent = parent.get(piece) if isinstance(parent, dict) else parent[piece] if _has(parent, piece) else None
    if isinstance(parent, dict) and short:
        for partner in _GOES_WITH.get(str(short[-1]), ()):
            parent.pop(partner, None)
        parent.pop(short[-1], None)
        _stand_in(left, short)


_NODE_KINDS = ("oscillator", "selector", "pll", "divider", "scaler", "load")


def _has(parent: object, piece: object) -> bool:
    return isinstance(parent, list) and isinstance(piece, int) and piece < len(parent)


def _stand_in(left: dict[str, Any], place: Place) -> None:
    parent: Any = left
    for piece in place[:-1]:
        parent = parent.get(piece) if isinstance(parent, dict) else None
    if isinstance(parent, dict) and place[-1] in _NEUTRAL and place[-1] not in parent:
        parent[str(place[-1])] = deepcopy(_NEUTRAL[str(place[-1])])
