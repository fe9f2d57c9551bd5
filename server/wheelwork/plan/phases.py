"""Phases of a duty cycle and the battery, read from a plan and held against its part.

A phase runs as the plan does, or in a low-power mode, or with other settings; it lasts a time or so many core clocks,
once in `every`; one that says neither takes what time is left. `draws` are what hangs on the board beside the chip.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from wheelwork.findings import Problem, Unreadable, name_list, quote
from wheelwork.links.fields import Fields, Refused
from wheelwork.part.faults import Gatherer
from wheelwork.part.nodes import Part
from wheelwork.plan.cells import CELLS
from wheelwork.quantities.spans import Span, read_span
from wheelwork.quantities.units import CAPACITANCE, CHARGE, CURRENT, RESISTANCE, SHARE, TIME, VOLTAGE, read_quantity

RUN = "run"
PINS = ("each", "strong")
MOST_CYCLES = 10**15
MOST_DRAWS = 32
OTHER_KEYS = ("core_voltage", "wait_states", "set", "in_use", "keep_running")
"""What of a plan may be otherwise in a phase."""


@dataclass(frozen=True, slots=True)
class Draw:
    """What else draws in a phase: a name, its current (A), and the kind of pin that feeds it (empty: none does)."""

    of: str
    current: Fraction
    pin: str = ""


@dataclass(frozen=True, slots=True)
class Phase:
    """A phase of a duty cycle; times in seconds. `raw` is the table as it was written."""

    name: str
    mode: str = RUN
    lasts: Fraction | None = None
    cycles: int | None = None
    every: Fraction | None = None
    plan: Mapping[str, Any] = field(default_factory=dict)
    draws: tuple[Draw, ...] = ()
    needs: tuple[str, ...] | None = None
    raw: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Battery:
    """A battery: cells in series, capacity (C) as a span, shares, volts, ohm, ampere, farad; None: not stated."""

    cell: str = ""
    series: int = 1
    capacity: Span | None = None
    usable: Span | None = None
    self_discharge: Fraction | None = None
    ends_at: Fraction | None = None
    resistance: Fraction | None = None
    peak: Fraction | None = None
    pulse: Fraction | None = None
    capacitor: Fraction | None = None
    raw: Mapping[str, Any] = field(default_factory=dict)


def hold_phases(gatherer: Gatherer, tables: Iterable[Mapping[str, Any]], part: Part) -> tuple[Phase, ...]:
    """The phases of a plan; what cannot be read, or is not on the sheet, is noted in the gatherer."""
    held = []
    for place, table in enumerate(tables):
        try:
            held.append(_read_phase(Fields(table, f"phase.{place}"), part))
        except Refused as refused:
            for problem in refused.problems:
                gatherer.note(problem)
    return tuple(held)


def _read_phase(fields: Fields, part: Part) -> Phase:
    name = fields.need("name", _read_name, 'a name such as "Take a sample"')
    mode = fields.word("mode", (RUN, *part.modes), RUN)
    lasts, every = fields.quantity("lasts", TIME), fields.quantity("every", TIME)
    cycles = fields.whole("cycles", 1, MOST_CYCLES)
    nothing: Mapping[str, Any] = {}
    none: tuple[Draw, ...] = ()
    plan, draws = fields.take("plan", _read_other, nothing), fields.take("draws", _read_draws, none)
    needs = fields.take("needs", lambda raw: _read_needs(raw, part), None)
    where = fields.where
    if lasts is not None and cycles is not None:
        fields.problems.append(Problem(f"{where}.cycles", "stands beside lasts", "write one of the two"))
    if cycles is not None and mode not in (RUN, None):
        fields.problems.append(Problem(f"{where}.cycles", f"nothing is worked in {mode}", "write lasts"))
    if plan and mode not in (RUN, None):
        fields.problems.append(
            Problem(f"{where}.plan", f"{mode} has no settings", 'leave it out, or write mode = "run"')
        )
    if lasts is not None and every is not None and lasts > every:
        fields.problems.append(Problem(f"{where}.lasts", "is longer than every", "let it last at most that long"))
    fields.finish()
    return Phase(name or "", mode or RUN, lasts, cycles, every, plan, draws, needs, dict(fields.raw))


def _read_name(raw: Any) -> str:
    if not isinstance(raw, str) or not raw.strip() or len(raw) > 200:
        raise Unreadable(f"{quote(raw)} is no name", "write one of at most 200 characters")
    return raw.strip()


def _read_other(raw: Any) -> Mapping[str, Any]:
    if not isinstance(raw, Mapping):
        raise Unreadable(f"{quote(raw)} is no table", 'write what is otherwise, such as { core_voltage = "low" }')
    unknown = [key for key in raw if key not in OTHER_KEYS]
    if unknown:
        raise Unreadable(f"{quote(unknown[0])} cannot be otherwise in a phase", f"{name_list(list(OTHER_KEYS))} can")
    return dict(raw)


def _read_draws(raw: Any) -> tuple[Draw, ...]:
    if not isinstance(raw, list) or len(raw) > MOST_DRAWS:
        raise Unreadable(
            f"{quote(raw)} is no list of at most {MOST_DRAWS}", 'write [{ of = "radio", current = "29 mA" }]'
        )
    return tuple(_read_draw(each) for each in raw)


def _read_draw(raw: Any) -> Draw:
    if not isinstance(raw, Mapping) or set(raw) - {"of", "current", "pin"} or not {"of", "current"} <= set(raw):
        raise Unreadable(
            f"{quote(raw)} is not what draws", 'write { of = "radio", current = "29 mA" }, perhaps with pin'
        )
    pin = raw.get("pin", "")
    if pin not in ("", *PINS):
        raise Unreadable(f"{quote(pin)} is no kind of pin", f"{name_list(list(PINS))} are")
    return Draw(_read_name(raw["of"]), read_quantity(raw["current"], CURRENT), pin)


def _read_needs(raw: Any, part: Part) -> tuple[str, ...]:
    loads = [load.id for load in part.loads]
    if not isinstance(raw, list) or any(each not in loads for each in raw):
        raise Unreadable(f"{quote(raw)} is no list of loads", f"{name_list(loads)} are")
    return tuple(dict.fromkeys(raw))


def hold_battery(gatherer: Gatherer, table: Mapping[str, Any]) -> Battery | None:
    """The battery of a plan; None where it names none."""
    if not table:
        return None
    fields = Fields(table, "battery")
    battery = Battery(
        cell=fields.word("cell", tuple(CELLS), "") or "",
        series=fields.whole("series", 1, 100, 1) or 1,
        capacity=fields.take("capacity", lambda raw: _read_above_zero(raw), None),
        usable=fields.take("usable", _read_shares, None),
        self_discharge=fields.take("self_discharge", _read_share, None),
        ends_at=fields.quantity("ends_at", VOLTAGE),
        resistance=fields.quantity("resistance", RESISTANCE),
        peak=fields.quantity("peak", CURRENT),
        pulse=fields.quantity("pulse", TIME),
        capacitor=fields.quantity("capacitor", CAPACITANCE),
        raw=dict(table),
    )
    if not battery.cell and battery.capacity is None and "cell" not in table and "capacity" not in table:
        fields.problems.append(
            Problem("battery", "says neither cell nor capacity", 'write cell = "CR2032" or capacity = "225 mAh"')
        )
    if battery.capacitor is not None and battery.pulse is None and "pulse" not in table:
        fields.problems.append(
            Problem("battery.pulse", "is missing beside a capacitor", "write how long the peak lasts")
        )
    try:
        fields.finish()
    except Refused as refused:
        for problem in refused.problems:
            gatherer.note(problem)
    return battery


def _read_above_zero(raw: Any) -> Span:
    span = read_span(raw, CHARGE)
    if span.lowest <= 0:
        raise Unreadable(f"{quote(raw)} is not above zero", f"write one above zero, such as {CHARGE.example}")
    return span


def _read_shares(raw: Any) -> Span:
    span = read_span(raw, SHARE)
    if not 0 < span.lowest <= span.highest <= 1:
        raise Unreadable(f"{quote(raw)} is no share of a cell", "write one above 0 % and at most 100 %")
    return span


def _read_share(raw: Any) -> Fraction:
    share = read_quantity(raw, SHARE)
    if not 0 <= share < 1:
        raise Unreadable(f"{quote(raw)} is no share a year", "write one from 0 % to below 100 %, such as 1 %")
    return share
