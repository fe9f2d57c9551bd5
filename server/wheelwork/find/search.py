"""The search over every setting: the best that fit, their number, and the proof when none does."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice

from wheelwork.clocks.propagate import unfitted
from wheelwork.find.counting import count_found
from wheelwork.find.ordering import Ordering, Preferences
from wheelwork.find.problem import ANYWHERE, NO_LIMITS, Limits
from wheelwork.find.question import Answer, Preference, Progress, Question, Solution, StillTime, Tell
from wheelwork.find.scores import changes_from, settings_that_matter, shape_of
from wheelwork.find.seeking import Found, Seeker, fits
from wheelwork.find.tables import Undecided
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.part.nodes import Oscillator, Pll, Selector, Value

MOST_TIES = 16
"""So many settings beyond the last one asked for are read, where they tie with it, to put them in the sheet's order."""

MOST_ASKED = 10_000
"""The number of all settings is only told where it is found within so many pieces of work."""


MOST_COUNTED = 2_000_000
"""A count that does not come out within so many pieces of work (some seconds) is said not to be decided."""
LAST_ASKED = 100_000
"""After time has run out, so many pieces of work (a fraction of a second) are still spent on whether anything fits."""


def _for_a_while(pieces: int) -> StillTime:
    """Time for so many pieces of work."""
    left = pieces

    def still_time() -> bool:
        nonlocal left
        left -= 1
        return left > 0

    return still_time


def _tell_nobody(progress: Progress) -> None:
    pass


def find_settings(question: Question, still_time: StillTime, tell: Tell = _tell_nobody) -> Answer:
    """Search every setting. `tell` is told from time to time how far the search has come."""
    return _Search(question, still_time, tell).run()


