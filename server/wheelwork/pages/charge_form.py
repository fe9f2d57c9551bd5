"""The posted form of the Charge page: phases and battery as they are typed, to a plan with the last right values."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from wheelwork.findings import Problem
from wheelwork.pages.form import read_form
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan

PHASE_KEYS = ("name", "mode", "lasts", "every", "draws")
BATTERY_KEYS = (
    "cell",
    "series",
    "capacity",
    "usable",
    "self_discharge",
    "ends_at",
    "resistance",
    "peak",
    "pulse",
    "capacitor",
)
PLAN_KEYS = ("supply", "core_voltage", "temperature")
MOST_PHASES = 64
_CLOCKS = re.compile(r"([\d\s\u2009\u00a0]+)\s*(?:core\s+)?(?:clocks?|cycles?)", re.I)
Raw = dict[str, Any]


@dataclass(frozen=True, slots=True)
class ChargeRead:
    """A form that was read: the plan that counts, what was typed, and what of it cannot be taken by its field."""

    plan: Plan
    typed: Mapping[str, str]
    told: Mapping[str, str]


def read_charge_form(part: Part, before: Plan, fields: Mapping[str, str]) -> ChargeRead:
    """The plan of a form. What cannot be taken keeps what was typed, and its last right value counts."""
    plain = read_form(part, before, {key: value for key, value in fields.items() if key in PLAN_KEYS})
    told = {key: text for key, text in plain.faults.told.items() if text}
    plan = plain.plan
    raw = write_plan(plan, part)
    for place, phase in enumerate(raw.get("phase", [])):
        given = {key: fields[f"phase.{place}.{key}"] for key in PHASE_KEYS if f"phase.{place}.{key}" in fields}
        if given:
            tried = {**raw, "phase": [*raw["phase"][:place], _phase(phase, given), *raw["phase"][place + 1 :]]}
            raw, found = _try(part, raw, tried)
            told |= dict(_at_fields(found, f"phase.{place}", given))
    given = {key: fields[f"battery.{key}"] for key in BATTERY_KEYS if f"battery.{key}" in fields}
    if given:
        raw, found = _try(part, raw, {**raw, "battery": _battery(raw.get("battery", {}), given)})
        told |= dict(_at_fields(found, "battery", given))
    made, _ = read_plan(raw, part)
    return ChargeRead(plan if made is None else made, dict(fields), told)


def _try(part: Part, before: Raw, tried: Raw) -> tuple[Raw, list[Problem]]:
    plan, problems = read_plan(tried, part)
    return (before, problems) if plan is None else (tried, [])


def _phase(before: Raw, given: Mapping[str, str]) -> Raw:
    """A phase as it is typed: `lasts` is a time, so many clocks, or nothing for what is left."""
    phase = {key: value for key, value in before.items() if key not in given and key != "cycles"}
    if "lasts" not in given and "cycles" in before:
        phase["cycles"] = before["cycles"]
    for key in ("name", "every"):
        if given.get(key, "").strip():
            phase[key] = given[key].strip()
    if given.get("mode", "run") != "run":
        phase["mode"] = given["mode"]
    lasts = given.get("lasts", "").strip()
    clocks = _CLOCKS.fullmatch(lasts)
    if clocks:
        phase["cycles"] = int(re.sub(r"\D", "", clocks[1]) or "0")
    elif lasts:
        phase["lasts"] = lasts
    draws = given.get("draws", "").strip()
    if draws:
        phase["draws"] = list(_draws(draws))
    return phase


def _draws(text: str) -> Iterator[Any]:
    """What draws, as it is typed: `radio 29 mA, lamp 8 mA (strong)`."""
    for each in re.split(r"[,;]", text):
        found = re.fullmatch(r"\s*(.*?)\s*(\d[\d.]*\s*\S+?)\s*(?:\((each|strong)\))?\s*", each)
        if found is None:
            yield each.strip()
        else:
            yield {"of": found[1] or "board", "current": found[2], **({"pin": found[3]} if found[3] else {})}


def write_draws(draws: Any) -> str:
    """The same as text."""
    return ", ".join(_write_draw(each) for each in draws or ())


def _write_draw(draw: Mapping[str, Any]) -> str:
    pin = f" ({draw['pin']})" if draw.get("pin") else ""
    return f"{draw['of']} {draw['current']}{pin}"


def _battery(before: Raw, given: Mapping[str, str]) -> Raw:
    battery = {key: value for key, value in before.items() if key not in given}
    for key, text in given.items():
        if text.strip():
            battery[key] = int(text) if key == "series" and text.strip().isdecimal() and len(text) < 5 else text.strip()
    return {} if set(battery) <= {"series"} else battery


def _at_fields(problems: list[Problem], head: str, given: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """What is wrong, by the field in which it stands; by the first one where none shows it."""
    for problem in problems:
        key = problem.where.removeprefix(f"{head}.").partition(".")[0]
        key = {"cycles": "lasts"}.get(key, key)
        yield f"{head}.{key if key in given else next(iter(given))}", f"{problem.what}; {problem.allowed}"


def add_phase(part: Part, plan: Plan) -> Plan:
    """The plan with a phase more: one that takes what time is left."""
    raw = write_plan(plan, part)
    mode = next(iter(part.modes), "run")
    title = part.modes[mode].title if mode in part.modes else "Run"
    first = not raw.get("phase")
    fresh: Raw = {"name": "Work", "lasts": "1 ms", "every": "1 s"} if first else {"name": title, "mode": mode}
    made, _ = read_plan({**raw, "phase": [*raw.get("phase", []), fresh]}, part)
    return plan if made is None or len(made.phases) > MOST_PHASES else made


def drop_phase(part: Part, plan: Plan, place: int) -> Plan:
    """The plan without one of its phases."""
    raw = write_plan(plan, part)
    made, _ = read_plan({**raw, "phase": [each for n, each in enumerate(raw.get("phase", [])) if n != place]}, part)
    return plan if made is None else made
