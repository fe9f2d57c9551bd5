"""Verdicts in words, each with its amount: room, headroom, what is passed and by how much."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from wheelwork.clocks.verdicts import Judged
from wheelwork.quantities.units import FREQUENCY, say_quantity

MOST_KEPT = 4000
EITHER_SIDE = Fraction(1, 100)


def say_verdict(judged: Judged) -> str:
    """The verdict in words with its amount: `3 MHz of headroom`, `On the upper limit`, `Over by 2 MHz`."""
    if judged.clock is None:
        return "Not running"
    if judged.window is None or judged.margin is None:
        return "No window stated"
    amount = say_room(abs(judged.margin))
    match judged.verdict:
        case "over" | "under":
            return f"{judged.verdict.capitalize()} by {amount}"
        case "tight":
            return _say_tight(judged, amount)
    return _say_room(judged)


def _say_tight(judged: Judged, amount: str) -> str:
    assert judged.window is not None
    assert judged.clock is not None
    for edge, name in ((judged.window.highest, "upper"), (judged.window.lowest, "lower")):
        if edge is not None and judged.clock.nominal == edge:
            return f"On the {name} limit"
    return f"Tolerance reaches {amount} past the {'upper' if leans_up(judged) else 'lower'} limit"


def _say_room(judged: Judged) -> str:
    assert judged.window is not None
    assert judged.clock is not None
    above = None if judged.window.highest is None else judged.window.highest - judged.clock.highest
    below = None if judged.window.lowest is None else judged.clock.lowest - judged.window.lowest
    if above is not None and below is not None and abs(above - below) <= EITHER_SIDE * max(above, below):
        return f"{say_room(min(above, below))} either side"
    if judged.margin == 0:
        return f"On the {'upper' if leans_up(judged) else 'lower'} limit"
    if below is None or (above is not None and above <= below):
        return f"{say_room(above or Fraction(0))} of headroom"
    return f"{say_room(below)} above the floor"


def leans_up(judged: Judged) -> bool:
    """Whether the upper edge is the one that is nearer or passed."""
    if judged.window is None or judged.clock is None or judged.window.highest is None:
        return False
    return judged.margin == judged.window.highest - judged.clock.highest


@lru_cache(MOST_KEPT)
def say_room(frequency: Fraction) -> str:
    """A room in hertz, to three figures."""
    return say_quantity(frequency, FREQUENCY)
