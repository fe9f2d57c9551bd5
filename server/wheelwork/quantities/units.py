"""Quantities with their unit, exact: a closed list of units for each kind of field.

Unit names and prefixes are those of the International System of Units (BIPM, The International System of Units, 9th
edition, 2019, tables 4, 7 and 8); `Bd` is ITU-T V.1's, `bit/s` IEC 80000-13's. `u` stands in for µ, `ohm` for Ω.

>>> read_frequency("32.768 kHz"), read_voltage("1.15 V")
(Fraction(32768, 1), Fraction(23, 20))
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from wheelwork.findings import Unreadable, nearest, quote
from wheelwork.quantities.numbers import (
    MINUS,
    NO_BREAK_SPACE,
    SPACES,
    match_number,
    round_to,
    write_cut,
    write_exact,
    write_figures,
)

LONGEST = 120


@dataclass(frozen=True, slots=True)
class Unit:
    """One kind of quantity: its name in a sentence, its units with their size in the base unit, an example."""

    name: str
    units: Mapping[str, Fraction]
    example: str
    written: tuple[str, ...]
    least: Fraction | None = None
    most: Fraction | None = None
    by_size: tuple[tuple[str, Fraction], ...] = field(init=False)

    def __post_init__(self) -> None:
        """Keep the written units with their sizes, largest first."""
        sizes = sorted(((name, self.units[name]) for name in self.written), key=lambda unit: -unit[1])
        object.__setattr__(self, "by_size", tuple(sizes))


def _powers(base: str, prefixes: str, spellings: tuple[str, ...] = ()) -> dict[str, Fraction]:
    sizes = {"G": 9, "M": 6, "k": 3, "-": 0, "m": -3, "µ": -6, "n": -9, "p": -12, "f": -15}
    units: dict[str, Fraction] = {}
    for prefix in prefixes:
        size = Fraction(10) ** sizes[prefix]
        for name in (base, *spellings):
            for sign in {"-": ("",), "µ": ("µ", "μ", "u")}.get(prefix, (prefix,)):
                units[sign + name] = size
    return units


def _slopes() -> dict[str, Fraction]:
    currents, frequencies = _powers("A", "-mµnp"), {"Hz": 1, "kHz": 10**3, "MHz": 10**6, "GHz": 10**9}
    return {f"{a}/{f}": size / below for a, size in currents.items() for f, below in frequencies.items()}


FREQUENCY = Unit(
    "frequency", _powers("Hz", "GMk-"), "8 MHz", ("MHz", "kHz", "Hz"), Fraction(1, 10**6), Fraction(10**12)
)
VOLTAGE = Unit("voltage", _powers("V", "-mµ"), "3.0 V", ("V", "mV"), Fraction(0), Fraction(10**4))
CURRENT = Unit("current", _powers("A", "-mµnp"), "95 µA", ("A", "mA", "µA", "nA"), Fraction(0), Fraction(10**4))
CURRENT_SLOPE = Unit("current per frequency", _slopes(), "100 µA/MHz", ("µA/MHz",), Fraction(0), Fraction(1))
TIME = Unit(
    "time",
    {**_powers("s", "-mµnp"), "min": Fraction(60), "h": Fraction(3600), "d": Fraction(86400)},
    "2 ms",
    ("s", "ms", "µs", "ns"),
    Fraction(0),
    Fraction(10**10),
)
CHARGE = Unit(
    "charge",
    {**{name: size * 3600 for name, size in _powers("Ah", "-mµ").items()}, **_powers("C", "-mµn")},
    "220 mAh",
    ("mAh", "C", "mC", "µC"),
    Fraction(0),
)
RESISTANCE = Unit("resistance", _powers("Ω", "Mk-m", ("ohm", "\u2126")), "10 kΩ", ("Ω", "kΩ", "MΩ"), Fraction(0))
CAPACITANCE = Unit("capacitance", _powers("F", "-mµnpf"), "8 pF", ("F", "mF", "µF", "nF", "pF", "fF"), Fraction(0))
INDUCTANCE = Unit("inductance", _powers("H", "k-mµn"), "8.4 mH", ("kH", "H", "mH", "µH"), Fraction(0))
POWER = Unit("power", _powers("W", "-mµn"), "100 µW", ("W", "mW", "µW", "nW"), Fraction(0))
TRANSCONDUCTANCE = Unit(
    "transconductance",
    {**_powers("A/V", "-mµn"), **_powers("S", "-mµn")},
    "17 mA/V",
    ("A/V", "mA/V", "µA/V", "nA/V"),
    Fraction(0),
)
RATE = Unit("rate", {**_powers("Bd", "GMk-"), **_powers("bit/s", "GMk-")}, "9600 Bd", ("Bd",), Fraction(0))
TEMPERATURE = Unit(
    "temperature",
    {"°C": Fraction(1), "degC": Fraction(1), "℃": Fraction(1)},
    "-40 °C",
    ("°C",),
    Fraction("-273.15"),
    Fraction(1000),
)
WARMING = Unit("difference of temperature", {"K": Fraction(1)}, "5 K", ("K",), Fraction(0), Fraction(1000))
CURVATURE = Unit(
    "parabolic coefficient",
    {f"ppm/{kelvin}": Fraction(1, 10**6) for kelvin in ("K²", "K^2", "°C²", "°C^2", "degC^2")},
    "-0.035 ppm/K²",
    ("ppm/K²",),
)
PULLING = Unit("pulling", {"ppm/pF": Fraction(10**6)}, "-11 ppm/pF", ("ppm/pF",))
SHARE = Unit(
    "share", {"%": Fraction(1, 100), "ppm": Fraction(1, 10**6), "ppb": Fraction(1, 10**9)}, "0.25 %", ("%", "ppm")
)


def read_quantity(text: object, kind: Unit) -> Fraction:
    """The quantity in the base unit of its kind, exact.

    Raises Unreadable with what stands there, the units allowed and an example.

    >>> read_quantity("95 µA", CURRENT) == read_quantity("95uA", CURRENT) == Fraction(95, 10**6)
    True
    """
    plain = as_text(text, kind)
    value, unit = split_quantity(plain, kind)
    if unit == "":
        raise Unreadable(f"{quote(plain)} has no unit", f"write it as {plain} {kind.example.split()[-1]}")
    return in_range(value * _size(plain, unit, kind), plain, kind)


def as_text(text: object, kind: Unit) -> str:
    """The text of a quantity field, trimmed; anything that is no text, or far too long, is refused."""
    if not isinstance(text, str):
        raise Unreadable(f"{quote(text)} is no text with a unit", f'write a {kind.name} as "{kind.example}"')
    if len(text) > LONGEST:
        raise Unreadable(f"{quote(text)} is too long", f"at most {LONGEST} characters, such as {kind.example}")
    if not text.strip(SPACES + "\t\r\n"):
        raise Unreadable("nothing stands here", f"write a {kind.name} such as {kind.example}")
    return text.strip(SPACES + "\t\r\n")


def split_quantity(plain: str, kind: Unit) -> tuple[Fraction, str]:
    """The number and the unit of a trimmed text; the unit may be empty."""
    found = match_number(plain)
    if found is None:
        raise Unreadable(f"{quote(plain)} is no {kind.name}", f"write it like {kind.example}")
    value, end = found
    unit = plain[end:].lstrip(SPACES)
    if (unit[:1] in ("e", "E") and unit[1:2].isdigit()) or unit[:2] in ("e-", "e+", "E-", "E+"):
        raise Unreadable(f"{quote(plain)} is written with an exponent", f"write it out, like {kind.example}")
    if unit.startswith(","):
        raise Unreadable(f"{quote(plain)} has a comma", f"write a decimal point, like {kind.example}")
    return value, unit


def _size(plain: str, unit: str, kind: Unit) -> Fraction:
    if unit in kind.units:
        return kind.units[unit]
    like = nearest(unit, kind.units)
    by_case = [name for name in kind.units if name.lower() == unit.lower()]
    offer = by_case[0] if by_case else like
    hint = f"did you mean {offer}? " if offer else ""
    raise Unreadable(
        f"{quote(plain)} has the unit {quote(unit)}",
        f"{hint}a {kind.name} is written in {', '.join(kind.written)}, like {kind.example}",
    )


def in_range(value: Fraction, plain: str, kind: Unit) -> Fraction:
    """The value itself, if a quantity of this kind can be that small and that large."""
    if kind.least is not None and value < kind.least:
        sign = "zero" if value == 0 else "below what can be"
        raise Unreadable(f"{quote(plain)} is {sign}", f"a {kind.name} is at least {write_quantity(kind.least, kind)}")
    if kind.most is not None and value > kind.most:
        raise Unreadable(
            f"{quote(plain)} is above what can be", f"a {kind.name} is at most {write_quantity(kind.most, kind)}"
        )
    return value


def read_frequency(text: object) -> Fraction:
    """A frequency in hertz, above zero."""
    return read_quantity(text, FREQUENCY)


def read_voltage(text: object) -> Fraction:
    """A voltage in volts."""
    return read_quantity(text, VOLTAGE)


def pick_unit(value: Fraction, kind: Unit) -> str:
    """The largest unit in which the value is at least one; zero goes in the first."""
    if kind.written == SHARE.written and abs(value) >= Fraction(1, 1000):
        return "%"
    size = abs(value)
    smallest = kind.by_size[-1][0] if value else kind.written[0]
    return next((name for name, unit in kind.by_size if size >= unit), smallest)


def write_quantity(value: Fraction, kind: Unit) -> str:
    """The quantity exactly, in the unit that suits its size, as it stands in files; it reads back the same.

    >>> write_quantity(Fraction(32768), FREQUENCY), write_quantity(Fraction(232000000, 9), FREQUENCY)
    ('32.768 kHz', '232/9 MHz')
    """
    unit = pick_unit(value, kind)
    return f"{write_exact(value / kind.units[unit])} {unit}"


def say_quantity(value: Fraction, kind: Unit, figures: int = 3) -> str:
    """The quantity rounded for reading, with a no-break space before the unit, which suits what it is rounded to.

    >>> say_quantity(Fraction(1222222), FREQUENCY) == "1.22\\u00a0MHz"
    True
    >>> say_quantity(Fraction(999550), FREQUENCY) == "1\\u00a0MHz"
    True
    """
    size = kind.units[pick_unit(value, kind)]
    unit = pick_unit(round_to(value / size, figures) * size, kind)
    return f"{write_figures(value / kind.units[unit], figures)}{NO_BREAK_SPACE}{unit}"


def say_frequency(value: Fraction, places: int = 6) -> str:
    """A frequency exactly where six decimals do it, else cut with `…`.

    >>> say_frequency(Fraction(29000000)), say_frequency(Fraction(232000000, 9))
    ('29\\xa0MHz', '25.777777…\\xa0MHz')
    """
    unit = pick_unit(value, FREQUENCY)
    return f"{write_cut(value / FREQUENCY.units[unit], places)}{NO_BREAK_SPACE}{unit}"


def plain_minus(text: str) -> str:
    """The text with U+2212 written as a hyphen, for files.

    >>> plain_minus("\\u22121.5")
    '-1.5'
    """
    return text.replace(MINUS, "-")
