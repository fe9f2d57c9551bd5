"""The ranked table of the Targets page: the plan one is at and the best that fit, told by what they differ in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.charts.axis import Axis, axis_over
from wheelwork.charts.ways import WayDown, WayStop, draw_way
from wheelwork.clocks.propagate import factors_of, unfitted
from wheelwork.find.mends import say_value
from wheelwork.find.question import Answer, Preference, Question, Solution
from wheelwork.find.saying import say_count
from wheelwork.find.scores import settings_that_matter, value_of
from wheelwork.findings import lower_first
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.judge.little_way import names_above, stops_towards
from wheelwork.pages.targets_words import name_pll
from wheelwork.pages.words import say_clock
from wheelwork.part.nodes import Divider, Pll, Selector
from wheelwork.plan.plan import Plan
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_exact
from wheelwork.quantities.units import CURRENT, FREQUENCY, say_frequency, say_quantity

SHOWN = 8
"""So many ranks stand in the table before all that were listed are asked for."""
MOST_OTHERS = 3


@dataclass(frozen=True, slots=True)
class RankedRow:
    """One setting that fits, or the plan one is at."""

    rank: str
    present: bool
    ratios: tuple[str, ...]
    others: str
    way: WayDown | None
    spoken: str
    detector: str
    current: str
    changes: str
    note: str
    address: str
    fits: bool


@dataclass(frozen=True, slots=True)
class RankedTable:
    """The table with the words of its head.

    `ranks` counts the rows without a plan's own that stands apart, `listed` those that there are; they are `proven`
    to be the best only where the search could order them.
    """

    settings_head: str
    from_to: str
    rows: tuple[RankedRow, ...]
    ranks: int
    listed: int
    proven: bool


@dataclass(frozen=True, slots=True)
class _Entry:
    """A setting before it is told: its judgement, and the solution it is (None: the plan one is at)."""

    judgement: Judgement | None
    solution: Solution | None
    rank: int | None


def rank_table(answer: Answer, plan: Plan, addresses: Sequence[str], everything: bool) -> RankedTable:
    """The ranked table of an answer; `addresses` lead to the plans of its solutions, in their order."""
    question = answer.question
    shown = answer.solutions if everything else answer.solutions[:SHOWN]
    entries = list(_entries(answer, plan, shown))
    judged = [entry.judgement for entry in entries if entry.judgement is not None]
    told = _Told(question, judged)
    axis = axis_over((stop.frequency for judgement in judged for stop in told.stops(judgement)), least=1)
    rows = (_row(told, axis, answer, entry, addresses) for entry in entries)
    return RankedTable(told.head(), _say_span(axis), tuple(rows), len(shown), len(answer.solutions), answer.ordered)


def say_common(answer: Answer) -> tuple[str, ...]:
    """Where a clock that a target leaves some room stands in every setting that fits; only where all are listed."""
    if not answer.complete or sum(solution.alike for solution in answer.solutions) != answer.admissible:
        return ()
    question = answer.question
    judged = [reckon(question.part, solution.plan) for solution in answer.solutions]
    found = {target.node: {each.clocks[target.node].nominal for each in judged} for target in question.targets}
    wanted = {target.node: target.frequency for target in question.targets}
    alike = ((node, next(iter(places))) for node, places in found.items() if len(places) == 1)
    return tuple(
        f"In all of them the {lower_first(question.part.nodes[node].title)} runs at {say_clock(place)}."
        for node, place in alike
        if place != wanted[node]
    )


def _entries(answer: Answer, plan: Plan, shown: Sequence[Solution]) -> Iterator[_Entry]:
    """The plan's own row, on top unless it stands among those shown, then those."""
    part = answer.question.part
    if not any(_is_present(solution) for solution in shown):
        own = None if unfitted(part, plan) else reckon(part, plan)
        yield _Entry(own, None, answer.rank if answer.plan_fits and answer.ordered else None)
    for place, solution in enumerate(shown):
        yield _Entry(reckon(part, solution.plan), solution, place + 1 if answer.ordered else None)


def _is_present(solution: Solution) -> bool:
    return solution.changes == 0


def _row(told: _Told, axis: Axis, answer: Answer, entry: _Entry, addresses: Sequence[str]) -> RankedRow:
    judgement, solution = entry.judgement, entry.solution
    present = solution is None or _is_present(solution)
    fits = answer.plan_fits if solution is None else True
    stops = [] if judgement is None else told.stops(judgement)
    return RankedRow(
        rank="–" if entry.rank is None else str(entry.rank),
        present=present,
        ratios=("nothing fitted",) if judgement is None else told.ratios(judgement),
        others="" if judgement is None else told.others(judgement),
        way=draw_way(axis, stops) if stops else None,
        spoken=" to ".join(say_clock(stop.frequency) for stop in stops),
        detector="" if judgement is None else _say_detector(answer.question, judgement),
        current="" if judgement is None else say_quantity(judgement.current.typical, CURRENT),
        changes="this plan" if present else _say_changes(solution.changes if solution else 0),
        note=_note(solution, fits),
        address="" if solution is None or present else addresses[answer.solutions.index(solution)],
        fits=fits,
    )


def _say_changes(count: int) -> str:
    return f"{count} {'change' if count == 1 else 'changes'}"


def _note(solution: Solution | None, fits: bool) -> str:
    """The quiet line below the changes: that the plan does not fit, or how many settings are like this one."""
    if solution is None:
        return "" if fits else "does not fit"
    return f"and {say_count(solution.alike - 1)} more of equal ratio" if solution.alike > 1 else ""


