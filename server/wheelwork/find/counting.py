"""How many settings of a part are legal and meet their targets: counted exactly, without listing them.

The walk of `forest.py` over tables of counts: tables of children multiply over disjoint sets of selectors, own choices
add up. Every legal setting is met exactly once: a count of 0 is the proof that none is legal.

Not decided (None): rules between clocks, conditions that a selector can lead around, a PLL that feeds a PLL through
more points than can be walked, or time that ran out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction

from wheelwork.find.forest import Forest
from wheelwork.find.lattice import Feedbacks, count_in_pieces
from wheelwork.find.problem import MOST_POINTS, NO_LIMITS, Limits, Problem
from wheelwork.find.tables import Key, Tables, Undecided
from wheelwork.part.nodes import Oscillator, Part, Pll
from wheelwork.plan.plan import Plan, Target

StillTime = Callable[[], bool]


def count_settings(
    part: Part,
    plan: Plan,
    still_time: StillTime,
    targets: Iterable[Target] = (),
    pinned: Iterable[str] = (),
    limits: Limits = NO_LIMITS,
) -> int | None:
    """How many settings are legal and meet the targets, over all core-voltage steps; None where it is not decided.

    Loads in use, what is kept running and the board are the plan's; `pinned` settings keep the plan's value.
    """
    held, wanted = frozenset(pinned), tuple(targets)
    steps = [part.step(plan.core_voltage)] if "core_voltage" in held else part.steps
    try:
        problems = (Problem(part, plan, step, wanted, held, limits) for step in steps)
        return sum(_Count(problem, Tables(still_time)).total() for problem in problems if not problem.refuted)
    except Undecided:
        return None


class _Count(Forest[Tables]):
    """The count at one core-voltage step."""

    def __init__(self, problem: Problem, tables: Tables) -> None:
        super().__init__(problem, tables)
        if problem.part.rules and not problem.limits.anywhere:
            raise Undecided

    def total(self) -> int:
        """The count: each oscillator on at one of its frequencies or off, each selector that must be on served."""
        state, problem = {0: 1}, self.problem
        for source in problem.sources:
            if problem.useful[source.id]:
                state = self.tables.joined(state, self.tables.rows[self._source_table(source)])
        return sum(count for mask, count in state.items() if mask & problem.must == problem.must)

    def _source_table(self, source: Oscillator) -> Key:
        kind, tried = self.problem.kind_of[source.id], self.problem.frequencies(source)
        table = self.tables.total((self.value(source.id, frequency, kind), 1) for frequency in tried)
        return table if self.problem.needed[source.id] else self.tables.or_off(table)

    def pll_value(self, node: Pll, frequency: Fraction, kind: int) -> Key:
        """How many of the PLL's factors put the VCO where what hangs below can be."""
        return self.tables.total(self._lattice(node, frequency, kind))

    def _lattice(self, node: Pll, frequency: Fraction, kind: int) -> Iterator[tuple[Key, int]]:
        for _, detector in self.problem.detectors(node, frequency, kind):
            self.tables.tick()
            for feedbacks in self.problem.feedbacks(node):
                yield from self._points(node, detector, feedbacks, kind)

    def _points(self, node: Pll, detector: Fraction, feedbacks: Feedbacks, kind: int) -> Iterator[tuple[Key, int]]:
        if not self.problem.pll_below[node.id]:
            pieces = self.body(node.id, kind)
            yield from count_in_pieces(pieces, detector * self.unit, feedbacks, self.tables.none)
            return
        if feedbacks.count(feedbacks.lowest, feedbacks.highest) > MOST_POINTS:
            raise Undecided
        for place in range(feedbacks.lowest, feedbacks.highest + 1):
            if feedbacks.count(place, place):
                yield self.value(node.id, detector * place / feedbacks.parts, kind), 1
