"""What people read: figures with their decimal points in line, room and verdicts in words."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from wheelwork.clocks.verdicts import Judged
from wheelwork.quantities.numbers import MINUS, THIN_SPACE
from wheelwork.quantities.units import FREQUENCY, say_frequency, say_quantity

MEGA, KILO = Fraction(10**6), Fraction(10**3)
PLACES = 6
MOST_KEPT = 4000
EITHER_SIDE = Fraction(1, 100)


@dataclass(frozen=True, slots=True)
class Figure:
    """A frequency in digits: those that count, the zeros after them, whether something was cut, the unit."""

    counts: str
    zeros: str
    cut: bool
    unit: str


@lru_cache(MOST_KEPT)
def draw_figure(frequency: Fraction) -> Figure:
    """A frequency with six decimals in MHz, below that in kHz, groups of three, cut and not rounded.

    >>> draw_figure(Fraction(8_000_000))
    Figure(counts='8', zeros='.000\\u2009000', cut=False, unit='MHz')
    >>> draw_figure(Fraction(232_000_000, 9)).counts
    '25.777\\u2009777'
    """
    unit, size = ("MHz", MEGA) if frequency >= MEGA else ("kHz", KILO)
    scaled = frequency / size * 10**PLACES
    digits = str(scaled.numerator // scaled.denominator).rjust(PLACES + 1, "0")
    cut = scaled.denominator != 1
    whole, part = digits[:-PLACES], digits[-PLACES:]
    grouped = f"{part[:3]}{THIN_SPACE}{part[3:]}"
    if cut:
        return Figure(f"{_group(whole)}.{grouped}", "", True, unit)
    kept = len(part.rstrip("0"))
    if kept == 0:
        return Figure(_group(whole), f".{grouped}", False, unit)
    split = kept if kept <= 3 else kept + 1
    return Figure(f"{_group(whole)}.{grouped[:split]}", grouped[split:], False, unit)


def _group(whole: str) -> str:
    head = len(whole) % 3
    return THIN_SPACE.join(([whole[:head]] if head else []) + [whole[i : i + 3] for i in range(head, len(whole), 3)])


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
def say_clock(frequency: Fraction) -> str:
    """A frequency in a sentence, exact or cut; many rows of a page share one."""
    return say_frequency(frequency)


@lru_cache(MOST_KEPT)
def say_room(frequency: Fraction) -> str:
    """A room in hertz, to three figures."""
    return say_quantity(frequency, FREQUENCY)


def lower_first(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it begins with an abbreviation.

    >>> lower_first("Core clock"), lower_first("PLL core tap")
    ('core clock', 'PLL core tap')
    """
    return title[:1].lower() + title[1:] if title[1:2].islower() else title


def minus(text: str) -> str:
    """A hyphen before a number as the minus sign that is shown.

    >>> minus("-20 °C")
    '−20 °C'
    """
    return text.replace("-", MINUS)
