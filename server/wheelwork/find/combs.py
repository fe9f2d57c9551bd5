"""Combs: where a clock that two wishes share would have to stand for each of them alone. They never meet.

The selectors are those of the plan. Each wish leaves spans of the shared clock, one for each way down to it; the
teeth are the frequencies in them that the shared clock can have, at one core-voltage step.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, islice

from wheelwork.clocks.propagate import feeder_of
from wheelwork.find.conflicts import pins_of
from wheelwork.find.problem import Problem, Reach, Regimes, factor_under, holds
from wheelwork.find.question import Blame, Question
from wheelwork.find.tables import Undecided
from wheelwork.part.nodes import Divider, Oscillator, Pll, Scaler, Selector
from wheelwork.plan.plan import Target
from wheelwork.quantities.spans import Window

MOST_TEETH = 60
"""More are no picture."""
MOST_SPANS = 2000
"""More ways down to a target, or clocks above, than this are not followed."""
MOST_WORK = 50_000
"""Spans and points looked at for one comb: some tenths of a second. The picture must not cost more than the proof."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Combs:
    """Where the shared clock would have to stand: its id, its window, the teeth (Hz, rising) for each of the blamed.

    `core_voltage` is the step at which they are told, `selectors` those on the way that are as in the plan without
    being pinned. `beside`: the load in use of which the last comb tells where the sheet's own window leaves it.
    """

    clock: str
    window: Window | None
    teeth: tuple[tuple[Fraction, ...], ...]
    core_voltage: str
    selectors: tuple[str, ...] = ()
    beside: str | None = None


class _TooMany(Exception):
    """More ways or teeth than can be drawn."""


def find_combs(question: Question, conflict: Iterable[Blame], beside: str | None = None) -> Combs | None:
    """The combs of the blamed targets; None where they share no clock, where one has no tooth, or teeth are too many.

    Told at the plan's core-voltage step where each has teeth there, else at the first step where each has. `beside`
    names a load in use whose window is one more wish (`find_in_the_way`).
    """
    targets = [question.targets[blame.target] for blame in conflict if blame.target is not None]
    targets += [] if beside is None else [Target(beside)]
    ways = [_way_up(question, target.node) for target in targets]
    shared = _shared_clock(question, ways) if len(targets) > 1 else None
    if shared is None:
        return None
    try:
        made = (_combs_at(question, targets, ways, shared, step) for step in _steps(question))
        found = next((combs for combs in made if combs is not None), None)
        return None if found is None else replace(found, beside=beside)
    except (_TooMany, Undecided):
        return None


def _steps(question: Question) -> list[str]:
    own = question.plan.core_voltage
    others = [step.id for step in question.part.steps if step.id != own]
    return [own] if "core_voltage" in pins_of(question) else [own, *others]


def _way_up(question: Question, name: str) -> list[str]:
    """A node and what feeds it under the plan's selectors, up to the oscillator."""
    settings = question.plan.complete(question.part)
    way: list[str] = []
    above: str | None = name
    while above is not None:
        way.append(above)
        above = feeder_of(question.part.nodes[above], settings)
    return way


def _shared_clock(question: Question, ways: list[list[str]]) -> str | None:
    """The lowest clock that all ways pass, selectors left aside since they only pass a clock on."""
    shared = (name for name in ways[0] if all(name in way for way in ways[1:]))
    return next((name for name in shared if not isinstance(question.part.nodes[name], Selector)), None)


def _combs_at(question: Question, targets: list[Target], ways: list[list[str]], shared: str, step: str) -> Combs | None:
    teeth = tuple(_teeth(question, target, way, shared, step) for target, way in zip(targets, ways, strict=True))
    if not all(teeth) or set(teeth[0]).intersection(*teeth[1:]):
        return None
    on_the_way = dict.fromkeys(name for way in ways for name in way)
    selectors = [name for name in on_the_way if isinstance(question.part.nodes[name], Selector)]
    return Combs(
        clock=shared,
        window=question.part.nodes[shared].window(step),
        teeth=teeth,
        core_voltage=step,
        selectors=tuple(name for name in selectors if name not in pins_of(question)),
    )


def nearest_pair(combs: Combs) -> tuple[Fraction, Fraction] | None:
    """The two teeth of different combs that stand nearest, the lower first; by the share of the lower between them."""
    pairs = (
        (min(one, other), max(one, other))
        for first, second in combinations(combs.teeth, 2)
        for one in first
        for other in second
    )
    return min(pairs, key=lambda pair: (pair[1] / pair[0], pair), default=None)


def _teeth(question: Question, target: Target, way: list[str], shared: str, step: str) -> tuple[Fraction, ...]:
    """The frequencies of the shared clock with which one target can be met, all others left aside."""
    part, plan = question.part, question.plan
    problem = Problem(part, plan, part.step(step), [target], pins_of(question))
    walk = _Walk(problem, question, way)
    return tuple(sorted(walk.teeth(way.index(shared))))


