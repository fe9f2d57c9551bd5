"""What a calculator is, and what it answers: figures with their units, a verdict, the formula with its values."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Container, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import ClassVar, Literal

from wheelwork.estimates.asks import Ask, Values, unit_of_nothing
from wheelwork.findings import Problem
from wheelwork.formulas.expressions import Number, lay_out, reckon, write
from wheelwork.quantities.numbers import MINUS, NO_BREAK_SPACE, write_exact, write_figures
from wheelwork.quantities.spans import Span
from wheelwork.quantities.units import CURVATURE, PULLING, SHARE, Unit, say_quantity

Verdict = Literal["inside", "over", "under", "unsuitable"]
FIGURES = 4


@dataclass(frozen=True, slots=True)
class Figure:
    """One result: the value in the base unit of its kind, and its lowest and highest where a span is known."""

    key: str
    title: str
    value: Number | None
    unit: Unit | None = None
    lowest: Number | None = None
    highest: Number | None = None
    letter: str = ""

    def said(self) -> str:
        """The figure for reading, its span where there is one."""
        ends = [say(each, self.unit) for each in (self.lowest, self.highest) if each is not None]
        span = " to ".join(ends)
        if self.value is None:
            return span
        return f"{say(self.value, self.unit)}{f' ({span})' if span else ''}"


@dataclass(frozen=True, slots=True)
class Step:
    """One formula of the way to the result, with the values put in as they are written."""

    formula: str
    written: Mapping[str, str]
    result: str

    def laid_out(self) -> str:
        """The step as MathML."""
        return lay_out(self.formula, self.written, self.result)

    def in_line(self) -> str:
        """The step in one line of text."""
        return write(self.formula, self.written, self.result)


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several ways that come nearest, with its figures."""

    words: str
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class Onward:
    """Another calculator that goes on from a result: the keys that it takes over, as they are written, and the act."""

    calculator: str
    keys: Mapping[str, str]
    act: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a calculator answers. `what` is the result in one sentence; the verdict is None where there is no limit.

    `notes` say what was left out or put in; `tolerance` is the span of shares that may be taken into a plan.
    """

    what: str
    figures: tuple[Figure, ...]
    steps: tuple[Step, ...]
    verdict: Verdict | None = None
    notes: tuple[str, ...] = ()
    choices: tuple[Choice, ...] = ()
    tolerance: Span | None = None
    onward: tuple[Onward, ...] = ()


class Calculator(ABC):
    """A calculator: its name in addresses, title, the question it answers, formulas, letters, sources, what it asks.

    `letters` names those that are not asked for; `suits` are the kinds of oscillator it speaks of, `up_to` the highest
    frequency of such. `place` orders them: from the capacitors to the budget.
    """

    name: ClassVar[str]
    title: ClassVar[str]
    question: ClassVar[str]
    formulas: ClassVar[tuple[str, ...]]
    letters: ClassVar[Mapping[str, str]] = {}
    sources: ClassVar[tuple[str, ...]]
    asks: ClassVar[tuple[Ask, ...]]
    cautions: ClassVar[tuple[str, ...]] = ()
    place: ClassVar[int]
    suits: ClassVar[tuple[str, ...]] = ("crystal",)
    up_to: ClassVar[Fraction | None] = None

    @abstractmethod
    def reckon(self, given: Values) -> Outcome:
        """The answer to values that were read. Raises links.fields.Refused where they do not go together."""

    def check(self, keys: Container[str]) -> Problem | None:
        """What is wrong with the keys that are given, where some stand in place of others."""
        return None

    def named_letters(self) -> dict[str, str]:
        """Every letter of the formulas with what it stands for."""
        asked = {ask.letter: ask.title for ask in self.asks if ask.letter}
        return {**asked, **self.letters}


class Working:
    """The sum as it is done: letters with their values, and each step with what was put in."""

    def __init__(self) -> None:
        self.values: dict[str, Number] = {}
        self.written: dict[str, str] = {}
        self.steps: list[Step] = []

    def put(self, letter: str, value: Number, unit: Unit | None = None) -> Number:
        """A value under its letter."""
        self.values[letter] = value
        self.written[letter] = say(value, unit)
        return value

    def take(self, asks: tuple[Ask, ...], given: Values) -> None:
        """Every number that was given and has a letter."""
        for ask in asks:
            if ask.letter and ask.form in ("quantity", "number", "whole") and given.has(ask.key):
                self.put(ask.letter, given.exact(ask.key), ask.unit)

    def reckon(self, formula: str, unit: Unit | None = None) -> Number:
        """A formula's value, kept under the letter on its left and as a step.

        >>> sheet = Working()
        >>> sheet.put("m", Fraction(3)), sheet.reckon("n = m × 2")
        (Fraction(3, 1), Fraction(6, 1))
        >>> sheet.steps[0].in_line()
        'n = m × 2 = 3 × 2 = 6'
        """
        letter = formula.partition("=")[0].strip()
        value = reckon(formula, self.values)
        written = dict(self.written)
        self.put(letter, value, unit)
        self.steps.append(Step(formula, written, self.written[letter]))
        return value


def say(value: Number, unit: Unit | None) -> str:
    """A number with its unit, four figures; shares below 0.1 % in ppm."""
    exact = value if isinstance(value, Fraction) else Fraction(value)
    if unit is None:
        return write_figures(exact, FIGURES) if abs(exact) < 10**7 else write_exact(exact)
    if exact == 0:
        return f"0{NO_BREAK_SPACE}{unit_of_nothing(unit)}"
    return say_quantity(exact, unit, FIGURES).replace("-", MINUS)


_OF_SHARES = {SHARE.name: "1", CURVATURE.name: "1/K²", PULLING.name: "1/F"}


def base_unit(unit: Unit | None) -> str:
    """The unit in which a figure's value stands; `1` where it is a number or a share.

    >>> from wheelwork.quantities.units import CAPACITANCE
    >>> base_unit(CAPACITANCE), base_unit(SHARE), base_unit(PULLING)
    ('F', '1', '1/F')
    """
    if unit is None:
        return "1"
    return _OF_SHARES.get(unit.name) or next(name for name in unit.written if unit.units[name] == 1)
