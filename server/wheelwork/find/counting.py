"""How many settings of a part are legal and meet their targets: counted exactly, without listing them.

The walk of `forest.py` over tables of counts: tables of children multiply over disjoint sets of selectors, own choices
add up. Every legal setting is met exactly once: a count of 0 is the proof that none is legal.

A rule between two clocks ties what hangs in two places. It is counted by dividing the frequencies of the clock that it
measures by, until in each part the rule allows the same whether it is read with the part's lowest or its highest one.

Not decided (None): conditions that a selector can lead around, a PLL that feeds a PLL through more points than can be
walked, or time that ran out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from wheelwork.find.forest import Forest
from wheelwork.find.lattice import Feedbacks, count_in_pieces
from wheelwork.find.prices import Prices
from wheelwork.find.problem import MOST_POINTS, NO_LIMITS, Limits
from wheelwork.find.seeking import Seeker
from wheelwork.find.tables import Key, Tables, Undecided
from wheelwork.part.nodes import Oscillator, Part, Pll, Rule
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
    return count_found(Seeker(part, plan, tuple(targets), frozenset(pinned), still_time), limits)


def count_found(seeker: Seeker, limits: Limits = NO_LIMITS) -> int | None:
    """How many settings a seeker can find at its steps; None where it is not decided."""
    free = replace(seeker, part=replace(seeker.part, rules=())).at_steps(seeker.steps)
    try:
        return _count(free, limits, () if limits.anywhere else seeker.part.rules)
    except Undecided:
        return None


def _count(seeker: Seeker, limits: Limits, rules: tuple[Rule, ...]) -> int:
    if not rules:
        return sum(_Count(problem, Tables(seeker.still_time)).total() for problem in seeker.problems(limits))
    rule, rest = rules[0], rules[1:]
    apart = _count(seeker, limits.with_stopped(rule.of), rest)
    apart += _count(seeker, limits.with_running(rule.of).with_stopped(rule.node), rest)
    return apart + _count_tied(seeker, limits.with_running(rule.of).with_running(rule.node), rule, rest)


def _count_tied(seeker: Seeker, limits: Limits, rule: Rule, rest: tuple[Rule, ...]) -> int:
    """The count where both clocks of a rule run."""
    ends = [_end_of(seeker, limits, rule.of, sign) for sign in (1, -1)]
    low, high = ends
    if low is None or high is None:
        return 0
    strict, loose = (low, high) if rule.at_most is not None else (high, low)
    most = _count(seeker, _ruled(limits, rule, loose), rest)
    if most == 0 or low == high or most == _count(seeker, _ruled(limits, rule, strict), rest):
        return most
    middle = _end_of(seeker, limits.below(rule.of, (low + high) / 2, True), rule.of, -1)
    assert middle is not None  # the lowest is one of them
    parts = (limits.below(rule.of, middle, True), limits.above(rule.of, middle))
    return sum(_count_tied(seeker, part, rule, rest) for part in parts)


def _ruled(limits: Limits, rule: Rule, measure: Fraction) -> Limits:
    """What a rule asks of its node while the other clock stands at a frequency."""
    if rule.at_most is not None:
        return limits.below(rule.node, rule.at_most * measure, True)
    return limits.above(rule.node, Fraction(rule.at_least or 0) * measure, True)


def _end_of(seeker: Seeker, limits: Limits, node: str, sign: int) -> Fraction | None:
    """The lowest (sign 1) or highest (-1) frequency that a node can have."""
    found = seeker.best(lambda problem: Prices(lines={node: (0, sign)}), limits)
    return None if found is None else found.judgement.clocks[node].nominal


class _Count(Forest[Tables]):
    """The count at one core-voltage step."""

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