@dataclass
class _Walk:
    """One target at one step: the spans it asks for going up its way, the frequencies its source offers going down."""

    problem: Problem
    question: Question
    way: Sequence[str]

    def __post_init__(self) -> None:
        self.nodes = self.question.part.nodes
        self.kind = self.problem.kind_of[self.way[-1]]
        self._known: dict[tuple[int, Regimes], list[Reach]] = {}
        self._work = 0

    def teeth(self, place: int) -> set[Fraction]:
        """Where the clock at a place of the way can stand so that the target at its foot can be met."""
        node = self.nodes[self.way[place]]
        found: set[Fraction] = set()
        if isinstance(node, Pll):
            spans = self._asked(place, ())
            found.update(*(self._points(node, place, span, MOST_TEETH) for span in spans))
        else:
            found.update(f for f, regimes in self._offered(place) if self._suits(place, f, regimes))
        if len(found) > MOST_TEETH:
            raise _TooMany
        return found

    def _step(self) -> None:
        self._work += 1
        if self._work > MOST_WORK:
            raise _TooMany

    def _suits(self, place: int, frequency: Fraction, regimes: Regimes) -> bool:
        return any(holds(span, frequency) for span in self._asked(place, regimes))

    def _asked(self, place: int, regimes: Regimes) -> list[Reach]:
        """The spans of the clock at a place in which everything down to the target is inside, one for each way."""
        if (place, regimes) not in self._known:
            self._known[place, regimes] = self._asked_at(place, regimes)
        return self._known[place, regimes]

    def _asked_at(self, place: int, regimes: Regimes) -> list[Reach]:
        own = self.problem.span(self.nodes[self.way[place]], self.kind)
        if place == 0:
            return [own]
        spans = list(islice(self._asked_below(place, regimes), MOST_SPANS + 1))
        if len(spans) > MOST_SPANS:
            raise _TooMany
        return [_both(own, span) for span in spans]

    def _asked_below(self, place: int, regimes: Regimes) -> Iterator[Reach]:
        below = self.nodes[self.way[place - 1]]
        match below:
            case Divider():
                for inner, ratios in self.problem.split(below, regimes):
                    for span in self._asked(place - 1, inner):
                        yield from (_times(span, ratio) for ratio in ratios)
            case Scaler():
                factor = factor_under(below, regimes)
                yield from (_times(span, 1 / factor) for span in self._asked(place - 1, regimes))
            case Pll():
                yield from ()  # a PLL below the shared clock: its input is told by its own points, which are no spans
            case _:
                yield from self._asked(place - 1, regimes)

    def _offered(self, place: int) -> Iterator[tuple[Fraction, Regimes]]:
        """The frequencies that the clock at a place can have, its source's and its own window kept."""
        node = self.nodes[self.way[place]]
        span = self.problem.span(node, self.kind)
        made: dict[tuple[Fraction, Regimes], None] = {}
        for each in self._made(place):
            self._step()
            if holds(span, each[0]):
                made[each] = None
            if len(made) > MOST_SPANS:
                raise _TooMany
        yield from made

    def _made(self, place: int) -> Iterator[tuple[Fraction, Regimes]]:
        node = self.nodes[self.way[place]]
        match node:
            case Oscillator():
                yield from ((frequency, ()) for frequency in self.problem.frequencies(node))
            case Pll():
                points = self._points(node, place, self.problem.span(node, self.kind), MOST_SPANS)
                yield from ((point, ()) for point in points)
            case Divider():
                for frequency, regimes in self._offered(place + 1):
                    for inner, ratios in self.problem.split(node, regimes):
                        yield from ((frequency / ratio, inner) for ratio in ratios)
            case Scaler():
                for frequency, regimes in self._offered(place + 1):
                    yield frequency * factor_under(node, regimes), regimes
            case _:
                yield from self._offered(place + 1)

    def _points(self, node: Pll, place: int, span: Reach, most: int) -> set[Fraction]:
        """The VCO frequencies of a PLL inside a span."""
        found: set[Fraction] = set()
        for frequency, _ in self._offered(place + 1):
            for _, detector in self.problem.detectors(node, frequency, self.kind):
                for feedbacks in self.problem.feedbacks(node):
                    self._step()
                    step = detector / feedbacks.parts
                    point = feedbacks.at_least(_first_place(span, step, feedbacks.lowest))
                    while point is not None and _is_below_top(span, point * step):
                        if holds(span, point * step):
                            found.add(point * step)
                        if len(found) > most:
                            raise _TooMany
                        point = feedbacks.at_least(point + 1)
        return found


def _first_place(span: Reach, step: Fraction, lowest: int) -> int:
    return lowest if span[0] is None else -(-span[0][0] // step)


def _is_below_top(span: Reach, frequency: Fraction) -> bool:
    return span[1] is None or frequency <= span[1][0]


def _both(one: Reach, other: Reach) -> Reach:
    lows = [reach[0] for reach in (one, other) if reach[0] is not None]
    highs = [reach[1] for reach in (one, other) if reach[1] is not None]
    return max(lows, default=None), min(highs, default=None)


def _times(span: Reach, factor: Fraction) -> Reach:
    low, high = span
    return (
        None if low is None else (low[0] * factor, low[1]),
        None if high is None else (high[0] * factor, high[1]),
    )
