"""The fields of the estimates page: those of the calculator that is chosen, what was typed, what stands in others.

A field is named after its oscillator and its key, so that each crystal keeps its values while another is looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from markupsafe import Markup

from wheelwork.clocks.propagate import Clock
from wheelwork.estimates.asks import Ask
from wheelwork.estimates.calculator import Calculator, Outcome
from wheelwork.estimates.calculators import calculators, estimate
from wheelwork.findings import Problem
from wheelwork.formulas.expressions import letter
from wheelwork.links.fields import Refused
from wheelwork.pages.controls import Field, Option
from wheelwork.pages.words import minus
from wheelwork.plan.plan import Plan
from wheelwork.quantities.numbers import NO_BREAK_SPACE
from wheelwork.quantities.spans import write_temperatures, write_tolerance
from wheelwork.quantities.units import FREQUENCY, write_quantity

MISSING = "is missing"


@dataclass(frozen=True, slots=True)
class AskField:
    """A field with its letter, and what is meant by it."""

    field: Field
    letter: Markup
    about: str


@dataclass(frozen=True, slots=True)
class EstimateRead:
    """The form as it was read: its fields, the answer where there is one, and what is needed for one."""

    fields: tuple[AskField, ...]
    outcome: Outcome | None
    needed: tuple[str, ...]
    faults: int
    carried: tuple[tuple[str, str], ...]


def read_estimate(
    calculator: Calculator, oscillator: str, clock: Clock, plan: Plan, typed: Mapping[str, str]
) -> EstimateRead:
    """The calculator's fields and its answer; what nobody has typed stands as the plan has it, or as the default."""
    known = _from_plan(clock, plan)
    values = {ask.key: typed.get(f"{oscillator}.{ask.key}", known.get(ask.key, ask.default)) for ask in calculator.asks}
    given = {key: text for key, text in values.items() if text.strip()}
    outcome, problems = None, list[Problem]()
    try:
        outcome = estimate(calculator, given)
    except Refused as refused:
        problems = refused.problems
    titles = {ask.key: ask.title for ask in calculator.asks}
    needed = tuple(titles[each.where].lower() for each in problems if each.what == MISSING)
    told = {each.where: f"{each.what}; {each.allowed}" for each in problems if each.what != MISSING}
    fields = tuple(_field(ask, oscillator, values[ask.key], told.get(ask.key, "")) for ask in calculator.asks)
    carried = tuple(_carried(calculator, oscillator, typed))
    return EstimateRead(fields, outcome, needed, len(told), carried)


def _from_plan(clock: Clock, plan: Plan) -> dict[str, str]:
    """What the plan knows: frequency, temperatures, and the tolerance of what has no budget of its own yet."""
    known = {"frequency": write_quantity(clock.nominal, FREQUENCY)}
    if plan.temperature is not None:
        known["temperatures"] = write_temperatures(plan.temperature)
    if clock.tolerance.lowest or clock.tolerance.highest:
        known["tolerance"] = write_tolerance(clock.tolerance)
    return known


def _field(ask: Ask, oscillator: str, text: str, fault: str) -> AskField:
    name = f"{oscillator}.{ask.key}"
    options = tuple(Option(word, word, word == text) for word in ask.words)
    field = Field(
        name,
        "choice" if options else "text",
        ask.title,
        text,
        options=options,
        placeholder=ask.default,
        hint=f"h-{name}" if _about(ask) else "",
        fault=fault,
    )
    return AskField(field, Markup(f"<math>{letter(ask.letter)}</math>") if ask.letter else Markup(""), _about(ask))


def _about(ask: Ask) -> str:
    """What is meant, and how it is written."""
    like = "" if ask.words or ask.example == ask.default else f"like {minus(ask.example).replace(' ', NO_BREAK_SPACE)}"
    return "; ".join(each for each in (ask.about, like) if each)


def _carried(calculator: Calculator, oscillator: str, typed: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """What was typed elsewhere: for other oscillators, and in other calculators for this one."""
    keys = {ask.key for each in calculators().values() for ask in each.asks}
    shown = {f"{oscillator}.{ask.key}" for ask in calculator.asks}
    for name, text in typed.items():
        _, _, key = name.partition(".")
        if key in keys and name not in shown and text.strip():
            yield name, text


def with_keys(typed: Mapping[str, str], oscillator: str, keys: Mapping[str, str]) -> dict[str, str]:
    """What was typed, with some keys of an oscillator put in."""
    return {**typed, **{f"{oscillator}.{key}": text for key, text in keys.items()}}
