"""The core clocks of one core-voltage step under the rules between clocks: by dividing, as `seeking.py` does.

Where what is best breaks a rule, its region of settings is parted; the parts stand in its place for whatever is asked
next. Without rules there is one region and a setting is made only where it is looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from heapq import heappop, heappush
from itertools import count

from wheelwork.find.prices import Prices, current_prices
from wheelwork.find.problem import NO_LIMITS, Limits, Problem
from wheelwork.find.seeking import Found, SearchFault, Seeker, parted
from wheelwork.find.speeds import Reached, Speeds
from wheelwork.part.nodes import Step


@dataclass(frozen=True)
class Speed:
    """A core clock (Hz), the least typical supply current there (A), and what makes the setting of it.

    What makes it holds on to all the tables of its step and is held to its time: ask it while there is time, or
    `settle_at`, which needs neither.
    """

    core: Fraction
    current: Fraction
    make: Callable[[], Found]


@dataclass(frozen=True)
class _Region:
    """A part of a step's settings that has some."""

    limits: Limits
    speeds: Speeds


class StepSpeeds:
    """The core clocks of a step. Every question raises Undecided where time is over."""

    def __init__(self, seeker: Seeker, step: Step) -> None:
        self.seeker, self.step = seeker.at_step(step), step
        self._regions: list[_Region] | None = None

    def regions(self) -> list[_Region]:
        """The regions that hold any setting, as far as they had to be parted."""
        if self._regions is None:
            limits = self._implied()
            self._regions = [] if limits is None else self._enter(limits)
        return self._regions

    def _implied(self) -> Limits | None:
        """What the rules between clocks that always run ask of one of two, whatever the other one is.

        None is the proof that no setting is legal.
        """
        part, limits = self.seeker.part, NO_LIMITS
        free = replace(self.seeker, part=replace(part, rules=())).at_step(self.step)
        needed = Problem(part, self.seeker.plan, self.step, pinned=self.seeker.held).needed
        for rule in part.rules:
            if needed[rule.node] and needed[rule.of]:
                measure = rule.node if rule.at_most is not None else rule.of
                found = free.best(lambda problem, name=measure: Prices(lines={name: (0, 1)}), limits)  # type: ignore[misc]  # bound
                if found is None:
                    return None
                lowest = found.judgement.clocks[measure].nominal
                if rule.at_most is not None:
                    limits = limits.above(rule.of, lowest / rule.at_most, True)
                elif rule.at_least is not None:
                    limits = limits.above(rule.node, lowest * rule.at_least, True)
        return limits

    def _enter(self, limits: Limits) -> list[_Region]:
        seeker = self.seeker
        problem = Problem(seeker.part, seeker.plan, self.step, seeker.targets, seeker.held, limits)
        return [] if problem.refuted else [_Region(limits, Speeds(problem, seeker.still_time))]

    def highest(self) -> Speed | None:
        """The highest core clock, at the least current it can have."""
        return self._best(lambda speeds: speeds.highest(), lambda reached: (-reached.core, reached.current))

    def lowest(self) -> Speed | None:
        """The lowest core clock, at the least current it can have."""
        return self._best(lambda speeds: speeds.lowest(), lambda reached: (reached.core, reached.current))

    def least_at(self, core: Fraction) -> Speed | None:
        """The least current at a core clock; None is the proof that no legal setting has it."""
        return self._best(lambda speeds: speeds.least_at(core), lambda reached: (reached.current,))

    def best(self, beside: Fraction, slowest: Fraction | None) -> Speed | None:
        """The core clock of least charge with a further current beside (A), from a slowest core clock on."""
        return self._best(
            lambda speeds: speeds.best(beside, slowest),
            lambda reached: ((reached.current + beside) / reached.core, -reached.core),
        )

    def in_band(self, beside: Fraction, slowest: Fraction, fastest: Fraction) -> Speed | None:
        """A core clock of little charge between two, at its least current; None where none was met."""
        found = self._best(
            lambda speeds: speeds.in_band(beside, slowest, fastest),
            lambda reached: ((reached.current + beside) / reached.core,),
        )
        return self.least_at(found.core) if found is not None and len(self.regions()) > 1 else found

    def all_cores(self, most: int) -> list[Fraction] | None:
        """Every core clock, at times one that rules forbid; None where there are more than so many."""
        found: set[Fraction] = set()
        for region in self.regions():
            cores = region.speeds.all_cores(most)
            if cores is None:
                return None
            found.update(cores)
        return sorted(found) if len(found) <= most else None

    def _best(
        self, ask: Callable[[Speeds], Reached | None], rank: Callable[[Reached], tuple[Fraction, ...]]
    ) -> Speed | None:
        """The best answer of all regions that keeps every rule."""
        order = count()
        heap: list[tuple[tuple[Fraction, ...], int, _Region, Reached]] = []

        def enter(region: _Region) -> None:
            reached = ask(region.speeds)
            if reached is not None:
                heappush(heap, (rank(reached), next(order), region, reached))

        for region in self.regions():
            enter(region)
        while heap:
            _, _, region, reached = heappop(heap)
            if not self.seeker.part.rules:
                return Speed(reached.core, reached.current, partial(self._found, region, reached))
            found = self._found(region, reached)
            rule = self.seeker.broken(found)
            if rule is None:
                return Speed(reached.core, reached.current, partial(_same, found))
            parts = [inside for limits in parted(region.limits, rule, found) for inside in self._enter(limits)]
            self._regions = [each for each in self.regions() if each is not region] + parts
            for part in parts:
                enter(part)
        return None

    def _found(self, region: _Region, reached: Reached) -> Found:
        """The setting of a core clock, judged. Raises SearchFault where the judgement has another one or current."""
        found = self.seeker.judged(reached.current, self.step, region.speeds.settings_at(reached))
        told = found.judgement.clocks[self.seeker.part.core_clock].nominal, found.judgement.current.typical
        if told != (reached.core, reached.current):
            raise SearchFault(f"{told} was reckoned, {reached.core, reached.current} found at {self.step.id}")
        return found


def settle_at(seeker: Seeker, core: Fraction, current: Fraction) -> Found:
    """The setting of a core clock and its least current at a seeker's steps, searched anew, however long that takes."""
    patient = replace(seeker, still_time=lambda: True).at_steps(seeker.steps)
    found = patient.best(
        lambda problem: current_prices(problem.part, problem.plan, problem.step),
        NO_LIMITS.exactly(seeker.part.core_clock, core),
    )
    if found is None or found.judgement.current.typical != current:
        raise SearchFault(f"no setting takes {current} at {core}, as was found")
    return found


def _same(found: Found) -> Found:
    return found
