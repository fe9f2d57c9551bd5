"""What a calculator asks: each value by its key, with letter, unit, range and default, read exactly or told why not."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Literal

from wheelwork.findings import Problem, Unreadable, quote
from wheelwork.links.fields import Fields, Refused
from wheelwork.quantities.numbers import read_number, write_exact
from wheelwork.quantities.spans import Span, read_temperatures, read_tolerance, write_tolerance
from wheelwork.quantities.units import CAPACITANCE, SHARE, Unit, read_quantity, write_quantity

WHOLE = "keys"
"""The place of a fault that stands at no key."""
Form = Literal["quantity", "number", "whole", "tolerance", "temperatures", "word"]


@dataclass(frozen=True, slots=True)
class Ask:
    """A value that a calculator asks. `least` and `most` belong to the range; of a span they hold for both ends.

    `default` counts where nothing is given; a value without default is `needed`, or may be left out. `about` says what
    is meant, and where a default comes from.
    """

    key: str
    title: str
    form: Form
    letter: str = ""
    unit: Unit | None = None
    least: Fraction | None = None
    most: Fraction | None = None
    default: str = ""
    needed: bool = False
    example: str = ""
    words: tuple[str, ...] = ()
    about: str = ""

    def read(self, raw: object) -> Any:
        """The value: a fraction in the base unit, a span, a word. Raises Unreadable."""
        match self.form:
            case "tolerance":
                span = read_tolerance(raw)
                self._hold(span.lowest, raw)
                self._hold(span.highest, raw)
                return span
            case "temperatures":
                return read_temperatures(raw)
            case "word":
                if not isinstance(raw, str) or raw not in self.words:
                    raise Unreadable(f"{quote(raw)} is not known here", f"{self.range()} are")
                return raw
            case "quantity":
                assert self.unit is not None
                return self._hold(read_quantity(raw, self.unit), raw)
        value = _read_plain(raw, self.example)
        if self.form == "whole" and value.denominator != 1:
            raise Unreadable(f"{quote(raw)} is no whole number", f"write one from {self.range()}")
        return self._hold(value, raw)

    def _hold(self, value: Fraction, raw: object) -> Fraction:
        """The value itself where it is in the range."""
        if (self.least is not None and value < self.least) or (self.most is not None and value > self.most):
            raise Unreadable(f"{quote(raw)} is outside what is asked for", f"write one from {self.range()}")
        return value

    def range(self) -> str:
        """What may stand here, in words; nothing where only the unit bounds it."""
        if self.words:
            return " and ".join(self.words)
        if self.least is None or self.most is None:
            return ""
        return f"{self.write(self.least)} to {self.write(self.most)}"

    def write(self, value: Any) -> str:
        """A value of this kind as it is written in a field; it reads back the same."""
        if isinstance(value, Span):
            return write_tolerance(value)
        if self.form == "tolerance":
            return write_quantity(value, SHARE)
        if value == 0 and self.unit is not None:
            return f"0 {unit_of_nothing(self.unit)}"
        return write_exact(value) if self.unit is None else write_quantity(value, self.unit)


_OF_NOTHING = {SHARE.name: "ppm", CAPACITANCE.name: "pF"}


def unit_of_nothing(unit: Unit) -> str:
    """The unit in which a zero is written, for it has no size to go by: the base unit, or what the trade uses.

    >>> from wheelwork.quantities.units import RESISTANCE
    >>> unit_of_nothing(RESISTANCE), unit_of_nothing(CAPACITANCE)
    ('Ω', 'pF')
    """
    base = (name for name in unit.written if unit.units[name] == 1)
    return _OF_NOTHING.get(unit.name) or next(base, unit.written[0])


def _read_plain(raw: object, example: str) -> Fraction:
    """A number without unit: a whole one, or a text."""
    if isinstance(raw, int) and not isinstance(raw, bool):
        return Fraction(raw)
    if isinstance(raw, str):
        return read_number(raw, example)
    raise Unreadable(f"{quote(raw)} is no number that is exact", f'write a whole number, or a text like "{example}"')


class Values:
    """What was given to a calculator, its defaults put in. What was left out without default is None."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = values

    def has(self, key: str) -> bool:
        """Whether a value was given or has a default."""
        return self._values[key] is not None

    def exact(self, key: str) -> Fraction:
        """A value that is there."""
        value = self._values[key]
        if not isinstance(value, Fraction):
            raise TypeError(f"{key} holds no number")
        return value

    def maybe(self, key: str) -> Fraction | None:
        """A value that may have been left out."""
        return self.exact(key) if self.has(key) else None

    def span(self, key: str) -> Span:
        """A tolerance or a span of temperatures that is there."""
        value = self._values[key]
        if not isinstance(value, Span):
            raise TypeError(f"{key} holds no span")
        return value

    def maybe_span(self, key: str) -> Span | None:
        """A span that may have been left out."""
        return self.span(key) if self.has(key) else None

    def word(self, key: str) -> str:
        """One of the words that are offered."""
        return str(self._values[key])


def read_values(
    asks: tuple[Ask, ...], raw: object, check: Callable[[Container[str]], Problem | None] = lambda keys: None
) -> Values:
    """The values of a calculator. Raises Refused with every problem, its key as the place.

    `check` says what is wrong with the keys that are given, as a whole.
    """
    fields = Fields(raw, WHOLE)
    values: dict[str, Any] = {}
    for ask in asks:
        if ask.needed:
            values[ask.key] = fields.need(ask.key, ask.read, f'"{ask.example}"')
        else:
            values[ask.key] = fields.take(ask.key, ask.read, ask.read(ask.default) if ask.default else None)
    together = check(fields.raw)
    fields.problems += [] if together is None else [together]
    try:
        fields.finish()
    except Refused as refused:
        raise Refused(
            [replace(each, where=each.where.removeprefix(f"{WHOLE}.")) for each in refused.problems]
        ) from None
    return Values(values)


def refuse_together(key: str, what: str, allowed: str) -> Refused:
    """What is wrong at a key where values that can each be taken do not go together."""
    return Refused([Problem(key, what, allowed)])
