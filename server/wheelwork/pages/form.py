"""The posted form of the Plan page: fields to a plan, with the last right value where one cannot be taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import parse_qsl, unquote_plus

from wheelwork.clocks.propagate import unfitted
from wheelwork.findings import Problem
from wheelwork.pages.controls import Faults
from wheelwork.part.nodes import Oscillator, Part, Pll
from wheelwork.plan.permalink import LONGEST
from wheelwork.plan.plan import Fitted, Plan
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan

PLAIN_FIELDS = ("name", "owner", "board_name", "board_revision", "supply", "temperature", "core_voltage")
MOST_TRIES = 3
MOST_FIELDS = 4000
LONGEST_FIELD = LONGEST
LARGEST_FORM = 256 * 1024
"""The largest part has 700 controls; plan, `opened` and `before` carry an address each, and nothing else is long."""


@dataclass(frozen=True, slots=True)
class FormRead:
    """A form read against the plan it started from: the plan that counts now, and the fields that cannot be taken."""

    plan: Plan
    faults: Faults
    problems: tuple[Problem, ...]


def read_fields(body: bytes) -> tuple[dict[str, str], Problem | None]:
    """The fields of a form as a browser posts it, or the first thing that is too much of it.

    It is measured before anything is decoded, which for a million signs takes a second.

    >>> read_fields(b"set.core=2&name=Tide+gauge")
    ({'set.core': '2', 'name': 'Tide gauge'}, None)
    """
    pieces = body.split(b"&")
    if len(pieces) > MOST_FIELDS:
        return {}, Problem("form", f"it has {len(pieces)} fields", f"at most {MOST_FIELDS} are read")
    longest = max(pieces, key=len)
    if len(longest) > LONGEST_FIELD:
        name, _, value = longest.partition(b"=")
        place = unquote_plus(name[:200].decode("ascii", "replace")) or "form"
        return {}, Problem(place, f"it is {len(value)} bytes long", f"at most {LONGEST_FIELD} are read")
    if len(body) > LARGEST_FORM:
        return {}, Problem("form", f"it is {len(body)} bytes long", f"at most {LARGEST_FORM} are read")
    return dict(parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True)), None


def read_form(part: Part, before: Plan, fields: Mapping[str, str]) -> FormRead:
    """The plan of a form. A field that cannot be taken keeps what was typed, and its last right value counts."""
    shown = write_plan(before, part)
    raw = raw_plan(part, shown, fields)
    taken = dict(fields)
    told: dict[str, str] = {}
    problems: list[Problem] = []
    for _ in range(MOST_TRIES):
        plan, found = read_plan(raw, part)
        if plan is not None:
            found = unfitted(part, plan)
            if not found:
                faults = Faults({name: fields[name] for name in told if name in fields}, told)
                return FormRead(without_resets(plan, part), faults, tuple(problems))
            told |= {problem.where: f"{problem.what}; {problem.allowed}" for problem in found}
            return FormRead(before, Faults(_differing(part, before, fields), told), tuple(found))
        problems += found
        told |= {field_of(problem): f"{problem.what}; {problem.allowed}" for problem in found}
        taken = {name: text for name, text in taken.items() if name not in told}
        raw = raw_plan(part, shown, taken)
    return FormRead(before, Faults(dict(fields), told), tuple(problems))


def field_of(problem: Problem) -> str:
    """The field at which a problem stands."""
    if problem.where.startswith(("in_use", "keep_running")):
        return problem.where.partition(".")[0]
    return problem.where


def _differing(part: Part, before: Plan, fields: Mapping[str, str]) -> dict[str, str]:
    """What was typed, for every control of a plan that cannot be reckoned as a whole."""
    return {name: text for name, text in fields.items() if name.startswith(("set.", "use.", "board.", "keep."))}


def raw_plan(part: Part, shown: Mapping[str, Any], fields: Mapping[str, str]) -> dict[str, Any]:
    """The shape of a plan: what was shown, overlaid with the fields."""
    raw: dict[str, Any] = {**shown, "set": _copy_settings(shown), "board": _copy_board(shown)}
    for name in PLAIN_FIELDS:
        if name in fields:
            _set_or_drop(raw, name, fields[name].strip())
    if "wait_states" in fields:
        text = fields["wait_states"].strip()
        raw.pop("wait_states", None)
        if text:
            raw["wait_states"] = int(text) if text.isdecimal() and len(text) < 6 else text
    raw["in_use"] = _listed(shown.get("in_use", []), fields, "use.")
    raw["keep_running"] = _listed(shown.get("keep_running", []), fields, "keep.")
    for name, text in fields.items():
        head, _, key = name.partition(".")
        if head == "set" and key:
            _set_setting(part, raw["set"], key, text.strip())
        elif head == "board" and key.count(".") == 1:
            oscillator, _, what = key.partition(".")
            _set_or_drop(raw["board"].setdefault(oscillator, {}), what, text.strip())
    raw["board"] = {name: fitted for name, fitted in raw["board"].items() if fitted}
    return raw


def _copy_settings(shown: Mapping[str, Any]) -> dict[str, Any]:
    return {key: dict(value) if isinstance(value, dict) else value for key, value in shown.get("set", {}).items()}


def _copy_board(shown: Mapping[str, Any]) -> dict[str, dict[str, str]]:
    return {key: dict(value) for key, value in shown.get("board", {}).items()}


def _set_or_drop(table: dict[str, Any], key: str, text: str) -> None:
    table.pop(key, None)
    if text:
        table[key] = text


def _set_setting(part: Part, settings: dict[str, Any], key: str, text: str) -> None:
    """Set a value where the key says: a PLL's factors in its table, all else by its key, for the reader to judge."""
    head, _, factor = key.partition(".")
    if not isinstance(part.nodes.get(head), Pll):
        settings[key] = text
    elif factor:
        settings.setdefault(head, {})[factor] = text
    else:
        settings[f"{head}."] = text


def _listed(shown: list[str], fields: Mapping[str, str], head: str) -> list[str]:
    """Names in use: those shown, with what the form says of each."""
    said = {name.removeprefix(head): text for name, text in fields.items() if name.startswith(head)}
    kept = [name for name in shown if said.get(name, "yes") == "yes"]
    return kept + [name for name, text in said.items() if text == "yes" and name not in shown]


def without_resets(plan: Plan, part: Part) -> Plan:
    """The plan without settings that only repeat the reset value, so that its address stays short."""
    settings = {key: value for key, value in plan.settings.items() if part.resets[key] != value}
    return replace(plan, settings=settings)


def fresh_plan(part: Part, part_id: str, before: Plan | None = None) -> Plan:
    """A first plan on a part: its reset settings, no load in use, sources fitted where the reset way needs one."""
    plan = Plan(
        name=f"New plan on {part.name}",
        part=part_id,
        core_voltage=part.reset_step,
        supply=before.supply if before is not None else None,
        temperature=before.temperature if before is not None else None,
        owner=before.owner if before is not None else "",
    )
    needed = [problem.where.split(".")[1] for problem in unfitted(part, plan)]
    return replace(plan, fitted={name: _first_fitting(part, name) for name in needed})


def _first_fitting(part: Part, name: str) -> Fitted:
    node = part.nodes[name]
    if not isinstance(node, Oscillator) or node.fitted is None:
        raise TypeError(f"{name} is not fitted on the board")
    edge = node.fitted.lowest or node.fitted.highest
    return Fitted(node.fits[0] if node.fits else edge)
