"""A plan's values, frozen; a change gives a new plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from wheelwork.part.nodes import Part, Value
from wheelwork.plan.links import Link
from wheelwork.plan.phases import Battery, Phase
from wheelwork.quantities.spans import Span

PLAN_FORMAT = "wheelwork-plan/1"


@dataclass(frozen=True, slots=True)
class Fitted:
    """What the board has for an oscillator: its frequency where the sheet leaves it open, its tolerance if known."""

    frequency: Fraction | None = None
    tolerance: Span | None = None


@dataclass(frozen=True, slots=True)
class Target:
    """A wanted frequency on a node: exactly, within a share, at least or at most (hertz)."""

    node: str
    frequency: Fraction | None = None
    within: Fraction | None = None
    at_least: Fraction | None = None
    at_most: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The settings chosen for one board with one part.

    `settings` holds what was chosen, by key (`core_source`, `main.feedback`, `fast_rc`); a key left out has its reset
    value (`value`). `wait_states` None follows the flash table. `supply` is in volts, `temperature` in °C. `kept` is
    the revision of the shelf that the plan was opened as, `skerry-3/7`.
    """

    name: str = ""
    part: str = ""
    kept: str = ""
    core_voltage: str
    wait_states: int | None = None
    supply: Fraction | None = None
    temperature: Span | None = None
    in_use: tuple[str, ...] = ()
    keep_running: tuple[str, ...] = ()
    owner: str = ""
    board_name: str = ""
    board_revision: str = ""
    held: tuple[str, ...] = ()
    fitted: Mapping[str, Fitted] = field(default_factory=dict)
    settings: Mapping[str, Value] = field(default_factory=dict)
    targets: tuple[Target, ...] = ()
    links: tuple[Link, ...] = ()
    phases: tuple[Phase, ...] = ()
    battery: Battery | None = None

    def with_settings(self, changes: Mapping[str, Value]) -> Plan:
        """The plan with some settings changed."""
        return replace(self, settings={**self.settings, **changes})

    def at_step(self, core_voltage: str, wait_states: int | None = None) -> Plan:
        """The plan at another core-voltage step, wait states as given or following the table."""
        return replace(self, core_voltage=core_voltage, wait_states=wait_states)

    def complete(self, part: Part) -> dict[str, Value]:
        """Every setting of the part: what the plan chooses, else the reset value."""
        return {**part.resets, **self.settings}
