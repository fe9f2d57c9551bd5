"""Spans and windows: tolerances, temperature and supply spans, and the lowest and highest a frequency may be.

A tolerance is a span of shares (`±20 ppm`, `-1 % .. +1.5 %`); a window has an optional lowest and highest edge, both
of which belong to it (`up to 64 MHz`, `from 4 MHz`, `4 MHz .. 48 MHz`), or is an accuracy (`48 MHz ± 0.25 %`).

>>> read_window("48 MHz ± 0.25 %").lowest
Fraction(47880000, 1)
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.findings import Unreadable, quote
from wheelwork.quantities.numbers import MINUS, NO_BREAK_SPACE, decimal_places, write_exact, write_figures
from wheelwork.quantities.units import (
    FREQUENCY,
    SHARE,
    TEMPERATURE,
    VOLTAGE,
    Unit,
    as_text,
    in_range,
    pick_unit,
    read_quantity,
    split_quantity,
    write_quantity,
)

_BETWEEN = re.compile(r"\s*(?:\.\.|…|\bto\b)\s*")
_SIGNS = re.compile(r"(?:±|\+-|\+/-)\s*")


@dataclass(frozen=True, slots=True)
class Span:
    """Lowest and highest of something, both included."""

    lowest: Fraction
    highest: Fraction

    def __contains__(self, value: object) -> bool:
        return isinstance(value, Fraction | int) and self.lowest <= value <= self.highest

    def covers(self, other: Span) -> bool:
        """Whether the other span lies wholly in this one."""
        return self.lowest <= other.lowest and other.highest <= self.highest


EXACT = Span(Fraction(0), Fraction(0))


@dataclass(frozen=True, slots=True)
class Window:
    """The lowest and highest allowed; None: no limit on that side. An `accuracy` is always judged with tolerance."""

    lowest: Fraction | None
    highest: Fraction | None
    accuracy: bool = False
    centre: Fraction | None = None
    share: Fraction | None = None

    def __contains__(self, value: object) -> bool:
        if not isinstance(value, Fraction | int):
            return False
        return (self.lowest is None or value >= self.lowest) and (self.highest is None or value <= self.highest)


def read_tolerance(text: object) -> Span:
    """A tolerance as a span of shares of the nominal.

    >>> read_tolerance("±30 ppm").highest, read_tolerance("−1.5 % to +1.2 %").lowest
    (Fraction(3, 100000), Fraction(-3, 200))
    """
    plain = as_text(text, TOLERANCE)
    signs = _SIGNS.match(plain)
    if signs:
        share = _read_share(plain, plain[signs.end() :])
        span = Span(-share, share)
    elif _BETWEEN.search(plain):
        span = _read_ends(plain, TOLERANCE)
    else:
        share = abs(_read_share(plain, plain))
        write = f"write ±{write_quantity(share, SHARE)}, or two ends: -1 % .. +1.5 %"
        raise Unreadable(f"{quote(plain)} has no sign on both sides", write)
    if span.lowest <= -1:
        raise Unreadable(f"{quote(plain)} reaches down to no frequency at all", "the lower end stays above -100 %")
    return span


def _read_share(plain: str, share: str) -> Fraction:
    """The share in a tolerance; one without unit is told as the whole tolerance that was written."""
    if split_quantity(as_text(share, TOLERANCE), TOLERANCE)[1] == "":
        raise Unreadable(f"{quote(plain)} has no unit", f"write it as ±{share.lstrip(_ONE_SIDED)} ppm")
    return read_quantity(share, TOLERANCE)


_ONE_SIDED = f"+-{MINUS} "
TOLERANCE = Unit("tolerance", SHARE.units, "±20 ppm", SHARE.written, Fraction(-1), Fraction(10))


def read_temperatures(text: object) -> Span:
    """A temperature span in degrees Celsius: `-20 °C .. 50 °C` or one temperature.

    >>> read_temperatures("−20 to 50 °C") == Span(Fraction(-20), Fraction(50))
    True
    """
    return read_span(text, TEMPERATURES)


TEMPERATURES = Unit(
    "temperature span",
    TEMPERATURE.units,
    "-20 °C .. 50 °C",
    TEMPERATURE.written,
    TEMPERATURE.least,
    TEMPERATURE.most,
)


def read_span(text: object, kind: Unit) -> Span:
    """A quantity, or both ends of a span of it: `225 mAh`, `13 Ah .. 17 Ah`. Raises Unreadable."""
    plain = as_text(text, kind)
    if _BETWEEN.search(plain):
        return _read_ends(plain, kind)
    value = read_quantity(plain, kind)
    return Span(value, value)


def _read_ends(plain: str, kind: Unit) -> Span:
    """Both ends of a span; the first may leave its unit to the second."""
    ends = _BETWEEN.split(plain)
    if len(ends) != 2:
        raise Unreadable(f"{quote(plain)} has {len(ends)} ends", f"write two, like {kind.example}")
    highest = read_quantity(ends[1], kind)
    value, unit = split_quantity(ends[0].strip(), kind)
    unit = unit or split_quantity(ends[1].strip(), kind)[1]
    if unit not in kind.units:
        read_quantity(ends[0], kind)
    lowest = in_range(value * kind.units[unit], ends[0], kind)
    if lowest > highest:
        raise Unreadable(f"{quote(plain)} runs downwards", "write the lower end first")
    return Span(lowest, highest)


WINDOW = Unit("window", FREQUENCY.units, "4 MHz .. 48 MHz", FREQUENCY.written, FREQUENCY.least, FREQUENCY.most)
WINDOW_FORMS = "write up to 64 MHz, from 4 MHz, 4 MHz .. 48 MHz, or 48 MHz ± 0.25 %"
SUPPLY_WINDOW = Unit("supply", VOLTAGE.units, "1.8 V .. 3.6 V", VOLTAGE.written, VOLTAGE.least, VOLTAGE.most)


def read_window(text: object, kind: Unit = WINDOW) -> Window:
    """A window: one-sided, two-sided, or a value with a share to both sides.

    >>> read_window("up to 64 MHz").lowest is None, 64_000_000 in read_window("up to 64 MHz")
    (True, True)
    """
    plain = as_text(text, kind)
    lowered = plain.lower()
    if lowered.startswith("up to"):
        return Window(None, read_quantity(plain[5:], kind))
    if lowered.startswith("from") and not _BETWEEN.search(plain):
        return Window(read_quantity(plain[4:], kind), None)
    signs = _SIGNS.search(plain)
    if signs:
        return _read_accuracy(plain, signs, kind)
    ends = plain[4:].strip() if lowered.startswith("from") else plain
    if not _BETWEEN.search(ends):
        raise Unreadable(f"{quote(plain)} is no window", _forms(kind))
    span = _read_ends(ends, kind)
    return Window(span.lowest, span.highest)


def _forms(kind: Unit) -> str:
    return WINDOW_FORMS if kind is WINDOW else f"write from {kind.example.split(' .. ')[0]}, or {kind.example}"


def _read_accuracy(plain: str, signs: re.Match[str], kind: Unit) -> Window:
    centre = read_quantity(plain[: signs.start()], kind)
    share = read_quantity(plain[signs.end() :], TOLERANCE)
    if not 0 <= share < 1:
        raise Unreadable(f"{quote(plain)} allows all or nothing", "the share lies between 0 % and 100 %")
    return Window(centre * (1 - share), centre * (1 + share), True, centre, share)


def is_window(text: object) -> bool:
    """Whether a text is meant as a window rather than one value.

    >>> is_window("3 MHz .. 38 MHz"), is_window("11 MHz")
    (True, False)
    """
    if not isinstance(text, str) or len(text) > 200:
        return False
    lowered = text.strip().lower()
    return bool(_BETWEEN.search(text) or _SIGNS.search(text)) or lowered.startswith(("up to", "from"))


def write_window(window: Window, kind: Unit = FREQUENCY) -> str:
    """The window as it stands in files; it reads back the same.

    >>> write_window(read_window("4 to 48 MHz"))
    '4 MHz .. 48 MHz'
    """
    if window.centre is not None and window.share is not None:
        return f"{write_quantity(window.centre, kind)} ± {write_quantity(window.share, SHARE)}"
    if window.lowest is None:
        return f"up to {write_quantity(window.highest, kind)}" if window.highest is not None else "no limit"
    low = write_quantity(window.lowest, kind)
    return f"from {low}" if window.highest is None else f"{low} .. {write_quantity(window.highest, kind)}"


def write_tolerance(span: Span) -> str:
    """The tolerance as it stands in files; it reads back the same.

    >>> write_tolerance(read_tolerance("-1.5% to 1.2%"))
    '-1.5 % .. +1.2 %'
    """
    if span.lowest == -span.highest:
        return f"±{write_quantity(span.highest, SHARE)}"
    return f"{_signed(span.lowest)} .. {_signed(span.highest)}"


def _signed(share: Fraction) -> str:
    return ("+" if share > 0 else "") + write_quantity(share, SHARE)


def say_tolerance(span: Span) -> str:
    """The tolerance for reading, four figures.

    >>> say_tolerance(read_tolerance("-1.5% to 1.2%")) == "\\u22121.5\\u00a0% to +1.2\\u00a0%"
    True
    """
    if span.lowest == -span.highest:
        return f"±{_say_share(span.highest)}"
    ends = [f"{'+' if share > 0 else ''}{_say_share(share)}" for share in (span.lowest, span.highest)]
    return " to ".join(ends)


def _say_share(share: Fraction) -> str:
    unit = pick_unit(share, SHARE) if abs(share) < Fraction(1, 1000) else "%"
    unit = "%" if share == 0 else unit
    return f"{write_figures(share / SHARE.units[unit], 4)}{NO_BREAK_SPACE}{unit}"


def write_temperatures(span: Span) -> str:
    """The temperature span as it stands in files.

    >>> write_temperatures(read_temperatures("-20 to 50 °C"))
    '-20 °C .. 50 °C'
    """
    low, high = (write_quantity(value, TEMPERATURE) for value in (span.lowest, span.highest))
    return low if span.lowest == span.highest else f"{low} .. {high}"


def say_window(window: Window, kind: Unit = FREQUENCY) -> str:
    """The window in words, both ends in one unit where that reads well: `0.2 to 27 MHz`, `up to 31 MHz`.

    >>> say_window(read_window("0.2 MHz .. 27 MHz")) == "0.2 to 27\u00a0MHz"
    True
    """
    if window.centre is not None and window.share is not None:
        return f"{_say_exact(window.centre, kind)} ±{_say_share(window.share)}"
    if window.lowest is None:
        return f"up to {_say_exact(window.highest, kind)}" if window.highest is not None else "no limit"
    if window.highest is None:
        return f"from {_say_exact(window.lowest, kind)}"
    unit = pick_unit(window.highest, kind)
    lowest = window.lowest / kind.units[unit]
    if lowest >= Fraction(1, 100) and (decimal_places(lowest) or 0) <= 3 and decimal_places(lowest) is not None:
        return f"{write_exact(lowest)} to {_say_exact(window.highest, kind)}"
    return f"{_say_exact(window.lowest, kind)} to {_say_exact(window.highest, kind)}"


def _say_exact(value: Fraction, kind: Unit) -> str:
    return write_quantity(value, kind).replace(" ", NO_BREAK_SPACE).replace("-", MINUS)
