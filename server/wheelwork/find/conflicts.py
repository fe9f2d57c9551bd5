"""What is to blame where nothing fits: a smallest set of targets, else pins, else loads that cannot hold together.

A set that fits gives a correction set: what was given up for it; every conflict holds one element at least of each.
So a smallest set that hits all correction sets is, once it cannot be met, a smallest conflict; else it is met together
with some others, and what was left out is the next correction set. Halving the suspects first finds some conflict
early; once hitting sets are as large as that one, it is a smallest. Sources (from memory): hitting sets, Reiter, A
theory of diagnosis from first principles, Artificial Intelligence 32, 1987; halving, Junker, QuickXplain, 2004.

>>> smallest_conflict(4, lambda chosen: None if {1, 3} <= chosen else chosen)
(1, 3)
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace

from wheelwork.find.question import Blame, Question, StillTime
from wheelwork.find.seeking import fits
from wheelwork.find.tables import Undecided
from wheelwork.find.verdict import does_one_fit, find_one
from wheelwork.judge.judgement import reckon
from wheelwork.plan.plan import Plan

Chosen = frozenset[int]
"""Suspects by their number."""

Ask = Callable[[Chosen], Chosen | None]
"""Can these hold together? What is met by what was found (at least what was asked), or None: nothing fits.

