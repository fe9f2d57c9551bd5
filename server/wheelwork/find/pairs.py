"""Two knobs turned together: what each may do alone, and what is left to the second once the first is turned."""

from __future__ import annotations

from dataclasses import dataclass

from wheelwork.find.knobs import Knob, span_against, span_over
from wheelwork.find.states import Place, State

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pair:
    """Spans of factors (logarithms): `own` binds the first alone, `rest` the second alone, `both` their product.

    `ahead` and `behind` bind the quotient: rules of which one knob moves the clock and the other its measure.
    `nested` says that one of the two stands below the other.
    """

    first: Knob
    second: Knob
    own: Span
    rest: Span
    both: Span
    ahead: Span
    behind: Span
    nested: bool

    def span_of_second(self, turned: float) -> Span:
        """What is left to the second knob once the first has multiplied its clocks."""
        low = max(self.rest[0], self.both[0] - turned, turned - self.ahead[1], turned + self.behind[0])
        high = min(self.rest[1], self.both[1] - turned, turned - self.ahead[0], turned + self.behind[1])
        return low, high

    def rank(self, turned: float, follows: float) -> Span:
        """How near two factors are: the change of the core clock, then the sum over all clocks they move."""
        core = (turned if self.first.core else 0.0) + (follows if self.second.core else 0.0)
        shared = min(self.first.clocks, self.second.clocks) if self.nested else 0
        alone = (self.first.clocks - shared) * abs(turned) + (self.second.clocks - shared) * abs(follows)
        return abs(core), alone + shared * abs(turned + follows)


def pair_up(state: State, places: list[Place], one: Knob, other: Knob) -> Pair:
    """Two knobs as a pair; the one with fewer values goes first, a PLL's feedback before its fraction."""
    first, second = sorted((one, other), key=lambda knob: knob.offered.size)
    if first.node == second.node and second.role == "feedback":
        first, second = second, first
    all_places = (1 << len(places)) - 1
    together = (first.places & second.places) | (first.against & second.against)
    return Pair(
        first,
        second,
        span_of(places, first, all_places & ~(second.places | second.against)),
        span_of(places, second, all_places & ~(first.places | first.against)),
        span_of(places, first, together),
        span_over(places, first.places & second.against),
        span_over(places, first.against & second.places),
        first.node in set(state.upstream(second.node)) or second.node in set(state.upstream(first.node)),
    )


def span_of(places: list[Place], knob: Knob, mask: int) -> Span:
    """The span of factors of one knob over the places of a mask."""
    up, down = span_over(places, knob.places & mask), span_against(places, knob.against & mask)
    return max(up[0], down[0]), min(up[1], down[1])
