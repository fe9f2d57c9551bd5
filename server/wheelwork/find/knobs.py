"""Knobs: the settings that multiply every clock downstream of them by one factor, and the values that suit a span."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from math import exp, inf, log
from typing import Literal

from wheelwork.find.states import GUARD, Place, State
from wheelwork.part.nodes import Divider, Pll
from wheelwork.quantities.ratios import RatioSet, Run


@dataclass(frozen=True, slots=True)
class Knob:
    """One setting that scales clocks. `divides`: a larger value is a lower clock; else f goes with value + beside.

    `places` is the bit mask of the places it moves up with its clock, `against` of the rules it moves the other way.
    `clocks` counts the running clocks that it moves, `core` says whether the core clock is among them.
    """

    key: str
    node: str
    role: Literal["divider", "reference_divider", "feedback", "fraction"]
    offered: RatioSet
    old: Fraction
    beside: Fraction
    scale: int
    places: int
    against: int
    clocks: int
    core: bool

    @property
    def divides(self) -> bool:
        """Whether a larger value makes a lower clock."""
        return self.role in ("divider", "reference_divider")

    def factor(self, value: Fraction) -> float:
        """By how much (logarithm) the clocks below are multiplied with another value."""
        if self.divides:
            return log(self.old / value)
        return log((value / self.scale + self.beside) / (self.old / self.scale + self.beside))

    def near(self, low: float, high: float, centre: float) -> list[Fraction]:
        """The offered values nearest to a factor from both sides, among those whose factor lies in a span."""
        aim = self._value(min(max(centre, low), high))
        slack = aim * GUARD + GUARD if aim else GUARD
        found = (self.offered.at_most(Fraction(aim + slack)), self.offered.at_least(Fraction(max(aim - slack, 0.0))))
        suits = (v for v in found if v is not None and v != self.old)
        return [v for v in dict.fromkeys(suits) if low - GUARD <= self.factor(v) <= high + GUARD]

    def within(self, low: float, high: float) -> Iterator[Fraction]:
        """The offered values whose factor lies in a span."""
        ends = sorted((self._value(max(low, -600.0)), self._value(min(high, 600.0))))
        bottom, top = Fraction(max(ends[0] * (1 - GUARD) - GUARD, 0.0)), Fraction(ends[1] * (1 + GUARD) + GUARD)
        for run in self.offered.runs:
            value, last = run.at_least(bottom), run.at_most(top)
            while value is not None and last is not None and value <= last:
                if value != self.old:
                    yield value
                value += run.step

    def _value(self, factor: float) -> float:
        factor = min(max(factor, -600.0), 600.0)
        if self.divides:
            return float(self.old) * exp(-factor)
        now = float(self.old) / self.scale + float(self.beside)
        return max((now * exp(factor) - float(self.beside)) * self.scale, 0.0)

    def after(self, other: Knob, value: Fraction) -> Knob:
        """The knob once another one is turned: the two parts of one PLL's feedback add up."""
        if self.node == other.node and {self.role, other.role} == {"feedback", "fraction"}:
            return replace(self, beside=value / other.scale)
        return self


def knobs_of(state: State, places: list[Place]) -> list[Knob]:
    """The knobs of a state: ratios and factors of running nodes on which no condition depends."""
    below = _places_below(state, places)
    counted = _clocks_below(state)
    core = set(state.upstream(state.part.core_clock))
    knobs = []
    for name in state.way.order:
        node = state.part.nodes[name]
        if isinstance(node, Divider) and name not in state.conditions and node.ratios.size > 1:
            knobs.append(_knob(state, name, "divider", node.ratios, below, counted, core))
        elif isinstance(node, Pll):
            knobs += _pll_knobs(state, node, below, counted, core)
    return knobs


def _pll_knobs(
    state: State, node: Pll, below: dict[str, tuple[int, int, int]], counted: dict[str, int], core: set[str]
) -> list[Knob]:
    offers = {"reference_divider": node.reference_divider, "feedback": node.feedback}
    if node.fraction_of > 1:
        offers["fraction"] = RatioSet((Run(Fraction(0), Fraction(node.fraction_of - 1)),))
    return [
        _knob(state, node.id, role, offer, below, counted, core) for role, offer in offers.items() if offer.size > 1
    ]


def _knob(
    state: State,
    name: str,
    role: str,
    offered: RatioSet,
    below: dict[str, tuple[int, int, int]],
    counted: dict[str, int],
    core: set[str],
) -> Knob:
    key = name if role == "divider" else f"{name}.{role}"
    node, settings = state.part.nodes[name], state.settings
    up, down, detector = below.get(name, (0, 0, 0))
    places, against = up & ~down, down & ~up  # a rule with both its clocks below does not move
    beside, scale = Fraction(0), 1
    if isinstance(node, Pll) and role == "feedback":
        beside = Fraction(settings[f"{name}.fraction"]) / node.fraction_of
    elif isinstance(node, Pll) and role == "fraction":
        beside, scale = Fraction(settings[f"{name}.feedback"]), node.fraction_of
    return Knob(
        key,
        name,
        role,  # type: ignore[arg-type]  # one of the four roles by the callers above
        offered,
        Fraction(settings[key]),
        beside,
        scale,
        places | (detector if role == "reference_divider" else 0),
        against,
        counted.get(name, 0),
        name in core,
    )


def _places_below(state: State, places: list[Place]) -> dict[str, tuple[int, int, int]]:
    """For each running node, bit masks of the places at and below it, of rules' other sides, and of its detector."""
    masks: dict[str, tuple[int, int, int]] = {}
    for index, place in enumerate(places):
        bit = 1 << index
        for name in state.upstream(place.node):
            here, against, detector = masks.get(name, (0, 0, 0))
            own = place.detector and name == place.node
            masks[name] = (here | (0 if own else bit), against, detector | (bit if own else 0))
        for name in state.upstream(place.against) if place.against else ():
            here, against, detector = masks.get(name, (0, 0, 0))
            masks[name] = (here, against | bit, detector)
    return masks


def _clocks_below(state: State) -> dict[str, int]:
    counted: dict[str, int] = {}
    for name in state.way.order:
        for above in state.upstream(name):
            counted[above] = counted.get(above, 0) + 1
    return counted


def span_over(places: list[Place], mask: int) -> tuple[float, float]:
    """The span of factors that keeps every place of a mask inside."""
    low, high = -inf, inf
    while mask:
        bit = mask & -mask
        place = places[bit.bit_length() - 1]
        low, high = max(low, place.down), min(high, place.up)
        mask ^= bit
    return low, high


def span_against(places: list[Place], mask: int) -> tuple[float, float]:
    """The span of factors on the other clock of rules that keeps them."""
    low, high = span_over(places, mask)
    return -high, -low
