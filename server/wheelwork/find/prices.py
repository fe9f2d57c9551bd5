"""What settings cost in the sense of a preference, as sums that the search can carry: the least sum is the best.

A node that is on costs `base + slope * its frequency`; a choice may cost too. `least current` is such a sum, so are
the frequency of one node, either way, and the number of settings that differ from the plan's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from math import inf, lcm

from wheelwork.find.problem import Problem, Reach
from wheelwork.find.question import Preference
from wheelwork.part.nodes import FACTORS, Divider, Node, Part, Pll, Scaler, Step, Value
from wheelwork.plan.plan import Plan
from wheelwork.power.regulator import core_factor
from wheelwork.quantities.ratios import RatioSet

Number = Fraction | int
ZERO = Fraction(0)
Line = tuple[Number, Number]
"""Base and slope: a cost of base + slope * frequency (in hertz)."""
FREE: Line = (0, 0)


def plain(number: Number) -> Number:
    """A number, as a whole one where it is: those are reckoned with faster."""
    return number if isinstance(number, int) or number.denominator > 1 else number.numerator


@dataclass(frozen=True, slots=True)
class Prices:
    """The prices of one core-voltage step. `once` is the step's own; `changed` is the price of a differing setting."""

    once: Number = 0
    lines: Mapping[str, Line] = field(default_factory=dict)
    changed: Number = 0
    settings: Mapping[str, Value] = field(default_factory=dict)

    def node(self, name: str) -> Line:
        """What a node costs while it is on."""
        return self.lines.get(name, FREE)

    def choice(self, setting: str, value: Value) -> Number:
        """What the choice of a value costs."""
        return self.changed if self.changed and self.settings.get(setting) != value else 0

    def factors(self, pll: str, factors: tuple[Fraction, Fraction, Fraction]) -> Number:
        """What a PLL's factors cost; the three are one setting."""
        return self.changed if self.changed and self.own_factors(pll) != factors else 0

    def own_factors(self, pll: str) -> tuple[Fraction, Fraction, Fraction]:
        """The factors of the plan."""
        first, second, third = (Fraction(self.settings[f"{pll}.{name}"]) for name in FACTORS)
        return first, second, third

    def _bases(self) -> Iterator[Number]:
        return (base for base, _ in self.lines.values())

    def is_free(self, node: Node) -> bool:
        """Whether neither the node nor a choice made at it costs anything."""
        return self.node(node.id) == FREE and not self.changed

    def times(self, weight: Number) -> Prices:
        """The same prices so many times."""
        lines = {name: (plain(base * weight), plain(slope * weight)) for name, (base, slope) in self.lines.items()}
        return Prices(plain(self.once * weight), lines, plain(self.changed * weight), self.settings)

    def plus(self, other: Prices) -> Prices:
        """Both prices together; only one of the two may price changes."""
        lines = dict(self.lines)
        for name, (base, slope) in other.lines.items():
            own = lines.get(name, FREE)
            lines[name] = (own[0] + base, own[1] + slope)
        priced = self if self.changed else other
        return Prices(self.once + other.once, lines, priced.changed, priced.settings)

    def bound(self, problem: Problem) -> Number | float:
        """What any setting of a problem costs at least: what must run, each node at the cheaper end of its span."""
        total: Number | float = self.once
        for name, (base, slope) in self.lines.items():
            if problem.needed[name] or (problem.useful[name] and (base < 0 or slope < 0)):
                reaches = [problem.span(problem.part.nodes[name], kind) for kind in range(len(problem.tolerances))]
                total += base + min(_least(slope, reach) for reach in reaches)
        return total

    def scale(self, problem: Problem) -> int:
        """By how much to multiply so that all prices are whole, and slopes stay so through every divider above."""
        if not any(slope for _, slope in self.lines.values()):
            return lcm(*(Fraction(number).denominator for number in (self.once, self.changed, *self._bases())))
        numbers = [self.once, self.changed, *(number for line in self.lines.values() for number in line)]
        scale = lcm(*(Fraction(number).denominator for number in numbers))
        needs: dict[str, int] = {}
        for name in reversed(problem.part.order):
            needs[name] = lcm(*(_need(problem.part.nodes[each], needs[each]) for each in problem.consumers[name]))
            if needs[name].bit_length() > MOST_BITS:
                return scale
        return scale * max(lcm(*needs.values()), 1)


NOTHING = Prices()
MOST_BITS = 2000
MOST_RATIOS = 2000


def _least(slope: Number, reach: Reach) -> Number | float:
    """The least of slope * frequency within a span."""
    low, high = reach
    if slope >= 0:
        return 0 if low is None else slope * low[0]
    return -inf if high is None else slope * high[0]


@lru_cache(maxsize=4096)
def _common_numerator(ratios: RatioSet) -> int:
    return lcm(*(ratio.numerator for ratio in ratios))


def _need(node: Node, need: int) -> int:
    """By what a slope below a node's input has to be divisible."""
    match node:
        case Divider() if node.ratios.size <= MOST_RATIOS:
            return need * _common_numerator(node.ratios)
        case Scaler():
            return need * node.factor.denominator
        case Pll():
            return 1
    return need


def prices_of(preference: Preference, part: Part, plan: Plan, step: Step) -> Prices | None:
    """The prices of a preference; None for one that is no sum: error, room, phase detector."""
    match preference.kind:
        case "least current":
            return current_prices(part, plan, step)
        case "highest" if preference.node is not None:
            return Prices(lines={preference.node: (0, -1)})
        case "lowest" if preference.node is not None:
            return Prices(lines={preference.node: (0, 1)})
        case "lowest core voltage":
            return Prices(once=-part.steps.index(step))
        case "fewest changes":
            settings = plan.complete(part)
            return Prices(once=int(step.id != plan.core_voltage), changed=1, settings=settings)
    return None


def current_prices(part: Part, plan: Plan, step: Step) -> Prices:
    """Typical supply current in ampere: the step's slope times the core clock, its offset, every node that is on.

    Slope and offset as the regulator passes them on at the plan's supply.
    """
    through = core_factor(part, step, plan.supply)
    lines: dict[str, Line] = {}
    for name, node in part.nodes.items():
        base, slope = node.current_while_on(step.id), node.current_per_hertz(step.id)
        lines[name] = (base.typical if base else 0, slope.typical if slope else 0)
    if step.run_current is not None:
        base_, slope_ = lines[part.core_clock]
        lines[part.core_clock] = (base_, slope_ + through * step.run_current.typical)
    priced = {name: line for name, line in lines.items() if line != FREE}
    return Prices(once=through * step.base_current.typical if step.base_current else 0, lines=priced)


def factors_of_pll(node: Pll, divider: Fraction, place: int) -> tuple[Fraction, Fraction, Fraction]:
    """Reference divider, feedback and fraction of a lattice point."""
    feedback, fraction = divmod(place, node.fraction_of)
    return divider, Fraction(feedback), Fraction(fraction)
