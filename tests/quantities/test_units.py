"""Quantities: unit sizes from the International System of Units (BIPM, 9th edition, 2019, tables 3, 4 and 7)."""

import contextlib
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.findings import Unreadable
from wheelwork.quantities import units
from wheelwork.quantities.units import read_quantity, write_quantity

READ = [
    ("16 MHz", units.FREQUENCY, Fraction(16_000_000)),
    ("32.768 kHz", units.FREQUENCY, Fraction(32_768)),
    ("11.2896 MHz", units.FREQUENCY, Fraction(11_289_600)),
    ("1 000.5 kHz", units.FREQUENCY, Fraction(1_000_500)),
    ("1\u2009000\u2009000 Hz", units.FREQUENCY, Fraction(1_000_000)),
    ("232/9 MHz", units.FREQUENCY, Fraction(232_000_000, 9)),
    ("1.2 V", units.VOLTAGE, Fraction(6, 5)),
    ("95 µA", units.CURRENT, Fraction(95, 10**6)),
    ("95 uA", units.CURRENT, Fraction(95, 10**6)),
    ("95 \u03bcA", units.CURRENT, Fraction(95, 10**6)),
    ("100 µA/MHz", units.CURRENT_SLOPE, Fraction(100, 10**12)),
    ("2 ms", units.TIME, Fraction(2, 1000)),
    ("220 mAh", units.CHARGE, Fraction(792)),  # 0.22 A * 3600 s
    ("10 kΩ", units.RESISTANCE, Fraction(10_000)),
    ("10 kohm", units.RESISTANCE, Fraction(10_000)),
    ("8 pF", units.CAPACITANCE, Fraction(8, 10**12)),
    ("9600 Bd", units.RATE, Fraction(9600)),
    ("500 kbit/s", units.RATE, Fraction(500_000)),
    ("-40 °C", units.TEMPERATURE, Fraction(-40)),
    ("\u221240 degC", units.TEMPERATURE, Fraction(-40)),
    ("0.25 %", units.SHARE, Fraction(1, 400)),
    ("20 ppm", units.SHARE, Fraction(1, 50_000)),
]

REFUSED = [
    ("8", "has no unit", "write it as 8 MHz"),
    ("8,5 MHz", "has a comma", "decimal point"),
    ("1e400 MHz", "exponent", "write it out"),
    ("8 mhz", "has the unit 'mhz'", "did you mean MHz"),
    ("8 V", "has the unit 'V'", "MHz, kHz, Hz"),
    ("0 MHz", "is zero", "at least"),
    ("-8 MHz", "below what can be", "at least"),
    ("9999999 GHz", "above what can be", "at most"),
    ("1/0 MHz", "divides by nothing", "not 0"),
    ("fast", "is no frequency", "like 8 MHz"),
    ("", "nothing stands here", "8 MHz"),
    ("8 MHz" + " " * 200, "too long", "at most 120 characters"),
    ("1" * 60 + " Hz", "too many digits", "at most 40"),
]


@pytest.mark.parametrize(("text", "kind", "value"), READ, ids=lambda case: str(case)[:20])
def test_a_quantity_is_read_exactly(text: str, kind: units.Unit, value: Fraction) -> None:
    assert read_quantity(text, kind) == value


@pytest.mark.parametrize(("text", "what", "allowed"), REFUSED, ids=lambda case: str(case)[:20])
def test_what_is_no_frequency_is_refused_with_what_would_be(text: str, what: str, allowed: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read_quantity(text, units.FREQUENCY)
    assert what in refused.value.what
    assert allowed in refused.value.allowed


@pytest.mark.parametrize("given_value", [8, 8.0, None, True, ["8 MHz"], {"MHz": 8}], ids=str)
def test_what_is_no_text_is_refused(given_value: object) -> None:
    with pytest.raises(Unreadable, match="no text with a unit"):
        read_quantity(given_value, units.FREQUENCY)


@given(st.fractions(min_value=Fraction(1, 1000), max_value=10**9, max_denominator=10**6))
def test_a_frequency_that_was_written_reads_back_the_same(value: Fraction) -> None:
    assert read_quantity(write_quantity(value, units.FREQUENCY), units.FREQUENCY) == value


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    with contextlib.suppress(Unreadable):
        assert read_quantity(text, units.FREQUENCY) > 0


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (Fraction(29_000_000), "29\u00a0MHz"),
        (Fraction(232_000_000, 9), "25.777777…\u00a0MHz"),
        (Fraction(32_768), "32.768\u00a0kHz"),
        (Fraction(1, 2), "0.5\u00a0Hz"),
    ],
)
def test_a_frequency_is_cut_and_not_rounded(value: Fraction, said: str) -> None:
    assert units.say_frequency(value) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (Fraction(10_993_040, 9), "1.22\u00a0MHz"),
        (Fraction(43_993_040), "44\u00a0MHz"),
        (Fraction(1_740), "1.74\u00a0kHz"),
        (Fraction(582_500), "583\u00a0kHz"),
        (Fraction(-1_740), "\u22121.74\u00a0kHz"),
    ],
)
def test_an_amount_has_three_figures(value: Fraction, said: str) -> None:
    assert units.say_quantity(value, units.FREQUENCY) == said
