"""What people read: figures with their decimal points in line."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from wheelwork.quantities.numbers import MINUS, THIN_SPACE
from wheelwork.quantities.units import say_frequency

MEGA, KILO = Fraction(10**6), Fraction(10**3)
PLACES = 6
MOST_KEPT = 4000


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


@lru_cache(MOST_KEPT)
def say_clock(frequency: Fraction) -> str:
    """A frequency in a sentence, exact or cut; many rows of a page share one."""
    return say_frequency(frequency)


def minus(text: str) -> str:
    """A hyphen before a number as the minus sign that is shown.

    >>> minus("-20 °C")
    '−20 °C'
    """
    return text.replace("-", MINUS)
