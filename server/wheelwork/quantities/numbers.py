"""Exact numbers: read as people and this program write them, written so that they read back the same.

`1 000.5` (any space between groups of three), `−3` (U+2212 or a hyphen) and `232/9` are numbers. Decimal commas and
exponents are refused with what to write instead: a comma means two things in two countries, and `1e400` is a slip.
"""

from __future__ import annotations

import re
from fractions import Fraction

from wheelwork.findings import Unreadable, quote

THIN_SPACE = "\u2009"
NO_BREAK_SPACE = "\u00a0"
MINUS = "\u2212"
SPACES = " \u2009\u202f\u00a0"
MOST_DIGITS = 40
LONGEST = 200

_NUMBER = re.compile(
    rf"(?P<sign>[-+{MINUS}])?(?P<whole>\d{{1,3}}(?:[{SPACES}]\d{{3}})+|\d+)(?:\.(?P<part>\d+(?:[{SPACES}]\d{{1,3}})*))?"
    rf"(?:/(?P<below>\d+))?",
    re.ASCII,
)
_SPACE = re.compile(rf"[{SPACES}]")


def match_number(text: str) -> tuple[Fraction, int] | None:
    """The number a text begins with and where it ends, or None where it begins with none."""
    found = _NUMBER.match(text)
    if found is None or (found["part"] and found["below"]):
        return None
    return _value(found), found.end()


def _value(found: re.Match[str]) -> Fraction:
    whole = _SPACE.sub("", found["whole"])
    part = _SPACE.sub("", found["part"] or "")
    below = found["below"] or "1"
    if len(whole) + len(part) > MOST_DIGITS or len(below) > MOST_DIGITS:
        raise Unreadable(f"{quote(found.group())} has too many digits", f"at most {MOST_DIGITS} are read")
    if int(below) == 0:
        raise Unreadable(f"{quote(found.group())} divides by nothing", "write a number below the stroke that is not 0")
    value = Fraction(int(whole + part), 10 ** len(part) * int(below))
    return -value if found["sign"] in ("-", MINUS) else value


def read_number(text: str, example: str = "1.5") -> Fraction:
    """A number without a unit, exact.

    >>> read_number("1 000.25"), read_number("−3/2")
    (Fraction(4001, 4), Fraction(-3, 2))
    """
    plain = text.strip() if len(text) <= LONGEST else ""
    found = match_number(plain)
    if found is None or found[1] != len(plain):
        raise Unreadable(f"{quote(text)} is no number", f"write it like {example}")
    return found[0]


def decimal_places(value: Fraction) -> int | None:
    """How many decimal places write the value exactly; None where no number of them does.

    >>> decimal_places(Fraction(1, 8)), decimal_places(Fraction(232, 9))
    (3, None)
    """
    below, twos, fives = value.denominator, 0, 0
    while below % 2 == 0:
        below, twos = below // 2, twos + 1
    while below % 5 == 0:
        below, fives = below // 5, fives + 1
    return max(twos, fives) if below == 1 else None


def write_exact(value: Fraction) -> str:
    """The value in plain digits: a decimal where one is exact, else `p/q`; it reads back the same.

    >>> write_exact(Fraction(29, 2)), write_exact(Fraction(-232, 9))
    ('14.5', '-232/9')
    """
    places = decimal_places(value)
    if places is None:
        return f"{value.numerator}/{value.denominator}"
    if places == 0:
        return str(value.numerator)
    digits = str(abs(value.numerator) * (10**places // value.denominator)).rjust(places + 1, "0")
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def write_cut(value: Fraction, places: int) -> str:
    """The value to so many decimal places, cut and not rounded, with `…` where something was cut off.

    >>> write_cut(Fraction(232, 9), 6), write_cut(Fraction(8), 6)
    ('25.777777…', '8')
    """
    scaled = abs(value) * 10**places
    digits = str(scaled.numerator // scaled.denominator).rjust(places + 1, "0")
    whole, part = (digits[:-places], digits[-places:].rstrip("0")) if places else (digits, "")
    cut = scaled.denominator != 1
    if cut and places:
        part = digits[-places:]
    sign = MINUS if value < 0 else ""
    return f"{sign}{group(whole)}{'.' + part if part else ''}{'…' if cut else ''}"


def write_figures(value: Fraction, figures: int = 3) -> str:
    """The value to so many significant figures, rounded half up, trailing zeros dropped; whole digits all stay.

    >>> write_figures(Fraction(1222222222, 10**9)), write_figures(Fraction(123456))
    ('1.22', '123\\u2009456')
    """
    if value == 0:
        return "0"
    size = abs(value)
    places = figures - 1 - _magnitude(size)
    if places <= 0:
        return (MINUS if value < 0 else "") + group(str(_rounded(size, 0)))
    rounded = _rounded(size, places)
    whole, _, part = write_exact(rounded).partition(".")
    return (MINUS if value < 0 else "") + group(whole) + (f".{part}" if part else "")


def round_to(value: Fraction, figures: int) -> Fraction:
    """The value as `write_figures` shows it: to so many significant figures, whole digits kept.

    >>> round_to(Fraction(99955, 100), 3), round_to(Fraction(-123456), 3)
    (Fraction(1000, 1), Fraction(-123456, 1))
    """
    if value == 0:
        return value
    rounded = _rounded(abs(value), max(0, figures - 1 - _magnitude(abs(value))))
    return -rounded if value < 0 else rounded


def _rounded(size: Fraction, places: int) -> Fraction:
    """A value from 0 up to so many decimal places, half up."""
    return Fraction((size * 10**places + Fraction(1, 2)).__floor__(), 10**places)


def _magnitude(size: Fraction) -> int:
    """The power of ten at or below a positive value."""
    power = len(str(size.numerator)) - len(str(size.denominator))
    return power if Fraction(10) ** power <= size else power - 1


def group(whole: str) -> str:
    """Digits in groups of three, parted by a thin space, where there are more than four.

    >>> group("1234567") == "1\\u2009234\\u2009567"
    True
    """
    if len(whole) <= 4:
        return whole
    head = len(whole) % 3
    parts = ([whole[:head]] if head else []) + [whole[i : i + 3] for i in range(head, len(whole), 3)]
    return THIN_SPACE.join(parts)
