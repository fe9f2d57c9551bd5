"""From a plan's text or JSON to a plan that its part sheet allows, or to all its problems at once."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from pydantic import ValidationError

from wheelwork.findings import Problem, Unreadable, name_list, nearest, quote
from wheelwork.part.faults import EXAMPLES, Enough, Gatherer, tell_faults, tell_most
from wheelwork.part.lines import find_lines, line_of
from wheelwork.part.nodes import FACTORS, Divider, Load, Node, Oscillator, Part, Pll, Selector, Value
from wheelwork.part.reading import path_of
from wheelwork.part.text import find_excess, read_toml
from wheelwork.plan.links import hold_links
from wheelwork.plan.phases import hold_battery, hold_phases
from wheelwork.plan.plan import Fitted, Plan
from wheelwork.plan.schema import PlanTable
from wheelwork.plan.targets import hold_targets
from wheelwork.quantities.ratios import RatioSet, read_ratio
from wheelwork.quantities.spans import say_window
from wheelwork.quantities.units import FREQUENCY, read_frequency, say_frequency, write_quantity

LARGEST_PLAN = 256 * 1024
MOST_VALUES = 6_000


def read_plan_text(text: str) -> tuple[dict[str, Any] | None, list[Problem]]:
    """The raw plan from its TOML text; it still has to meet its sheet (`read_plan`)."""
    return read_toml(text, "plan", LARGEST_PLAN)


def add_lines(problems: list[Problem], text: str) -> list[Problem]:
    """The problems of a plan, each with the line of its text at which its place stands."""
    lines = find_lines(text) if problems else {}
    return [replace(problem, line=line_of(lines, path_of(problem.where))) for problem in problems]


def read_plan(raw: object, part: Part) -> tuple[Plan | None, list[Problem]]:
    """A plan that the part allows, from the shape of a plan file; else every problem with its place."""
    if not isinstance(raw, dict):
        return None, [Problem("plan", f"{quote(raw)} is no table", "a plan is a table with name, part, set, …")]
    excess = find_excess(raw, "plan", MOST_VALUES)
    if excess is not None:
        return None, [excess]
    if isinstance(raw.get("board"), str):
        raw = {**{key: value for key, value in raw.items() if key != "board"}, "board_name": raw["board"]}
    try:
        table = PlanTable.model_validate(raw)
    except ValidationError as fault:
        return None, tell_faults(fault, PlanTable, EXAMPLES)
    reader = _Reader(table, part)
    with suppress(Enough):
        plan = reader.read()
    return (None, tell_most(reader.problems, "plan")) if reader.problems else (plan, [])


@dataclass
class _Reader(Gatherer):
    """Holds a plan's table against its part and gathers what the part does not offer."""

    table: PlanTable
    part: Part

    def read(self) -> Plan:
        """The plan; what is wrong is in `problems` afterwards."""
        table = self.table
        return Plan(
            name=table.name,
            part=table.part,
            kept=table.kept,
            core_voltage=self._step(table.core_voltage),
            wait_states=table.wait_states,
            supply=table.supply,
            temperature=table.temperature,
            in_use=self._known("in_use", table.in_use, [load.id for load in self.part.loads], "load"),
            keep_running=self._known("keep_running", table.keep_running, list(self.part.nodes), "node"),
            owner=table.owner,
            board_name=table.board_name,
            board_revision=table.board_revision,
            held=self._known("held", table.held, [*self.part.resets, *self.part.nodes, "core_voltage"], "setting"),
            fitted={name: fitted for name in table.board if (fitted := self._fitted(name)) is not None},
            settings=self._settings(),
            targets=hold_targets(self, table.target, self.part, "target"),
            links=hold_links(self, table.link, self.part),
            phases=hold_phases(self, table.phase, self.part),
            battery=hold_battery(self, table.battery),
        )

    def _step(self, name: str | None) -> str:
        steps = [step.id for step in self.part.steps]
        if name is None:
            return self.part.reset_step
        if name not in steps:
            self.fault(
                "core_voltage", f"{quote(name)} is no core-voltage step of {self.part.name}", f"{name_list(steps)} are"
            )
        return name

    def _known(self, where: str, names: list[str], known: list[str], kind: str) -> tuple[str, ...]:
        self.note_unknown(where, names, dict.fromkeys(known), f"{kind} of {self.part.name}")
        return tuple(dict.fromkeys(names))

    def _fitted(self, name: str) -> Fitted | None:
        node, given, where = self.part.nodes.get(name), self.table.board[name], f"board.{name}"
        if not isinstance(node, Oscillator):
            oscillators = [n.id for n in self.part.nodes.values() if isinstance(n, Oscillator)]
            self.note_unknown(where, [name], oscillators, f"oscillator of {self.part.name}")
            return None
        if given.frequency is not None and node.fitted is None:
            own = name_list([write_quantity(choice, FREQUENCY) for choice in node.choices])
            what = f"{node.title} has its own frequency, {own}"
            allowed = (
                f"choose it at set.{name}" if len(node.choices) > 1 else "leave it out; only a tolerance may be given"
            )
            self.fault(f"{where}.frequency", what, allowed)
        if given.frequency is not None and node.fits and given.frequency not in node.fits:
            fits = name_list([write_quantity(choice, FREQUENCY) for choice in node.fits], 20)
            self.fault(f"{where}.frequency", f"{write_quantity(given.frequency, FREQUENCY)} does not fit", f"{fits} do")
        return Fitted(given.frequency, given.tolerance)

    def _settings(self) -> dict[str, Value]:
        settings: dict[str, Value] = {}
        for name, given in self.table.set.items():
            head, _, factor = name.partition(".")
            node = self.part.nodes.get(head)
            if node is None:
                self.note_unknown(f"set.{name}", [head], self._settable(), f"node of {self.part.name}")
            elif isinstance(node, Pll):
                settings.update(self._factors(node, {factor: given} if factor else given))
            elif factor:
                self.fault(f"set.{name}", f"{node.title} has no part settings", f"write it as set.{head}")
            else:
                settings.update(self._setting(node, given))
        return settings

    def _settable(self) -> list[str]:
        return list(dict.fromkeys(key.partition(".")[0] for key in self.part.resets))

    def _setting(self, node: Node, given: object) -> dict[str, Value]:
        where = f"set.{node.id}"
        try:
            match node:
                case Selector():
                    return {node.id: self._input(node, given)}
                case Divider():
                    return {node.id: read_offered(given, node.ratios)}
                case Oscillator():
                    return {node.id: self._choice(node, given)}
            self.fault(where, f"{node.title} has no setting", _no_setting(node))
        except Unreadable as fault:
            self.note(fault.at(where))
        return {}

    def _input(self, node: Selector, given: object) -> str:
        if not isinstance(given, str) or given not in node.inputs:
            like = nearest(given, node.feeders) if isinstance(given, str) else None
            hint = f"did you mean {like}? " if like else ""
            raise Unreadable(f"{quote(given)} is not offered", f"{hint}{name_list(node.feeders)} are")
        return given

    def _choice(self, node: Oscillator, given: object) -> Fraction:
        if node.fitted is not None:
            raise Unreadable(f"{node.title} is fitted on the board", f"write it as board.{node.id}.frequency")
        if len(node.choices) == 1:
            raise Unreadable(
                f"{node.title} has its own frequency, {write_quantity(node.choices[0], FREQUENCY)}", "leave it out"
            )
        frequency = read_frequency(given)
        if frequency not in node.choices:
            choices = name_list([write_quantity(choice, FREQUENCY) for choice in node.choices], 20)
            raise Unreadable(f"{write_quantity(frequency, FREQUENCY)} is not offered", f"{choices} are")
        return frequency

    def _factors(self, node: Pll, given: object) -> dict[str, Value]:
        if not isinstance(given, dict):
            self.fault(f"set.{node.id}", f"{quote(given)} is no table", f"write set.{node.id}.feedback and its like")
            return {}
        offered = {"reference_divider": node.reference_divider, "feedback": node.feedback}
        settings: dict[str, Value] = {}
        for name, value in given.items():
            where = f"set.{node.id}.{name}"
            try:
                if name in offered:
                    settings[f"{node.id}.{name}"] = read_offered(value, offered[name])
                elif name == "fraction":
                    settings[f"{node.id}.fraction"] = _read_fraction(value, node.fraction_of)
                else:
                    self.note_unknown(where, [name], FACTORS, f"factor of {node.title}")
            except Unreadable as fault:
                self.note(fault.at(where))
        return settings


