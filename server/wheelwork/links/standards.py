"""A standard known by name: what it asks, its source, one line for the page. Each family keeps a list of its own."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from wheelwork.links.family import Allowance


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """A standard: its short name, the family it speaks of, the rate it fixes (None: any, or one of `rates`)."""

    name: str
    family: str
    title: str
    rate: Fraction | None = None
    rates: tuple[Fraction, ...] = ()
    allowance: Allowance | None = None
    line: str = ""
