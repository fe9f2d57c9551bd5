"""Chains: a source and the links that make a clock of it, as plain values.

A link is one node on the way down; one without factors, such as a load, passes its clock on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

Letter = Literal["R", "N", "k", "m", "D", "S"]
"""Reference divider, feedback, fraction, what it is a fraction of, divider, scaler's factor."""
BELOW: tuple[Letter, ...] = ("R", "D")
"""The letters that divide."""


@dataclass(frozen=True, slots=True)
class Factor:
    """One number of a link: its letter, value and title in a sentence; `key` names the setting, where it is one."""

    letter: Letter
    value: Fraction
    title: str
    key: str = ""


@dataclass(frozen=True, slots=True)
class Link:
    """One node of a chain: the title of the clock that leaves it, and its factors, each letter once."""

    title: str
    factors: tuple[Factor, ...] = ()


@dataclass(frozen=True, slots=True)
class Chain:
    """From a source's frequency (Hz) down through its links."""

    source: str
    frequency: Fraction
    links: tuple[Link, ...] = ()

    @property
    def title(self) -> str:
        """The title of the clock at the end."""
        return self.links[-1].title if self.links else self.source

    @property
    def factors(self) -> tuple[Factor, ...]:
        """All factors from the source down."""
        return tuple(factor for link in self.links for factor in link.factors)

    @property
    def clock(self) -> Fraction:
        """The frequency at the end (Hz)."""
        frequency = self.frequency
        for link in self.links:
            frequency = pass_link(frequency, {factor.letter: factor.value for factor in link.factors})
        return frequency

    @property
    def local(self) -> Chain:
        """The last link alone, from the clock that feeds it."""
        feeder = Chain(self.source, self.frequency, self.links[:-1])
        return Chain(feeder.title, feeder.clock, self.links[-1:])


def pass_link(clock: Any, values: Mapping[Letter, Any]) -> Any:
    """The clock after a link: f / R · (N + k / m) / D · S, with what the link has of it; plain numbers, or sympy's.

    >>> pass_link(Fraction(8), {"R": Fraction(2), "N": Fraction(15), "k": Fraction(1), "m": Fraction(4)})
    Fraction(61, 1)
    """
    for letter in BELOW:
        if letter in values:
            clock = clock / values[letter]
    if "N" in values:
        clock = clock * (values["N"] + values["k"] / values["m"] if "k" in values else values["N"])
    return clock * values["S"] if "S" in values else clock
