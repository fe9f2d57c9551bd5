"""Core clocks of one core-voltage step and the least supply current at each: the questions that operating points ask.

The least charge is a least ratio, current over core clock. It is found by the sum current - charge * core clock, which
is 0 at its least only for the least charge a clock can take (source: Dinkelbach, On nonlinear fractional programming,
Management Science 13, 1967; from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.find.prices import Prices, current_prices
from wheelwork.find.problem import NO_LIMITS, Limits, Problem
from wheelwork.find.seeking import Found, Seeker
from wheelwork.part.nodes import Step

Speed = tuple[Fraction, Fraction, Callable[[], Found]]
"""A core clock (Hz), the least typical supply current there (A), and what makes the setting of it."""


@dataclass
class Speeds:
    """The core clocks of a step."""

    seeker: Seeker
    step: Step

    def __post_init__(self) -> None:
        self.core = self.seeker.part.core_clock
        self.here = self.seeker.at_step(self.step)

    def highest(self, limits: Limits = NO_LIMITS) -> Speed | None:
        """The highest core clock, at its least current; None is the proof that no setting is legal."""
        found = self.here.best(lambda problem: Prices(lines={self.core: (0, -1)}), limits)
        return None if found is None else self.least_at(self._core_of(found))

    def least_at(self, core: Fraction) -> Speed | None:
        """The least current at a core clock; None is the proof that no legal setting has it."""
        found = self.here.best(self._prices, NO_LIMITS.exactly(self.core, core))
        return None if found is None else self._speed(found)

    def best(self, beside: Fraction, slowest: Fraction | None) -> Speed | None:
        """The core clock of least charge, with a further current beside, from a slowest core clock on."""
        limits = NO_LIMITS if slowest is None else NO_LIMITS.above(self.core, slowest, True)
        found = self.here.best(self._prices, limits)
        while found is not None:
            charge = (found.judgement.current.typical + beside) / self._core_of(found)
            toll = Prices(once=beside, lines={self.core: (0, -charge)})
            better = self.here.best(lambda problem, toll=toll: self._prices(problem).plus(toll), limits)  # type: ignore[misc]
            if better is None or better.cost >= 0:
                return self._speed(found)
            found = better
        return None

    def spread(self, most: int) -> tuple[list[Fraction], bool]:
        """Core clocks, the fastest first: all there are, or so many evenly on a logarithmic axis; whether all."""
        found: list[Fraction] = []
        speed = self.highest()
        while speed is not None and len(found) < most:
            found.append(speed[0])
            speed = self.highest(NO_LIMITS.below(self.core, found[-1]))
        return found, speed is None

    def _prices(self, problem: Problem) -> Prices:
        return current_prices(problem.part, problem.plan, problem.step)

    def _core_of(self, found: Found) -> Fraction:
        return found.judgement.clocks[self.core].nominal

    def _speed(self, found: Found) -> Speed:
        return self._core_of(found), found.judgement.current.typical, lambda: found
