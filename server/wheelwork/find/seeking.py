"""Single questions to all core-voltage steps: does a setting fit, which is the best by one sum, list them in its order.

Rules between clocks are kept by dividing: where the best of all breaks a rule, the settings are parted at the frequency
of the clock that the rule measures by, and each part is asked with what the rule means for the other clock there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from heapq import heappop, heappush
from itertools import count

from wheelwork.find.building import build_best
from wheelwork.find.cheapest import Cheapest
from wheelwork.find.cover import Coverings
from wheelwork.find.prices import NOTHING, Number, Prices
from wheelwork.find.problem import NO_LIMITS, Limits, Problem
from wheelwork.find.question import StillTime
from wheelwork.find.ranking import Ranking
from wheelwork.find.scores import settings_that_matter
from wheelwork.find.tables import Undecided
from wheelwork.judge.judgement import Judgement, reckon, rule_holds
from wheelwork.part.nodes import Oscillator, Part, Pll, Rule, Selector, Step, Value
from wheelwork.plan.plan import Plan, Target

PricesAt = Callable[[Problem], Prices]
"""The prices at a core-voltage step."""


@dataclass(frozen=True, slots=True)
class Found:
    """A setting that fits: its cost by the sum that was asked for, the plan with it, and the plan's own reckoning."""

    cost: Number
    plan: Plan
    judgement: Judgement


@dataclass
class _Region:
    """A step under limits, and the settings there in the order of their cost; `head` is the next one."""

    step: Step
    limits: Limits
    ways: Iterator[Found]
    head: Found

    def advance(self) -> bool:
        """Read the next setting; whether there is one."""
        following = next(self.ways, None)
        if following is not None:
            self.head = following
        return following is not None


Key = tuple[str, frozenset[tuple[str, Value]]]
"""What tells one setting from another: core-voltage step and settings."""


def is_new(found: Found, given: set[Key]) -> bool:
    """Whether a setting has not been given before; it is noted as given."""
    key = (found.plan.core_voltage, frozenset(settings_that_matter(found.judgement).items()))
    if key in given:
        return False
    given.add(key)
    return True


class SearchFault(RuntimeError):
    """A setting that the search calls right is not right by the plan's own reckoning: a fault of the program."""


