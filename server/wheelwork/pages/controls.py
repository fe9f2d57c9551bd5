"""The controls of a row: what can be set there, with what stands in it now and what is allowed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from wheelwork.part.nodes import Divider, Load, Oscillator, Part, Pll, Scaler, Selector
from wheelwork.part.outline import OutlineRow
from wheelwork.plan.plan import Plan
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.spans import say_tolerance, say_window
from wheelwork.quantities.units import FREQUENCY, write_quantity

LONGEST_WORDS = 20
"""The longest allowed set that stands beside its field in full."""


@dataclass(frozen=True, slots=True)
class Option:
    """One entry of a choice."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Field:
    """One control. `allowed` says in words what may stand there, `runs` the same for arrow keys (first:last:step)."""

    name: str
    kind: Literal["choice", "ratio", "text"]
    label: str
    value: str = ""
    sign: str = ""
    allowed: str = ""
    runs: str = ""
    options: tuple[Option, ...] = ()
    placeholder: str = ""
    hint: str = ""
    """The id of the words that say what is allowed."""
    in_full: str = ""
    """The allowed set in full, where `allowed` tells it short."""
    fault: str = ""
    still: str = ""
    counted: str = ""
    """The last right value, where something else was typed."""

    @property
    def shown(self) -> str:
        """What stands in the control, as it is read."""
        return next((option.label for option in self.options if option.chosen), "") if self.options else self.value


@dataclass(frozen=True, slots=True)
class Faults:
    """What was typed and cannot be taken: by field name the text as typed, the fault, and what still counts."""

    typed: Mapping[str, str]
    told: Mapping[str, str]

    def mark(self, field: Field) -> Field:
        """The field with what was typed and what is wrong with it, where something is."""
        fault, typed = self.told.get(field.name, ""), self.typed.get(field.name)
        if typed in (None, field.value) and not fault:
            return field
        still = f"The plan still shows {field.sign}{field.shown}." if fault and field.shown else ""
        value = field.value if typed is None else typed
        options = tuple(replace(option, chosen=option.value == value) for option in field.options)
        return replace(field, value=value, options=options, fault=fault, still=still, counted=field.value)


NO_FAULTS = Faults({}, {})


def chooser_field(part: Part, plan: Plan, row: OutlineRow) -> Field | None:
    """The choice under a row's name: of the selector that feeds this row alone."""
    if row.chooser is None:
        return None
    node = part.nodes[row.chooser]
    return _choice(part, plan, node, f"{node.title}: fed from") if isinstance(node, Selector) else None


def _choice(part: Part, plan: Plan, node: Selector, label: str) -> Field:
    chosen = str(plan.settings.get(node.id, node.reset))
    options = tuple(Option(name, part.nodes[name].title, name == chosen) for name in node.feeders)
    return Field(f"set.{node.id}", "choice", label, chosen, options=options)


def row_fields(part: Part, plan: Plan, row: OutlineRow) -> tuple[Field, ...]:
    """The controls of a row's own column; none where there is nothing to set."""
    node = part.nodes[row.node]
    match node:
        case Oscillator():
            return _oscillator_fields(plan, node)
        case Selector():
            return (_choice(part, plan, node, node.title),)
        case Divider():
            return (_ratio(part, plan, row.key, f"{node.title}: divided by", "÷", node.ratios),)
        case Pll() if row.role == "reference_divider":
            return (_ratio(part, plan, row.key, f"{node.title} reference divider", "÷", node.reference_divider),)
        case Pll() if row.role == "feedback":
            return (_ratio(part, plan, row.key, f"{node.title} feedback multiplier", "×", node.feedback),)
        case Pll():
            value = write_exact(Fraction(_setting(part, plan, row.key)))
            words, last = f"0 to {node.fraction_of - 1}", node.fraction_of - 1
            label = f"{node.title} fraction, in parts of {node.fraction_of}"
            hint = f"row-{row.key}-allowed"
            return (Field(f"set.{row.key}", "ratio", label, value, "+", words, f"0:{last}:1", hint=hint),)
        case Load():
            used = node.id in plan.in_use
            options = (Option("yes", "In use", used), Option("no", "Not in use", not used))
            return (
                Field(f"use.{node.id}", "choice", f"{node.title}: in use", "yes" if used else "no", options=options),
            )
    return ()


def _setting(part: Part, plan: Plan, key: str) -> Fraction:
    return Fraction(plan.settings.get(key, part.resets[key]))


def _ratio(part: Part, plan: Plan, key: str, label: str, sign: str, offered: RatioSet) -> Field:
    value = write_exact(_setting(part, plan, key))
    runs = " ".join(f"{run.first}:{run.last}:{run.step}" for run in offered.runs)
    words, short = offered.words(), _short_words(offered)
    hint, in_full = f"row-{key}-allowed", "" if short == words else words
    return Field(f"set.{key}", "ratio", label, value, sign, short, runs, hint=hint, in_full=in_full)


def _short_words(offered: RatioSet) -> str:
    """The set in as few words as fit beside the field; its size where not all between the ends are in it."""
    words = offered.words()
    return words if len(words) <= LONGEST_WORDS else f"{offered.lowest} to {offered.highest}, {offered.size} values"


def _oscillator_fields(plan: Plan, node: Oscillator) -> tuple[Field, ...]:
    """What can be set of an oscillator: what is fitted, which of its frequencies, its tolerance, or on and off."""
    fitted = plan.fitted.get(node.id)
    tolerance = "" if fitted is None or fitted.tolerance is None else say_tolerance(fitted.tolerance)
    stated = "tolerance" if node.tolerance is None else say_tolerance(node.tolerance)
    on_board = Field(f"board.{node.id}.tolerance", "text", f"{node.title}: tolerance", tolerance, placeholder=stated)
    if node.fitted is not None:
        frequency = "" if fitted is None or fitted.frequency is None else write_quantity(fitted.frequency, FREQUENCY)
        allowed = ", ".join(write_quantity(choice, FREQUENCY) for choice in node.fits) or say_window(node.fitted)
        name = f"board.{node.id}.frequency"
        label = f"{node.title}: frequency fitted, {allowed}"
        fit = Field(name, "text", label, frequency, allowed=allowed, placeholder="none")
        return (fit, on_board)
    if len(node.choices) > 1:
        chosen = plan.settings.get(node.id, node.reset)
        choices = tuple(Option(w := write_quantity(c, FREQUENCY), w, c == chosen) for c in node.choices)
        value = next((option.value for option in choices if option.chosen), "")
        return (Field(f"set.{node.id}", "choice", f"{node.title}: frequency", value, options=choices),)
    if node.source != "rc":
        return (on_board,)
    if node.always_on:
        return ()
    kept = node.id in plan.keep_running
    options = (Option("no", "Runs when used", not kept), Option("yes", "Kept running", kept))
    return (Field(f"keep.{node.id}", "choice", f"{node.title}: running", "yes" if kept else "no", options=options),)


def no_setting(part: Part, row: OutlineRow) -> str:
    """What stands in the column of a row with nothing to set."""
    node = part.nodes[row.node]
    if isinstance(node, Scaler):
        factor = f"÷{1 / node.factor}" if node.factor < 1 else f"×{node.factor}"
        return f"{factor}, no setting"
    return "always on" if isinstance(node, Oscillator) and node.always_on else "no setting"
