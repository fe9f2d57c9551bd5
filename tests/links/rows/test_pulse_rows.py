"""Published limits of pulses, each held to the table of pulses and to the counts of a clock that keep it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from tests.links.published import each_row, entry, exact, printed
from wheelwork.links.family import Feed
from wheelwork.links.pulses import PULSES, Pulse, counts_for, judge_length, pulse
from wheelwork.links.serial_times import infrared_pulse
from wheelwork.quantities.spans import EXACT

MICROSECOND, MILLISECOND = Fraction(1, 10**6), Fraction(1, 10**3)
FINE = Feed(Fraction(10**9), EXACT)
"""A clock whose count is a nanosecond, so that every published limit is a whole number of counts."""


def hold(limits: Pulse, shortest: Fraction | None, nominal: Fraction | None, longest: Fraction | None) -> None:
    """Hold a pulse to its published limits, to the verdicts on either side of them, and to the counts between."""
    assert (limits.shortest, limits.nominal, limits.longest) == (shortest, nominal, longest)
    step = Fraction(1, 10**9)
    if shortest is not None:
        assert judge_length(limits, shortest, shortest, shortest) == "inside"
        assert judge_length(limits, *[shortest - step] * 3) == "under"
    if longest is not None:
        assert judge_length(limits, longest, longest, longest) == "inside"
        assert judge_length(limits, *[longest + step] * 3) == "over"
    most = None if longest is None else longest * 10**9
    assert counts_for(limits, FINE) == (1 if shortest is None else shortest * 10**9, most)


def ends(row: Any, unit: str, size: Fraction) -> list[Fraction | None]:
    """What a row states as least, nominal and most, in seconds."""
    figures = [row.get(f"{end}_{unit}") for end in ("min", "nominal", "max")]
    return [None if figure is None else exact(figure) * size for figure in figures]


@each_row("cec.bits")
def test_control_bits_are_told_apart_as_published(entry: Any, row: Any) -> None:
    hold(pulse("cec", row["quantity"]), *ends(row, "ms", MILLISECOND))


@each_row("one_wire.slots")
def test_slots_on_one_wire_are_as_long_as_published(entry: Any, row: Any) -> None:
    hold(pulse("one-wire", row["quantity"]), *ends(row, "us", MICROSECOND))


@each_row("led.single_wire")
def test_codes_on_a_chain_of_lamps_are_as_long_as_published(entry: Any, row: Any) -> None:
    least, nominal, most = ends(row, "us", MICROSECOND)
    if nominal is not None:
        off = exact(row["tolerance_ns"]) / 10**9
        least, most = nominal - off, nominal + off
    hold(pulse("led", row["quantity"]), least, nominal, most)


@each_row("async.dmx512a", only=(2, 3, 4, 5))
def test_breaks_and_marks_of_lighting_control_are_as_long_as_published(entry: Any, row: Any) -> None:
    hold(pulse("dmx512", row["quantity"]), row["min"] * MICROSECOND, None, None)


INFRARED_BITS_CUT = {2400}  # printed as 416, which is 416.67 cut
INFRARED_PULSES_OFF = {57600: "3.26", 38400: "4.9", 19200: "9.8"}  # printed as 3.22, 4.8 and 9.7, not 3/16 of the bit


@each_row("async.irda_sir.pulse")
def test_an_infrared_zero_is_as_long_as_published(entry: Any, row: Any) -> None:
    """The longest is that of the first edition (the column that was confirmed)."""
    rate = row["rate_baud"]
    limits = pulse("infrared", f"zero at {rate} Bd")
    figures = [exact(row[key]) * MICROSECOND for key in ("min_us", "nominal_us", "max_us_1v0")]
    hold(limits, *figures)
    bit, length = 1 / exact(rate) / MICROSECOND, infrared_pulse(exact(rate)) / MICROSECOND
    assert printed(bit - Fraction(1, 2) if rate in INFRARED_BITS_CUT else bit, str(row["bit_us"]))
    assert printed(length, INFRARED_PULSES_OFF.get(rate, str(row["nominal_us"])))
    assert judge_length(limits, *[infrared_pulse(exact(rate))] * 3) == "inside"


def test_a_model_servo_takes_one_to_two_milliseconds_fifty_times_a_second() -> None:
    published = entry("servo.pulse")
    figures = [exact(published[f"pulse_{end}_ms"]) * MILLISECOND for end in ("min", "centre", "max")]
    hold(pulse("servo", "pulse"), *figures)
    slow, fast = (Fraction(rate) for rate in published["refresh_tolerated_hz"].split(".."))
    hold(pulse("servo", "period"), 1 / fast, exact(published["period_ms"]) * MILLISECOND, 1 / slow)
    assert 1 / exact(published["rate_hz"]) == pulse("servo", "period").nominal


def test_no_pulse_is_named_twice() -> None:
    assert len({(each.line, each.what) for each in PULSES}) == len(PULSES)
