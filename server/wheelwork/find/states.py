"""A state of the settings while mends are tried: its clocks, and every place at which it can be outside.

A *place* is a window, a phase detector's window, a rule or the end of the wait-state table. Each says by which factor
its clock may be multiplied before an edge is reached; a setting moves the places downstream of it together. Factors
are kept as natural logarithms in floats with a guard, only to leave out what cannot do; what is offered is tried
exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from math import inf, log

from wheelwork.clocks.propagate import Clock, Way, find_way, propagate, unfitted
from wheelwork.judge.judgement import clocks_fit, detector_clock, rules_hold, supply_suits
from wheelwork.part.nodes import Part, Pll, Scaler, Step, Value
from wheelwork.plan.plan import Plan
from wheelwork.power.wait_states import last_row, needed_wait_states
from wheelwork.quantities.spans import Window

GUARD = 1e-9


@dataclass(frozen=True, slots=True)
class Place:
    """Where a state can be outside: the node above or at it, and how far its clock may go down and up (logarithms).

    `against` is the other clock of a rule, which moves the other way.
    """

    node: str
    detector: bool
    down: float
    up: float
    against: str | None = None

    @property
    def outside(self) -> bool:
        """Whether the place is outside already (with the guard on the careful side)."""
        return self.down > GUARD or self.up < -GUARD


def logarithm(value: Fraction) -> float:
    """The natural logarithm of a positive rational, however large its terms."""
    return log(value.numerator) - log(value.denominator)


@dataclass
class State:
    """Settings at a core-voltage step, with what runs under them. `moved` are the settings changed from the plan's."""

    part: Part
    plan: Plan
    settings: Mapping[str, Value]
    step: Step
    moved: Mapping[str, Value] = field(default_factory=dict)

    @classmethod
    def of(cls, part: Part, plan: Plan) -> State:
        """The state a plan is in."""
        return cls(part, plan, plan.complete(part), part.step(plan.core_voltage))

    def moved_to(self, changes: Mapping[str, Value], step: Step | None = None) -> State:
        """The state after some settings changed, perhaps at another step."""
        return State(self.part, self.plan, {**self.settings, **changes}, step or self.step, {**self.moved, **changes})

    @cached_property
    def way(self) -> Way:
        """What runs."""
        return find_way(self.part, self.plan, self.settings)

    @cached_property
    def can_run(self) -> bool:
        """Whether every oscillator in use is fitted."""
        return not unfitted(self.part, self.plan.with_settings(self.moved))

    @cached_property
    def clocks(self) -> dict[str, Clock]:
        """The clocks that run."""
        return propagate(self.part, self.plan, self.settings, self.way)

    @cached_property
    def needed(self) -> int | None:
        """The wait states needed."""
        flash = self.clocks[self.part.flash_clock]
        return needed_wait_states(self.step, flash, self.plan.supply, self.part.with_tolerance)

    @property
    def wait_states(self) -> int | None:
        """The wait states to set so that they suffice; None where the plan's own do."""
        chosen = self.plan.wait_states
        return None if chosen is None or self.needed is None or chosen >= self.needed else self.needed

    @cached_property
    def legal(self) -> bool:
        """Whether everything holds but, perhaps, the plan's own wait states."""
        plan = self.plan
        return (
            self.can_run
            and supply_suits(self.part, self.step, plan)
            and clocks_fit(self.part, self.step, plan, self.settings, self.way, self.clocks)
            and rules_hold(self.part, self.clocks)
        )

    @cached_property
    def places(self) -> list[Place]:
        """Every place of the state, feeders first."""
        return [*self._window_places(), *self._rule_places(), *self._flash_places()]

    def _window_places(self) -> Iterator[Place]:
        for name in self.way.order:
            node = self.part.nodes[name]
            if isinstance(node, Pll):
                clock = detector_clock(node, self.settings, self.clocks[node.input])
                yield from self._place(name, True, clock, node.phase_detector_window(self.step.id))
            yield from self._place(name, False, self.clocks[name], node.window(self.step.id))

    def _place(self, name: str, detector: bool, clock: Clock, window: Window | None) -> Iterator[Place]:
        if window is not None:
            tolerant = window.accuracy or self.part.with_tolerance
            low, high = (clock.lowest, clock.highest) if tolerant else (clock.nominal, clock.nominal)
            down = -inf if window.lowest is None else logarithm(window.lowest) - logarithm(low)
            up = inf if window.highest is None else logarithm(window.highest) - logarithm(high)
            yield Place(name, detector, down, up)

    def _rule_places(self) -> Iterator[Place]:
        for rule in self.part.rules:
            node, of = self.clocks.get(rule.node), self.clocks.get(rule.of)
            if node is None or of is None:
                continue
            share = logarithm(node.nominal) - logarithm(of.nominal)
            up = inf if rule.at_most is None else logarithm(rule.at_most) - share
            down = -inf if rule.at_least is None else logarithm(rule.at_least) - share
            yield Place(rule.node, False, down, up, rule.of)

    def _flash_places(self) -> Iterator[Place]:
        if self.step.flash:
            row = last_row(self.step, self.plan.supply)
            yield self._flash_place(None if row is None else row.up_to)

    def _flash_place(self, bound: Fraction | None) -> Place:
        flash = self.clocks[self.part.flash_clock]
        frequency = flash.highest if self.part.with_tolerance else flash.nominal
        up = -inf if bound is None else logarithm(bound) - logarithm(frequency)
        return Place(self.part.flash_clock, False, -inf, up)

    def chosen_wait_states_place(self) -> Place | None:
        """How fast the flash clock may be with the plan's own wait states; None where they follow the table."""
        chosen = self.plan.wait_states
        if chosen is None or not self.step.flash:
            return None
        plan = self.plan
        rows = [
            row.up_to
            for row in self.step.flash
            if row.wait_states <= chosen
            and (row.supply is None or (plan.supply is not None and plan.supply in row.supply))
        ]
        return self._flash_place(max(rows, default=None))

    def upstream(self, name: str) -> Iterator[str]:
        """A running node and the nodes that feed it, up to its oscillator."""
        current: str | None = name
        while current is not None:
            yield current
            current = self.way.feeder.get(current)

    @cached_property
    def conditions(self) -> frozenset[str]:
        """Dividers on which the factor of a running scaler depends."""
        running = (self.part.nodes[name] for name in self.way.order)
        return frozenset(node.when_divider for node in running if isinstance(node, Scaler) and node.when_divider)
