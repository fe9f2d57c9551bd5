"""A plan written back into the shape it is read from; it reads back as the same plan."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from wheelwork.part.nodes import Part, Value
from wheelwork.plan.links import write_link
from wheelwork.plan.plan import PLAN_FORMAT, Fitted, Plan, Target
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.spans import write_temperatures, write_tolerance
from wheelwork.quantities.units import FREQUENCY, SHARE, VOLTAGE, write_quantity


def write_plan(plan: Plan, part: Part) -> dict[str, Any]:
    """The plan as JSON's shape of a plan file; what is empty is left out."""
    written: dict[str, Any] = {
        "format": PLAN_FORMAT,
        "name": plan.name,
        "part": plan.part,
        "kept": plan.kept,
        "core_voltage": plan.core_voltage,
        "wait_states": plan.wait_states,
        "supply": None if plan.supply is None else write_quantity(plan.supply, VOLTAGE),
        "temperature": None if plan.temperature is None else write_temperatures(plan.temperature),
        "in_use": list(plan.in_use),
        "keep_running": list(plan.keep_running),
        "owner": plan.owner,
        "board_name": plan.board_name,
        "board_revision": plan.board_revision,
        "held": list(plan.held),
        "board": {name: _write_fitted(fitted) for name, fitted in plan.fitted.items()},
        "set": write_settings(plan.settings, part),
        "target": [write_target(target) for target in plan.targets],
        "link": [write_link(link) for link in plan.links],
        "phase": [dict(phase.raw) for phase in plan.phases],
        "battery": {} if plan.battery is None else dict(plan.battery.raw),
    }
    return {key: value for key, value in written.items() if value not in (None, "", [], {})}


def write_settings(settings: Mapping[str, Value], part: Part) -> dict[str, Any]:
    """Settings by key as a plan's `set` table: a PLL's factors in a table of their own."""
    written: dict[str, Any] = {}
    for key, value in settings.items():
        head, _, factor = key.partition(".")
        if factor:
            written.setdefault(head, {})[factor] = _write_ratio(value)
        elif part.nodes[head].kind == "oscillator" and isinstance(value, Fraction):
            written[head] = write_quantity(value, FREQUENCY)
        else:
            written[head] = _write_ratio(value)
    return written


def _write_ratio(value: Value) -> int | str:
    if isinstance(value, str):
        return value
    return int(value) if value.denominator == 1 else write_exact(value)


def _write_fitted(fitted: Fitted) -> dict[str, str]:
    written = {}
    if fitted.frequency is not None:
        written["frequency"] = write_quantity(fitted.frequency, FREQUENCY)
    if fitted.tolerance is not None:
        written["tolerance"] = write_tolerance(fitted.tolerance)
    return written


def write_target(target: Target) -> dict[str, str]:
    """A target as a table of a plan's `target` list."""
    written = {"node": target.node}
    for name in ("frequency", "at_least", "at_most"):
        value = getattr(target, name)
        if value is not None:
            written[name] = write_quantity(value, FREQUENCY)
    if target.within is not None:
        written["within"] = write_quantity(target.within, SHARE)
    return written