def _say_detector(question: Question, judgement: Judgement) -> str:
    """The slowest phase detector of those that run."""
    if not judgement.phase_detectors:
        return "no PLL"
    return say_frequency(Fraction(value_of(Preference("highest phase detector"), question, judgement)))


def _say_span(axis: Axis) -> str:
    ends = (Fraction(round(10**end)) for end in (axis.low, axis.high))
    return " to ".join(say_quantity(end, FREQUENCY) for end in ends)


class _Told:
    """How the settings of a table are told: PLLs and their taps in one line, what else differs in a second."""

    def __init__(self, question: Question, judged: Sequence[Judgement]) -> None:
        self.question, self.part = question, question.part
        self.judged = judged
        self.wanted = tuple(dict.fromkeys(target.node for target in question.targets)) or (self.part.core_clock,)
        self.varying = _varying(judged)
        self.plls = [pll for pll in self.part.nodes.values() if isinstance(pll, Pll) and self._is_told(pll.id)]
        self.taps = {pll.id: self._taps(pll) for pll in self.plls}

    def _is_told(self, node: str) -> bool:
        """Whether a PLL or a tap stands in the first line: on the way to what is wanted, or not the same in all."""
        on_the_way = any(node in names_above(judgement, self.wanted) for judgement in self.judged)
        return on_the_way or any(key.partition(".")[0] == node for key in self.varying)

    def _taps(self, pll: Pll) -> list[Divider]:
        dividers = (node for node in self.part.nodes.values() if isinstance(node, Divider) and node.input == pll.id)
        return [tap for tap in dividers if self._is_told(tap.id)]

    def head(self) -> str:
        """What stands in the first line: `PLL, core tap, converter tap`."""
        names = [name for pll in self.plls for name in (name_pll(self.part, pll), *self._tap_names(pll))]
        return ", ".join(names) or "Settings"

    def _tap_names(self, pll: Pll) -> Iterator[str]:
        for tap in self.taps[pll.id]:
            name = name_pll(self.part, pll)
            yield lower_first(tap.title.removeprefix(name).strip() or tap.title)

    def ratios(self, judgement: Judgement) -> tuple[str, ...]:
        """The first line of a setting, PLL by PLL: `÷1 ×29 then ÷4, ÷9`."""
        told = [self._pll_ratios(judgement, pll) for pll in self.plls if pll.id in judgement.clocks]
        if told:
            return tuple(told)
        source = judgement.clocks[self.part.core_clock].source
        return (f"core from {lower_first(self.part.nodes[source].title)}",)

    def _pll_ratios(self, judgement: Judgement, pll: Pll) -> str:
        factors = factors_of(pll, judgement.settings)
        fraction = f"+{factors.fraction}/{pll.fraction_of}" if pll.fraction_of > 1 and factors.fraction else ""
        pll_words = f"÷{write_exact(factors.reference_divider)} ×{write_exact(factors.feedback)}{fraction}"
        taps = [self._tap_ratio(judgement, tap) for tap in self.taps[pll.id]]
        return f"{pll_words} then {', '.join(taps)}" if taps else pll_words

    def _tap_ratio(self, judgement: Judgement, tap: Divider) -> str:
        if tap.id not in judgement.clocks:
            return "–"
        return say_value(self.part, tap.id, judgement.settings[tap.id])

    def others(self, judgement: Judgement) -> str:
        """The second line: what else differs among the settings of the table, `slow bus ÷2, 29 MHz`."""
        first = {node.id for node in self.plls} | {tap.id for taps in self.taps.values() for tap in taps}
        keys = [key for key in self.varying if key.partition(".")[0] not in first]
        keys.sort(key=lambda key: isinstance(self.part.nodes.get(key), Selector))
        told = [words for key in keys if (words := self._say_other(judgement, key))]
        more = len(told) - MOST_OTHERS
        return "; ".join(told[:MOST_OTHERS]) + (f"; and {more} more" if more > 0 else "")

    def _say_other(self, judgement: Judgement, key: str) -> str:
        if key == "core_voltage":
            return f"{write_exact(self.part.step(judgement.plan.core_voltage).volts)}{NO_BREAK_SPACE}V"
        node = self.part.nodes[key]
        clock = judgement.clocks.get(key)
        if clock is None:
            return ""
        value = say_value(self.part, key, judgement.settings[key])
        if isinstance(node, Selector):
            same = judgement.settings[key] == self.question.plan.complete(self.part)[key]
            return "" if same else f"{lower_first(node.title)}: {lower_first(value)}"
        return f"{lower_first(node.title)} {value}, {say_clock(clock.nominal)}"

    def stops(self, judgement: Judgement) -> list[WayStop]:
        """The way down to what is wanted, for the little picture."""
        return stops_towards(judgement, self.wanted)


def _varying(judged: Sequence[Judgement]) -> list[str]:
    """The settings, core voltage included, that are not the same in all where they matter; in the sheet's order."""
    seen: dict[str, set[object]] = {}
    for judgement in judged:
        matter = settings_that_matter(judgement)
        seen.setdefault("core_voltage", set()).add(judgement.plan.core_voltage)
        for key in judgement.settings:
            seen.setdefault(key, set()).add(matter.get(key))
    ordered = [key for key in seen if key != "core_voltage"]
    return [key for key in (*ordered, "core_voltage") if len(seen.get(key, ())) > 1]