@dataclass
class _Search:
    question: Question
    still_time: StillTime
    tell: Tell

    def __post_init__(self) -> None:
        question = self.question
        self.held = frozenset((*question.pinned, *question.plan.held))
        self.seeker = Seeker(question.part, question.plan, question.targets, self.held, self.still_time)
        self.remarks: list[str] = []
        self.listed = True

    def run(self) -> Answer:
        """The whole answer."""
        question = self.question
        searched = self._searched() if question.count else None
        found = self._find(whole_order(question))
        own = self._own()
        solutions = tuple(self._solution(each) for each in found or ())
        fit = sum(each.alike for each in solutions)
        best = Answer(
            question=question,
            fits=None if found is None else bool(found),
            complete=False,
            admissible=fit if question.count else None,
            searched=searched,
            solutions=solutions,
            plan_fits=own is not None and fits(own, question.targets),
            rank=self._rank(own, found or []),
            ordered=self.listed,
            remarks=tuple(self.remarks),
        )
        if best.plan_fits and found is None:
            best = replace(best, fits=True)
        self.tell(Progress(0, searched, fit, best))
        counted, all_counted = self._count(best)
        return replace(
            best,
            fits=True if counted else best.fits,
            complete=found is not None and self.listed and all_counted,
            admissible=max(counted, fit) if question.count else None,
        )

    def _find(self, prefer: Preferences) -> list[Found] | None:
        """The best so many; None where it is not decided whether there is any."""
        ordering = Ordering(self.question, self.seeker, self.question.top)
        try:
            found = self._in_sheets_order(ordering.ordered(prefer), prefer)
        except Undecided:
            self.listed = False
            return self._near(ordering, prefer)
        if not ordering.proven:
            self.remarks.append("Very many settings tie in what was put first; their order by the rest is not proven.")
        return found

    def _near(self, ordering: Ordering, prefer: Preferences) -> list[Found] | None:
        """Where not all could be listed: the best by the first preference if it is known, and the best near it."""
        best: Found | None = None
        with suppress(Undecided):
            best = ordering.best(prefer)
        try:
            start = best or replace(self.seeker, still_time=_for_a_while(LAST_ASKED)).at_steps(self.seeker.steps).any()
        except Undecided:
            return None
        if start is None:
            return []
        try:
            found = self._in_sheets_order(self._ordered_near(start, best is not None, prefer), prefer)
        except Undecided:
            found = [start]
        known = f"No setting is better by {prefer[0]} than the first. " if best else ""
        self.remarks.append(
            f"{known}The settings shown differ in the ratios of dividers only; "
            f"{'what else ties with them' if best else 'which is the best of all'} was not searched out."
        )
        return found

    def _ordered_near(self, start: Found, is_best: bool, prefer: Preferences) -> Iterator[Found]:
        """The settings near one in their order; where it is the best by a frequency, those of the same frequency."""
        near = Ordering(self.question, self.seeker.near(start), self.question.top)
        first, node = prefer[0], prefer[0].node or ""
        if not is_best or first.kind not in ("highest", "lowest") or node not in start.judgement.clocks:
            return near.ordered(prefer)
        value = start.judgement.clocks[node].nominal
        return near.ordered(prefer[1:], NO_LIMITS.with_running(node).exactly(node, value))

    def _in_sheets_order(self, ordered: Iterator[Found], prefer: Preferences) -> list[Found]:
        """The first so many; those that tie in every preference in the order of the sheet."""
        top = self.question.top
        found = list(islice(ordered, top))
        values = [self._values(prefer, each) for each in found]
        for each in islice(ordered, MOST_TIES):
            if not values or self._values(prefer, each) != values[-1]:
                break
            found.append(each)
            values.append(values[-1])
        ranked = sorted(
            zip(values, map(self._place, found), range(len(found)), found, strict=True), key=lambda e: e[:3]
        )
        return [each for *_, each in ranked][:top]

    def _values(self, prefer: Preferences, found: Found) -> tuple[object, ...]:
        ordering = Ordering(self.question, self.seeker, 1)
        return tuple(-ordering.value(each, found) for each in prefer)

    def _place(self, found: Found) -> tuple[object, ...]:
        """Where a setting stands in the order of the sheet: by steps, then setting by setting by what is offered."""
        part = self.question.part
        step = part.steps.index(part.step(found.plan.core_voltage))
        return step, *(self._place_of(key, value) for key, value in settings_that_matter(found.judgement).items())

    def _place_of(self, key: str, value: Value) -> tuple[str, int | Value]:
        node = self.question.part.nodes[key.partition(".")[0]]
        if isinstance(node, Selector):
            return key, node.feeders.index(str(value))
        if isinstance(node, Oscillator):
            return key, node.choices.index(Fraction(value))
        return key, value

    def _solution(self, found: Found) -> Solution:
        judgement, question = found.judgement, self.question
        return Solution(
            settings=settings_that_matter(judgement),
            core_voltage=found.plan.core_voltage,
            wait_states=judgement.wait_states_needed or 0,
            core=judgement.clocks[question.part.core_clock].nominal,
            current=judgement.current.typical,
            alike=self._alike(judgement),
            changes=len(changes_from(question.plan, judgement)),
            plan=found.plan,
        )

    def _alike(self, judgement: Judgement) -> int:
        """How many settings differ from one only in PLL factors of equal ratio, itself included."""
        alike = 1
        problem = next(iter(self.seeker.at_step(judgement.part.step(judgement.plan.core_voltage)).problems(Limits())))
        for name in judgement.way.order:
            node = judgement.part.nodes[name]
            if isinstance(node, Pll):
                above, own = judgement.clocks[node.input], judgement.clocks[name]
                alike *= problem.lattice(node, above.nominal, problem.kind_of[own.source]).alike(own.nominal)
        return alike

    def _own(self) -> Judgement | None:
        """The plan's own settings, wait states following the table; None where an oscillator in use is not fitted."""
        part, plan = self.question.part, replace(self.question.plan, wait_states=None)
        return None if unfitted(part, plan) else reckon(part, plan)

    def _rank(self, own: Judgement | None, found: list[Found]) -> int | None:
        if own is None or not fits(own, self.question.targets):
            return None
        shape = shape_of(own)
        return next((rank for rank, each in enumerate(found, 1) if shape_of(each.judgement) == shape), None)

    def _count(self, best: Answer) -> tuple[int, bool]:
        """How many fit, and whether that is all of them; step by step, so that a part is known when time runs out."""
        if not self.question.count or best.fits is False:
            return 0, True
        searched, awhile = best.searched, _for_a_while(MOST_COUNTED)
        total = covered = 0
        for step in self.seeker.steps:
            here = self.seeker.at_step(step)
            timed = replace(here, still_time=lambda: awhile() and self.still_time()).at_steps(here.steps)
            counted = count_found(timed)
            if counted is None:
                return total, False
            total += counted
            if searched is not None:
                covered += count_found(here.anything(), ANYWHERE) or 0
            self.tell(Progress(covered, searched, max(total, best.admissible or 0), best))
        return total, True

    def _searched(self) -> int | None:
        """How many settings there are with these pins, windows left aside; None where that alone takes too long."""
        awhile = _for_a_while(MOST_ASKED)
        return count_found(replace(self.seeker.anything(), still_time=lambda: awhile() and self.still_time()), ANYWHERE)


def whole_order(question: Question) -> Preferences:
    """The preferences in turn; ties go to the higher core clock, then to the lower current, if they are not named."""
    further = (Preference("highest", question.part.core_clock), Preference("least current"))
    return (*question.prefer, *(each for each in further if each not in question.prefer))
