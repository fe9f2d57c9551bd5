"""Propagation: which nodes matter under a plan's settings, and the exact frequency of each.

A divider gives f / ratio, a scaler f * factor, a PLL f / reference_divider * (feedback + fraction / fraction_of).
Lowest and highest follow from the tolerance of the one source above: all nodes of a source move together.
Source: reference relations of an integer and a fractional PLL, Best, Phase-Locked Loops (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.findings import Problem
from wheelwork.part.nodes import Divider, Factors, Load, Node, Oscillator, Part, Pll, Scaler, Selector, Value
from wheelwork.plan.plan import Plan
from wheelwork.quantities.spans import EXACT, Span

ONE = Fraction(1)


@dataclass(frozen=True, slots=True)
class Clock:
    """A frequency in hertz with the source it comes from and that source's tolerance."""

    nominal: Fraction
    tolerance: Span
    source: str

    @property
    def lowest(self) -> Fraction:
        """The frequency with the source at the low end of its tolerance."""
        return self.nominal * (1 + self.tolerance.lowest) if self.tolerance.lowest else self.nominal

    @property
    def highest(self) -> Fraction:
        """The frequency with the source at the high end of its tolerance."""
        return self.nominal * (1 + self.tolerance.highest) if self.tolerance.highest else self.nominal

    def times(self, factor: Fraction) -> Clock:
        """The clock multiplied."""
        return self if factor == 1 else Clock(self.nominal * factor, self.tolerance, self.source)

    def over(self, ratio: Fraction) -> Clock:
        """The clock divided."""
        return self if ratio == 1 else Clock(self.nominal / ratio, self.tolerance, self.source)


@dataclass(frozen=True, slots=True)
class Way:
    """What runs under some settings: the nodes that matter, feeders first, each with the node that feeds it."""

    order: tuple[str, ...]
    feeder: Mapping[str, str]


def roots(part: Part, plan: Plan) -> tuple[str, ...]:
    """The nodes that must run: core and flash clock, what always runs, loads with their `also`, what is kept."""
    wanted = [part.core_clock, part.flash_clock, *part.always, *plan.in_use, *plan.keep_running]
    for name in plan.in_use:
        load = part.nodes[name]
        if isinstance(load, Load):
            wanted.extend(load.also)
    return tuple(dict.fromkeys(wanted))


def feeder_of(node: Node, settings: Mapping[str, Value]) -> str | None:
    """The node that feeds this one under the settings; None for an oscillator."""
    if isinstance(node, Selector):
        return str(settings[node.id])
    return node.feeders[0] if node.feeders else None


def find_way(part: Part, plan: Plan, settings: Mapping[str, Value]) -> Way:
    """The nodes that matter: the roots and all upstream of them through the chosen inputs; what cannot stop."""
    feeder: dict[str, str] = {}
    seen: set[str] = set()
    for root in roots(part, plan):
        name: str | None = root
        while name is not None and name not in seen:
            seen.add(name)
            above = feeder_of(part.nodes[name], settings)
            if above is not None:
                feeder[name] = above
            name = above
    seen.update(_cannot_stop(part, plan))
    return Way(tuple(name for name in part.order if name in seen), feeder)


def _cannot_stop(part: Part, plan: Plan) -> Iterable[str]:
    """Oscillators that are always on; one that the board leaves out has no clock to run."""
    for node in part.nodes.values():
        if isinstance(node, Oscillator) and node.always_on and not _is_unfitted(node, plan):
            yield node.id


def unfitted(part: Part, plan: Plan) -> list[Problem]:
    """A problem for each oscillator in use with nothing fitted: nothing below it could be reckoned."""
    way = find_way(part, plan, plan.complete(part))
    return [_nothing_fitted(part.nodes[name]) for name in way.order if _is_unfitted(part.nodes[name], plan)]


def _is_unfitted(node: Node, plan: Plan) -> bool:
    if not isinstance(node, Oscillator) or node.fitted is None:
        return False
    fitted = plan.fitted.get(node.id)
    return fitted is None or fitted.frequency is None


def _nothing_fitted(node: Node) -> Problem:
    where = f"board.{node.id}.frequency"
    return Problem(where, f"{node.title} is in use and nothing is fitted", "write what the board has, such as 8 MHz")


def propagate(part: Part, plan: Plan, settings: Mapping[str, Value], way: Way) -> dict[str, Clock]:
    """The clock of each node that matters. Every oscillator among them must be fitted (`unfitted`)."""
    clocks: dict[str, Clock] = {}
    for name in way.order:
        node = part.nodes[name]
        above = way.feeder.get(name)
        if above is None:
            clocks[name] = source_clock(node, plan, settings)
        else:
            clocks[name] = next_clock(node, clocks[above], settings)
    return clocks


def source_clock(node: Node, plan: Plan, settings: Mapping[str, Value]) -> Clock:
    """The clock of an oscillator: what is fitted, chosen or its own, with the board's tolerance or the sheet's."""
    if not isinstance(node, Oscillator):
        raise TypeError(f"{node.id} is no oscillator")
    fitted = plan.fitted.get(node.id)
    if node.fitted is not None:
        frequency = fitted.frequency if fitted else None
    else:
        frequency = Fraction(settings.get(node.id, node.choices[0]))
    if frequency is None:
        raise ValueError(f"nothing is fitted for {node.id}")
    stated = tolerance_of(node, plan)
    return Clock(frequency, EXACT if stated is None else stated, node.id)


def tolerance_of(node: Oscillator, plan: Plan) -> Span | None:
    """The tolerance that counts: the board's, else the sheet's for the plan's temperatures; None where none is stated.

    Where the sheet has rows by temperature and none covers the plan's span, the widest row counts (a finding says so).
    """
    fitted = plan.fitted.get(node.id)
    if fitted is not None and fitted.tolerance is not None:
        return fitted.tolerance
    stated = node.tolerance_over(plan.temperature)
    return node.widest_tolerance() if stated is None and node.tolerances else stated


def next_clock(node: Node, above: Clock, settings: Mapping[str, Value]) -> Clock:
    """The clock of a node that is fed by another."""
    match node:
        case Divider():
            return above.over(Fraction(settings[node.id]))
        case Pll():
            factors = factors_of(node, settings)
            return above.times((factors.feedback + factors.fraction / node.fraction_of) / factors.reference_divider)
        case Scaler():
            return above.times(factor_of(node, settings))
    return above


def factors_of(node: Pll, settings: Mapping[str, Value]) -> Factors:
    """A PLL's factors under the settings."""
    return Factors(*(Fraction(settings[f"{node.id}.{name}"]) for name in ("reference_divider", "feedback", "fraction")))


def factor_of(node: Scaler, settings: Mapping[str, Value]) -> Fraction:
    """A scaler's factor: its own, or 1 while its condition does not hold."""
    if node.when_divider is None or Fraction(settings[node.when_divider]) > node.ratio_above:
        return node.factor
    return ONE