def _no_setting(node: Node) -> str:
    return "name it in in_use to use it" if isinstance(node, Load) else "leave it out"


def read_offered(given: object, offered: RatioSet) -> Fraction:
    """A ratio that is in the set. Raises Unreadable with the set in words.

    >>> from wheelwork.quantities.ratios import read_ratios
    >>> read_offered("4", read_ratios("1..6"))
    Fraction(4, 1)
    """
    ratio = _read_ratio(given, offered.words())
    if ratio not in offered:
        raise Unreadable(
            f"{given if isinstance(given, int) else str(given).strip()[:40]} is not offered", f"{offered.words()} are"
        )
    return ratio


def _read_ratio(given: object, offered: str) -> Fraction:
    """A ratio; what is no number is told with what the setting offers, not with any number."""
    try:
        return read_ratio(given)
    except Unreadable as fault:
        raise Unreadable(fault.what, f"{offered} are offered") from None


def _read_fraction(given: object, fraction_of: int) -> Fraction:
    fraction = _read_ratio(given, f"0 to {fraction_of - 1}")
    if fraction.denominator != 1 or not 0 <= fraction < fraction_of:
        allowed = (
            f"0 to {fraction_of - 1} are" if fraction_of > 1 else "this PLL takes whole factors only; leave it out"
        )
        raise Unreadable(f"{quote(str(given))} is not offered", allowed)
    return fraction


def allowed_words(node: Node, factor: str = "") -> str:
    """What a setting may be, in words: `1 to 6`, `5 MHz, 10 MHz and 20 MHz`, `3 MHz to 38 MHz`."""
    match node:
        case Divider():
            return node.ratios.words()
        case Pll() if factor == "fraction":
            return f"0 to {node.fraction_of - 1}"
        case Pll():
            return (node.reference_divider if factor == "reference_divider" else node.feedback).words()
        case Selector():
            return name_list(node.feeders)
        case Oscillator() if node.fits:
            return name_list([say_frequency(choice) for choice in node.fits], 20)
        case Oscillator() if node.fitted is not None:
            return say_window(node.fitted)
        case Oscillator():
            return name_list([say_frequency(choice) for choice in node.choices], 20)
    return "no setting"


def sheet_in(raw: Mapping[str, Any]) -> str:
    """The part sheet a raw plan names, or nothing."""
    named = raw.get("part")
    return named if isinstance(named, str) else ""
