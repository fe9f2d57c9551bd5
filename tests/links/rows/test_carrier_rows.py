"""Published carriers and what is counted from them: infrared codes, radio cards, colour television."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from tests.links.published import agrees, each_row, entry, exact, printed
from wheelwork.links import carriers
from wheelwork.links.carriers import card_rate, card_time, nearest_division

MICROSECOND = Fraction(1, 10**6)
SIZES: dict[str, int | Fraction] = {
    "MHz": 10**6,
    "kHz": 10**3,
    "kbit/s": 10**3,
    "Hz": 1,
    "s": 1,
    "ms": Fraction(1, 1000),
    "us": MICROSECOND,
}


def held(value: Fraction, row: Any) -> None:
    """Hold a value to a row's exact figure, and to its printed one, which may be cut and not rounded."""
    figure = value / SIZES[row["unit"]]
    assert agrees(figure, row["derived_value"])
    if row["published_vs_exact"] == "rounded":
        assert printed(figure, row["published"])
    else:
        assert 0 < figure - Fraction(row["published"]) < Fraction(1, 10 ** len(row["published"].partition(".")[2]))


@each_row("ir.carriers")
def test_an_infrared_carrier_is_the_nearest_division_of_its_source(entry: Any, row: Any) -> None:
    source = exact(row["source_hz"])
    carrier = source / row["division"]
    assert agrees(carrier, row["derived_carrier_hz"])
    assert nearest_division(source, exact(row.get("wanted_hz", row["derived_carrier_hz"]))) == row["division"]
    if "wanted_hz" in row:
        assert agrees(100 * (carrier / row["wanted_hz"] - 1), row["derived_error_percent"])


def test_the_pulse_distance_code_counts_in_units_of_562_and_a_half_microseconds() -> None:
    published = entry("ir.nec")
    assert exact(published["unit_us"]) == carriers.PULSE_DISTANCE_UNIT / MICROSECOND
    assert published["logical0_us"] == carriers.PULSE_DISTANCE_ZERO / MICROSECOND
    assert published["logical1_us"] == carriers.PULSE_DISTANCE_ONE / MICROSECOND
    assert published["leader_mark_us"] == carriers.PULSE_DISTANCE_MARK / MICROSECOND
    assert published["leader_space_us"] == carriers.PULSE_DISTANCE_SPACE / MICROSECOND
    assert exact(published["carrier_alternatives_hz"][0]) == carriers.REMOTE_CARRIER


def test_the_bi_phase_code_has_32_cycles_in_half_a_bit() -> None:
    published = entry("ir.rc5")
    half, message = carriers.half_bit_time(), carriers.message_time()
    assert (published["carrier_hz"], published["bits"]) == (carriers.BI_PHASE_CARRIER, carriers.BI_PHASE_BITS)
    assert half / MICROSECOND == exact(published["derived_half_bit_us"])
    assert 2 * half / MICROSECOND == exact(published["derived_bit_us"])
    assert agrees(message * 1000, published["derived_message_ms"])
    assert printed(half / MICROSECOND, published["published_half_bit_us"])
    assert printed(2 * half / MICROSECOND, published["published_bit_us"])
    assert printed(message * 1000, published["published_message_ms"])
    assert printed(1 / carriers.BI_PHASE_CARRIER / MICROSECOND, published["published_carrier_period_us"])


@each_row("rfid.derived")
def test_a_radio_card_counts_its_rates_and_times_from_its_carrier(entry: Any, row: Any) -> None:
    """fc/28 and fc/8192 are printed cut."""
    if row["case"].startswith("fc/"):
        held(card_rate(int(row["case"].removeprefix("fc/"))), row)
    else:
        held(card_time(int(row["case"].removesuffix("/fc"))), row)


def test_a_radio_card_bears_seven_kilohertz_about_its_carrier() -> None:
    published = entry("rfid.carrier")
    assert (published["carrier_hz"], published["tolerance_hz"]) == (carriers.CARD_CARRIER, carriers.CARD_CARRIER_OFF)
    share = 10**6 * carriers.CARD_CARRIER_OFF / carriers.CARD_CARRIER
    assert agrees(share, published["derived_tolerance_ppm"])


@each_row("ntsc.derived")
def test_a_frequency_counted_from_the_colour_subcarrier_is_the_published_one(entry: Any, row: Any) -> None:
    """The period of 65536 counts (54.9254 ms, printed 54.92) and the crystal for an hour are printed cut."""
    timer = carriers.INTERVAL_TIMER
    told = {
        "4 * subcarrier": 4 * carriers.COLOUR_SUBCARRIER,
        "4 * subcarrier / 12 (interval timer)": timer,
        "period of 65536 counts": 65536 / timer,
        "65536 such periods": 65536 * 65536 / timer,
        "crystal for exactly one hour": carriers.hour_crystal(),
        "4 * subcarrier / 3": 4 * carriers.COLOUR_SUBCARRIER / 3,
        "vertical rate 2*line/525": carriers.field_rate(),
        "subcarrier": carriers.COLOUR_SUBCARRIER,
    }
    held(told[row["case"]], row)


def test_colour_television_has_its_line_and_field_from_the_subcarrier() -> None:
    """The line rate is printed 15734.264, which comes of a rounded subcarrier; 4.5 MHz / 286 is exact."""
    published = entry("ntsc")
    assert exact(published["subcarrier_hz"]) == carriers.COLOUR_SUBCARRIER
    assert exact(published["line_hz"]) == carriers.COLOUR_LINE
    assert agrees(carriers.COLOUR_LINE, published["derived_line_hz"])
    assert carriers.field_rate() == exact(published["field_hz"])