Raises Undecided where that does not come out in time.
"""


def find_conflict(question: Question, still_time: StillTime) -> tuple[Blame, ...] | None:
    """A smallest set that cannot hold together, for a question under which nothing fits; None: not decided in time.

    Targets are suspected first, pins and loads staying; if they are innocent, the pins; then the loads in use. Where
    even these are innocent (`is_hopeless`), one consumer of the core clock stands for what runs in any case.
    """
    innocent: frozenset[Blame] = frozenset()
    try:
        for suspects in filter(None, _suspects(question)):
            found = _smallest_among(suspects, innocent, question, still_time)
            if found:
                return found
            innocent = innocent.union(suspects)
    except Undecided:
        return None
    return (_what_always_runs(question),)


def is_hopeless(question: Question, still_time: StillTime) -> bool | None:
    """Whether nothing fits even without a target, a pin and a load: board, supply or sheet leave no setting at all."""
    everyone = frozenset(itertools.chain.from_iterable(_suspects(question)))
    left = without(question, everyone)
    decided = does_one_fit(left.part, left.plan, still_time)
    return None if decided is None else not decided


def _what_always_runs(question: Question) -> Blame:
    """A load in use that hangs on the core clock, else the first in use, else the core clock itself."""
    part, in_use = question.part, question.plan.in_use
    on_core = (name for name in in_use if part.core_clock in part.nodes[name].feeders)
    return Blame(load=next(on_core, in_use[0] if in_use else part.core_clock))


def find_rest_to_leave(question: Question, still_time: StillTime) -> tuple[int, ...] | None:
    """Targets, by number, without which something fits, pins and loads staying; each put back shuts it again.

    Earlier targets are kept rather than later ones. None where nothing fits without any target, or in time.
    """
    everyone = frozenset(range(len(question.targets)))

    def fits_with(kept: Chosen) -> bool:
        asked = without(question, {Blame(target=number) for number in everyone - kept})
        return find_one(asked.part, asked.plan, still_time, asked.targets, asked.pinned) is not None

    try:
        kept = _grown(frozenset(), sorted(everyone), fits_with) if fits_with(frozenset()) else everyone
    except Undecided:
        return None
    return tuple(sorted(everyone - kept)) or None


def _grown(kept: Chosen, rest: list[int], fits_with: Callable[[Chosen], bool]) -> Chosen:
    """As many of the rest as can be kept too, the earlier ones first."""
    if not rest or fits_with(kept.union(rest)):
        return kept.union(rest)
    if len(rest) == 1:
        return kept
    middle = len(rest) // 2
    return _grown(_grown(kept, rest[:middle], fits_with), rest[middle:], fits_with)


def pins_of(question: Question) -> tuple[str, ...]:
    """Everything that stays as it is: what the question pins and what the plan holds, each once."""
    return tuple(dict.fromkeys((*question.pinned, *question.plan.held)))


def without(question: Question, left_out: Collection[Blame]) -> Question:
    """The question without some of its targets, pins and loads."""
    plan = question.plan
    return replace(
        question,
        targets=tuple(each for n, each in enumerate(question.targets) if Blame(target=n) not in left_out),
        pinned=tuple(name for name in pins_of(question) if Blame(pinned=name) not in left_out),
        plan=replace(plan, held=(), in_use=tuple(name for name in plan.in_use if Blame(load=name) not in left_out)),
    )


def _suspects(question: Question) -> tuple[tuple[Blame, ...], ...]:
    """Who can be to blame, the first suspected first."""
    return (
        tuple(Blame(target=number) for number in range(len(question.targets))),
        tuple(Blame(pinned=name) for name in pins_of(question)),
        tuple(Blame(load=name) for name in question.plan.in_use),
    )


def _smallest_among(
    suspects: tuple[Blame, ...], innocent: frozenset[Blame], question: Question, still_time: StillTime
) -> tuple[Blame, ...]:
    """A smallest conflict of the suspects, the innocent let go; empty where the suspects are innocent too."""

    def ask(chosen: Chosen) -> Chosen | None:
        spared = (blame for number, blame in enumerate(suspects) if number not in chosen)
        asked = without(question, innocent.union(spared))
        found = find_one(asked.part, asked.plan, still_time, asked.targets, asked.pinned)
        return None if found is None else chosen | _met_besides(found, suspects, question)

    def tick() -> None:
        if not still_time():
            raise Undecided

    return tuple(suspects[number] for number in smallest_conflict(len(suspects), ask, tick))


def _met_besides(found: Plan, suspects: tuple[Blame, ...], question: Question) -> Chosen:
    """The targets among the suspects that a found plan meets, asked for or not."""
    judged = reckon(question.part, found)
    wanted = [(n, question.targets[blame.target]) for n, blame in enumerate(suspects) if blame.target is not None]
    return frozenset(number for number, target in wanted if fits(judged, (target,)))


def _no_limit() -> None:
    pass


def smallest_conflict(count: int, ask: Ask, tick: Callable[[], None] = _no_limit) -> tuple[int, ...]:
    """A smallest set of the suspects 0 … count - 1 that cannot hold together; all of them cannot.

    Empty where it cannot be even without them. `tick` is called before each piece of work and may raise.
    """
    return _Inquiry(count, ask, tick).smallest()


class _Inquiry:
    """One search for blame: what is known of sets of suspects, so that nothing known is asked again."""

    def __init__(self, count: int, ask: Ask, tick: Callable[[], None]) -> None:
        self.everyone: Chosen = frozenset(range(count))
        self.ask, self.tick = ask, tick
        self.met: list[Chosen] = []
        self.refuted: list[Chosen] = [self.everyone]
        self.at_once = count // 2

    def smallest(self) -> tuple[int, ...]:
        """A smallest conflict, its numbers rising."""
        bound = self._shrunk(frozenset(), False, self.everyone)
        while True:
            hitting = smallest_hitting_set([self.everyone - met for met in self.met], len(bound) - 1, self.tick)
            if hitting is None:
                return tuple(sorted(bound))
            if not self._is_met_among_others(hitting):
                return tuple(sorted(hitting))

    def _fits(self, chosen: Chosen) -> bool:
        if any(chosen <= met for met in self.met):
            return True
        if any(refuted <= chosen for refuted in self.refuted):
            return False
        met = self.ask(chosen)
        if met is None:
            self.refuted.append(chosen)
        else:
            self.met.append(met)
        return met is not None

    def _shrunk(self, kept: Chosen, added: bool, rest: Chosen) -> Chosen:
        """A part of `rest` of which nothing can be spared and that cannot hold beside `kept`."""
        if added and not self._fits(kept):
            return frozenset()
        if len(rest) <= 1:
            return rest
        first, second = _halves(sorted(rest))
        of_second = self._shrunk(kept | first, True, second)
        of_first = self._shrunk(kept | of_second, bool(of_second), first)
        return of_first | of_second

    def _is_met_among_others(self, chosen: Chosen) -> bool:
        """Whether some can hold together: asked with many others at once, with ever fewer where that is too many.

        The more are met at once the more sets are settled, but a no settles little; so what was too many stays so.
        """
        others = self._rarest_first(self.everyone - chosen)
        while not self._fits(chosen.union(others[: self.at_once])):
            if not self.at_once:
                return False
            self.at_once = min(self.at_once, len(others)) // 2
        return True

    def _rarest_first(self, chosen: Chosen) -> list[int]:
        """Those first that are met in the fewest sets known to fit."""
        return sorted(chosen, key=lambda number: (sum(number in met for met in self.met), number))


def _halves(numbers: list[int]) -> tuple[Chosen, Chosen]:
    middle = len(numbers) // 2
    return frozenset(numbers[:middle]), frozenset(numbers[middle:])


def smallest_hitting_set(sets: Iterable[Chosen], most: int, tick: Callable[[], None] = _no_limit) -> Chosen | None:
    """A smallest set that shares an element with each of the sets; None where more than `most` elements are needed.

    >>> smallest_hitting_set([frozenset({1, 2}), frozenset({2, 3}), frozenset({2, 4})], 3)
    frozenset({2})
    """
    needed = _without_supersets(sets)
    tries = (_hitting(needed, size, tick) for size in range(most + 1))
    return next((found for found in tries if found is not None), None)


def _without_supersets(sets: Iterable[Chosen]) -> list[Chosen]:
    """The sets that are not hit for certain once all the others are, smallest first."""
    kept: list[Chosen] = []
    for each in sorted(set(sets), key=lambda chosen: (len(chosen), sorted(chosen))):
        if not any(smaller <= each for smaller in kept):
            kept.append(each)
    return kept


def _hitting(sets: list[Chosen], size: int, tick: Callable[[], None]) -> Chosen | None:
    """A hitting set of at most `size` elements: one element of the first set, and what hits those it leaves."""
    tick()
    if not sets:
        return frozenset()
    if size == 0 or _disjoint(sets) > size:
        return None
    for number in sorted(sets[0]):
        rest = _hitting([each for each in sets if number not in each], size - 1, tick)
        if rest is not None:
            return rest | {number}
    return None


def _disjoint(sets: list[Chosen]) -> int:
    """How many sets that share nothing are met first to last: each needs an element of its own."""
    seen: set[int] = set()
    count = 0
    for each in sets:
        if seen.isdisjoint(each):
            seen |= each
            count += 1
    return count