@dataclass
class Seeker:
    """Asks the steps of a part, with targets and pins, under limits."""

    part: Part
    plan: Plan
    targets: tuple[Target, ...]
    held: frozenset[str]
    still_time: StillTime
    pointwise: bool = False
    steps: tuple[Step, ...] = field(init=False)

    def __post_init__(self) -> None:
        pinned = "core_voltage" in self.held
        self.steps = (self.part.step(self.plan.core_voltage),) if pinned else self.part.steps

    def at_step(self, step: Step) -> Seeker:
        """The same with one step only."""
        return self.at_steps((step,))

    def at_steps(self, steps: tuple[Step, ...]) -> Seeker:
        """The same with some steps only."""
        some = replace(self)
        some.steps = steps
        return some

    def anything(self) -> Seeker:
        """The same without targets."""
        return replace(self, targets=()).at_steps(self.steps)

    def near(self, found: Found) -> Seeker:
        """The same with all but the ratios of dividers pinned to a setting that was found: small enough to list."""
        nodes = self.part.nodes
        held = {name for name, node in nodes.items() if isinstance(node, Selector | Pll | Oscillator)}
        one = replace(self, plan=found.plan, held=self.held | held, pointwise=True)
        return one.at_step(self.part.step(found.plan.core_voltage))

    def problems(self, limits: Limits) -> Iterator[Problem]:
        """The problem at each step that is not ruled out at once."""
        for step in self.steps:
            problem = Problem(self.part, self.plan, step, self.targets, self.held, limits)
            if not problem.refuted:
                yield problem

    def any(self, limits: Limits = NO_LIMITS) -> Found | None:
        """A setting that fits; None is the proof that there is none. Raises Undecided."""
        return self._obeying(limits, lambda tried: self._first(tried))

    def best(self, prices: PricesAt, limits: Limits = NO_LIMITS) -> Found | None:
        """A setting of least cost; None is the proof that there is none. Raises Undecided."""
        return self._obeying(limits, lambda tried: self._cheapest(tried, prices))

    def listing(self, prices: PricesAt, limits: Limits = NO_LIMITS) -> Iterator[Found]:
        """The settings in the order of their cost, alike ones once. Raises Undecided.

        Where the next one breaks a rule, its region is parted, so that no long run of settings that break it is read.
        """
        order = count()
        heap: list[tuple[Number, int, int, _Region]] = []

        def enter(step: Step, inside: Limits) -> None:
            region = self._region(step, inside, prices)
            if region is not None:
                heappush(heap, (region.head.cost, self.part.steps.index(step), next(order), region))

        for step in self.steps:
            enter(step, limits)
        given: set[Key] = set()  # regions parted from one that was read meet its settings again
        while heap:
            _, place, number, region = heappop(heap)
            found, rule = region.head, self.broken(region.head)
            if rule is not None:
                for part in parted(region.limits, rule, found):
                    enter(region.step, part)
                continue
            if not self.part.rules or is_new(found, given):
                yield found
            if region.advance():
                heappush(heap, (region.head.cost, place, number, region))

    def _region(self, step: Step, limits: Limits, prices: PricesAt) -> _Region | None:
        """The listing of one step under limits, its first setting read; None where nothing fits."""
        problem = Problem(self.part, self.plan, step, self.targets, self.held, limits)
        if problem.refuted or (self.part.rules and not self._is_covered(problem)):
            return None
        ways = self._listed(problem, prices(problem))
        head = next(ways, None)
        return None if head is None else _Region(step, limits, ways, head)

    def _is_covered(self, problem: Problem) -> bool:
        """Whether anything fits at all: quicker to know than the best, and many parts of a region are empty."""
        coverings = Coverings(Cheapest(problem, NOTHING, self.still_time, pointwise=self.pointwise))
        return next(iter(coverings), None) is not None

    def _listed(self, problem: Problem, prices: Prices) -> Iterator[Found]:
        cheapest = Cheapest(problem, prices, self.still_time, True, self.pointwise)
        for cost, settings in Ranking(cheapest, Coverings(cheapest, listing=True)).ways():
            yield self.judged(cost, problem.step, settings)

    def _first(self, limits: Limits) -> Found | None:
        for problem in self.problems(limits):
            coverings = Coverings(Cheapest(problem, NOTHING, self.still_time, pointwise=self.pointwise))
            for cover in coverings:
                end = next(iter(cover.ends))
                return self.judged(0, problem.step, build_best(coverings, cover, end))
        return None

    def _cheapest(self, limits: Limits, prices: PricesAt) -> Found | None:
        """Step by step, the one that promises most first; one that cannot be better than what is found is left out."""
        best: tuple[Number, Callable[[], Found]] | None = None
        tried = [(prices(problem).bound(problem), problem) for problem in self.problems(limits)]
        for bound, problem in sorted(tried, key=lambda each: each[0]):
            if best is not None and bound >= best[0]:
                break
            coverings = Coverings(Cheapest(problem, prices(problem), self.still_time, pointwise=self.pointwise))
            coverings.bound = None if best is None else best[0]
            for cover in coverings:
                end, cost = min(cover.ends.items(), key=lambda each: each[1])
                if best is None or cost < best[0]:
                    best = (cost, self._later(cost, problem.step, coverings, cover, end))
                    coverings.bound = cost
        return None if best is None else best[1]()

    def _later(self, cost: Number, step: Step, *whole: object) -> Callable[[], Found]:
        return lambda: self.judged(cost, step, build_best(*whole))  # type: ignore[arg-type]  # coverings, cover, end

    def judged(self, cost: Number, step: Step, settings: dict[str, Value]) -> Found:
        """A setting with the plan's own reckoning of it. Raises SearchFault where that does not agree."""
        plan = replace(self.plan.with_settings(settings), core_voltage=step.id, wait_states=None)
        judgement = reckon(self.part, plan)
        if not fits(replace(judgement, part=self.part), self.targets, but_for_rules=True):
            raise SearchFault(f"the search and the reckoning do not agree on {settings} at {step.id}")
        return Found(cost, plan, judgement)

    def _obeying(self, limits: Limits, ask: Callable[[Limits], Found | None]) -> Found | None:
        """The best under the rules between clocks: the best of all, or of the parts where that breaks a rule."""
        first = ask(limits)
        order = count()
        heap: list[tuple[Number, int, Limits, Found]] = []
        if first is not None:
            heap.append((first.cost, next(order), limits, first))
        while heap:
            _, _, tried, found = heappop(heap)
            rule = self.broken(found)
            if rule is None:
                return found
            for part in parted(tried, rule, found):
                inside = ask(part)
                if inside is not None:
                    heappush(heap, (inside.cost, next(order), part, inside))
        return None

    def broken(self, found: Found) -> Rule | None:
        """A rule between clocks that a setting breaks; None where it keeps them all."""
        return next((rule for rule in self.part.rules if not rule_holds(rule, found.judgement.clocks)), None)


def parted(limits: Limits, rule: Rule, found: Found) -> Iterator[Limits]:
    """The settings of some limits in parts that leave out none which keeps the rule, but surely the one found.

    Where both clocks run they are parted at a frequency of the one that measures, halfway between where it stands and
    where it would have to stand for the rule to hold.
    """
    clocks, share = found.judgement.clocks, rule.at_most if rule.at_most is not None else rule.at_least
    assert share is not None  # a rule has one of the two
    middle = (clocks[rule.of].nominal + clocks[rule.node].nominal / share) / 2
    yield limits.with_stopped(rule.of)
    yield limits.with_stopped(rule.node).with_running(rule.of)
    on = limits.with_running(rule.of).with_running(rule.node)
    if rule.at_most is not None:
        yield on.below(rule.of, middle, True).below(rule.node, share * middle, True)
        yield on.above(rule.of, middle)
    else:
        yield on.above(rule.of, middle, True).above(rule.node, share * middle, True)
        yield on.below(rule.of, middle)


def fits(judgement: Judgement, targets: tuple[Target, ...], but_for_rules: bool = False) -> bool:
    """Whether a judged plan is legal and meets every target."""
    if not judgement.legal and not (but_for_rules and _legal_but_for_rules(judgement)):
        return False
    return all(_is_met(target, judgement) for target in targets)


def _legal_but_for_rules(judgement: Judgement) -> bool:
    return not any(judged.outside for judged in (*judgement.nodes.values(), *judgement.phase_detectors.values()))


def _is_met(target: Target, judgement: Judgement) -> bool:
    clock = judgement.clocks.get(target.node)
    if clock is None:
        return False
    if target.at_least is not None and clock.nominal < target.at_least:
        return False
    if target.at_most is not None and clock.nominal > target.at_most:
        return False
    if target.frequency is None:
        return True
    if target.within is None:
        return clock.nominal == target.frequency
    return clock.lowest >= target.frequency * (1 - target.within) and clock.highest <= target.frequency * (
        1 + target.within
    )


__all__ = ["Found", "Key", "PricesAt", "SearchFault", "Seeker", "Undecided", "fits", "is_new"]
