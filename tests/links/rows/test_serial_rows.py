"""Published divisor tables and worked figures of asynchronous serial lines, each held to the family's own answer."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.links.published import agrees, each_row, entry, exact, printed
from wheelwork.links.family import Choice, Feed
from wheelwork.links.fields import Fields
from wheelwork.links.serial_standards import STANDARDS
from wheelwork.links.serial_times import (
    MICROSECOND,
    character_time,
    infrared_pulse,
    inter_character_limit,
    least_synchronizing_clock,
    lighting_frame_time,
    packet_time,
    silent_interval,
)
from wheelwork.links.smart_card import (
    ADJUSTMENTS,
    CONVERSIONS,
    LEAST_CLOCK,
    USUAL_ADJUSTMENT,
    USUAL_CONVERSION,
    bit_rate,
    clocks_per_bit,
    waiting_time,
)
from wheelwork.links.uart import FAMILY, common_allowance, half_bit_budget, receiver_window
from wheelwork.quantities.spans import EXACT

BY_NAME = {each.name: each for each in STANDARDS}


def nearest(clock: Any, rate: Any, **generator: Any) -> Choice:
    """The first choice that the family gives for a rate on a clock without tolerance."""
    offered = FAMILY.read_generator(Fields({"divisor": "1..65535", **generator}, "generator"))
    ask = FAMILY.read_ask(Fields({"rate": f"{rate} Bd"}, "ask"))
    return FAMILY.answer(Feed(exact(clock), EXACT), offered, ask).choices[0]


def percent(error: Fraction | None) -> Fraction:
    assert error is not None
    return 100 * error


@each_row("async.uart16550.clk1843200", "async.uart16550.clk3072000", "async.uart16550.clk18432000")
def test_the_nearest_divisor_is_the_tables(entry: Any, row: Any) -> None:
    found = nearest(entry["clock_hz"], row["baud"], oversampling=[int(entry["oversampling"])])
    assert found.settings["divisor"] == row["divisor"]
    assert found.rate == exact(row["derived_rate_baud"])
    assert agrees(percent(found.error), row["derived_signed_error_percent"])
    if row["published_error_percent"] not in ("none printed", "not recorded"):
        assert printed(abs(percent(found.error)), row["published_error_percent"])


@each_row("async.mcu8.divisor_tables")
def test_the_nearest_divisor_at_8_or_16_samples_is_the_tables(entry: Any, row: Any) -> None:
    found = nearest(row["clock_hz"], row["baud"], oversampling=[int(row["oversampling"])])
    assert found.settings["divisor"] == row["divisor"]
    assert found.rate == exact(row["derived_rate_baud"])
    assert agrees(percent(found.error), row["derived_signed_error_percent"])
    assert printed(percent(found.error), row["published_error_percent"])


@each_row("async.mcu.total_division")
def test_two_stages_of_division_are_searched_as_one(entry: Any, row: Any) -> None:
    """The prescaler 64 * 4^n stands for the samples a bit."""
    found = nearest(row["clock_hz"], row["baud"], oversampling=[64, 256, 1024, 4096], divisor="1..256")
    oversampling, divisor = found.settings["oversampling"], found.settings["divisor"]
    assert isinstance(oversampling, int)
    assert isinstance(divisor, Fraction)
    assert oversampling * divisor == row["total_division"]
    assert agrees(percent(found.error), row["derived_signed_error_percent"])
    assert printed(abs(percent(found.error)), row["published_abs_error_percent"])


@each_row("async.fractional_64ths")
def test_the_nearest_divisor_in_64ths_is_the_tables(entry: Any, row: Any) -> None:
    """Three rows print an error that comes of a divisor rounded to three decimals (`differs`): the exact one counts."""
    found = nearest(row["clock_hz"], row["baud"], fraction_of=64)
    assert found.settings["divisor"] == row["integer_divisor"] + Fraction(row["fraction_64ths"], 64)
    assert found.rate == exact(row["derived_rate_baud"])
    assert agrees(percent(found.error), row["derived_signed_error_percent"])
    if row.get("published_vs_exact") == "rounded":
        assert printed(found.rate, str(row["published_rate_baud"]))
        assert printed(abs(percent(found.error)), row["published_error_percent"])


@each_row("async.irda.baud_error")
def test_an_infrared_rate_has_the_tables_divisor_error_and_pulse(entry: Any, row: Any) -> None:
    """The table's error is a share of the actual rate, ours one of the rate wanted."""
    found = nearest(row["clock_hz"], row["baud"], oversampling=[int(entry["oversampling"])])
    assert found.rate is not None
    assert found.settings["divisor"] == row["divisor"]
    assert agrees(percent(found.error), row["derived_signed_error_of_desired_percent"])
    of_actual = abs(1 - row["baud"] / found.rate) * 100
    assert agrees(of_actual, row["derived_error_of_actual_percent"])
    assert printed(of_actual, row["published_abs_error_percent"])
    assert printed(infrared_pulse(exact(row["baud"])) / MICROSECOND, row["published_pulse_us"])


@each_row("async.rx_window")
def test_the_receivers_window_and_what_is_recommended_of_it_are_the_tables(entry: Any, row: Any) -> None:
    bits, samples = row["data_plus_parity_bits"], row["oversampling"]
    window = receiver_window(bits, samples)
    slow, fast = 100 * (1 + window.lowest), 100 * (1 + window.highest)
    assert agrees(slow, row["derived_slow_percent"])
    assert agrees(fast, row["derived_fast_percent"])
    assert printed(slow, row["published_slow_percent"])
    assert printed(fast, row["published_fast_percent"])
    assert printed(fast - 100, row["published_total_high_percent"])
    misprint = (bits, samples) == (8, 16)  # printed as -4.54, where its own slow limit of 95.36 makes -4.64
    assert printed(slow - 100, "-4.64" if misprint else row["published_total_low_percent"])
    assert common_allowance(bits, samples).highest == exact(row["published_recommended_percent"]) / 100


@each_row("async.half_bit_budget")
def test_both_ends_together_may_be_off_by_half_a_bit_over_the_character(entry: Any, row: Any) -> None:
    budget = half_bit_budget(exact(row["span_bits"]), exact(row.get("start_uncertainty_bits", 0)))
    assert agrees(100 * budget, row["derived_tolerance_percent"])
    if "published_tolerance_percent" in row:
        assert printed(100 * budget, row["published_tolerance_percent"])


def test_midi_is_31250_baud_within_one_percent() -> None:
    midi, published = BY_NAME["midi"], entry("async.midi1")
    assert midi.rate == published["rate_baud"]
    assert midi.allowance is not None
    assert 100 * (midi.allowance.lowest or 0) == exact(published["tolerance_lower_percent"])
    assert 100 * (midi.allowance.highest or 0) == exact(published["tolerance_upper_percent"])
    bits = published["start_bits"] + published["data_bits"] + published["stop_bits"]
    assert character_time(midi.rate, Fraction(bits)) / MICROSECOND == published["character_time_us"]


@pytest.mark.parametrize("megahertz", [1, 8, 16])
def test_midi_divides_evenly_from_whole_megahertz(megahertz: int) -> None:
    found = nearest(megahertz * 10**6, 31250)
    assert found.settings["divisor"] == entry("async.midi1")[f"divisor_from_{megahertz}MHz_16x"]
    assert found.error == 0


@each_row("async.dmx512a", only=(0, 1, 6, 7, 8))  # the others are pulses: test_pulse_rows.py
def test_lighting_control_has_the_standards_rate_slot_and_packet(entry: Any, row: Any) -> None:
    standard = BY_NAME["dmx512"]
    rate, allowance = standard.rate, standard.allowance
    assert rate is not None
    assert allowance is not None
    slowest, fastest = rate * (1 + (allowance.lowest or 0)), rate * (1 + (allowance.highest or 0))
    packet = packet_time(513, 92 * MICROSECOND, 12 * MICROSECOND)
    told = {
        "bit rate": {"min": slowest, "nominal": rate, "max": fastest},
        "bit time": {"min": 10**6 / fastest, "nominal": 10**6 / rate, "max": 10**6 / slowest},
        "slot (11 bits, 8N2)": {"nominal": character_time(rate, Fraction(11)) / MICROSECOND},
        "shortest full packet, 513 slots with 92+12 us": {"nominal": packet / MICROSECOND},
        "full packets per second": {"nominal": Fraction(1 / packet // 1)},
    }[row["quantity"]]
    for end, value in told.items():
        assert printed(value, str(row[end]))


LIN = {
    "master node, deviation from nominal": "lin",
    "slave with own accurate clock, no synchronization": "lin-own-clock",
    "slave before synchronization": "lin-before-synchronization",
    "slave after synchronization, relative to master": "lin-synchronized",
    "any two nodes, bit-rate difference": "lin-synchronized",
}


@each_row("async.lin")
def test_lin_allows_what_its_table_says(entry: Any, row: Any) -> None:
    if row["quantity"] == "bit rate":
        ends = {(BY_NAME[name].slowest, BY_NAME[name].fastest) for name in LIN.values()}
        assert ends == {(row["min"], row["max"])}
        return
    allowance = BY_NAME[LIN[row["quantity"]]].allowance
    assert allowance is not None
    assert allowance.highest == exact(row["tolerance_percent"]) / 100
    assert allowance.lowest == -exact(row["tolerance_percent"]) / 100


@each_row("async.lin.sync_clock")
def test_the_least_clock_that_measures_eight_bits_is_the_data_sheets(entry: Any, row: Any) -> None:
    least = least_synchronizing_clock(exact(row["bit_rate"]), row["oversampling"])
    assert agrees(least, row["derived_min_clock_hz"])
    number, unit = row["published_min_clock"].split()
    figure = least / {"MHz": 10**6, "kHz": 10**3}[unit]
    cut = row["published_vs_exact"] != "rounded"  # 2.64 MHz is 2.647 MHz, cut
    assert printed(figure - Fraction(5, 1000) if cut else figure, number)


@each_row("async.modbus_serial")
def test_the_serial_line_guide_is_kept(entry: Any, row: Any) -> None:
    sending, receiving = BY_NAME["modbus"], BY_NAME["modbus-receiving"]
    assert sending.allowance is not None
    assert receiving.allowance is not None
    slow, fast = Fraction(19200), Fraction(38400)
    told: dict[str, list[object]] = {
        "rate accuracy when transmitting": [100 * (sending.allowance.highest or 0), row.get("tolerance_percent")],
        "rate error accepted when receiving": [100 * (receiving.allowance.highest or 0), row.get("tolerance_percent")],
        "required rates": [sending.usual, row.get("default_baud")],
        "character": [silent_interval(slow) * slow / Fraction("3.5"), row.get("bits")],
        "silent interval up to 19200 baud": [silent_interval(slow) * slow / 11, row.get("characters")],
        "silent interval above 19200 baud": [silent_interval(fast) / MICROSECOND, row.get("time_us")],
        "inter-character limit up to 19200 baud": [inter_character_limit(slow) * slow / 11, row.get("characters")],
        "inter-character limit above 19200 baud": [inter_character_limit(fast) / MICROSECOND, row.get("time_us")],
    }
    ours, published = told[row["quantity"]]
    assert ours == exact(published)
    for rate in row.get("values_baud", []):
        ask = FAMILY.read_ask(Fields({"standard": "modbus", "rate": f"{rate} Bd"}, "ask"))
        assert ask.rate == rate


@each_row("async.modbus_serial.gaps")
def test_a_message_ends_after_three_and_a_half_characters(entry: Any, row: Any) -> None:
    rate = exact(row["baud"])
    assert agrees(silent_interval(rate) / MICROSECOND, row["derived_silent_interval_us"])
    assert agrees(character_time(rate, Fraction(11)) / MICROSECOND, row["derived_character_us"])


def test_serial_infrared_has_the_rates_and_the_tolerance_of_its_table() -> None:
    published, ours = entry("async.irda_sir.rate"), BY_NAME["infrared"]
    assert list(ours.rates) == published["rates_baud"]
    assert ours.allowance is not None
    assert 100 * (ours.allowance.lowest or 0) == exact(published["tolerance_lower_percent"])
    assert 100 * (ours.allowance.highest or 0) == exact(published["tolerance_upper_percent"])


@each_row("async.iso7816.F")
def test_a_code_of_a_smart_card_names_its_conversion_and_highest_clock(entry: Any, row: Any) -> None:
    conversion = CONVERSIONS[row["code"]]
    assert (conversion.factor, conversion.highest_clock) == (row["F"], row["clock_max_hz"])
    assert (entry["clock_min_hz"], entry["default_F"]) == (LEAST_CLOCK, USUAL_CONVERSION)


@each_row("async.iso7816.D")
def test_a_code_of_a_smart_card_names_its_adjustment(entry: Any, row: Any) -> None:
    assert ADJUSTMENTS[row["code"]] == row["D"]


def test_a_smart_card_has_as_many_codes_as_its_tables() -> None:
    assert len(CONVERSIONS) == len(entry("async.iso7816.F")["rows"])
    assert len(ADJUSTMENTS) == len(entry("async.iso7816.D")["rows"])
    assert entry("async.iso7816.F")["default_D"] == USUAL_ADJUSTMENT


@each_row("async.iso7816.ratio")
def test_a_bit_of_a_smart_card_is_f_over_d_clocks(entry: Any, row: Any) -> None:
    """Two rows are cut and not rounded in print."""
    clocks = clocks_per_bit(row["F"], row["D"])
    assert clocks == exact(row["derived_ratio"])
    figure = row["published_ratio"]
    if row["published_vs_exact"] == "rounded":
        assert printed(clocks, figure)
    else:
        assert 0 < clocks - Fraction(figure) < Fraction(1, 10 ** len(figure.partition(".")[2]))


@each_row("async.iso7816.rate")
def test_a_smart_cards_rate_is_its_clock_over_a_bit(entry: Any, row: Any) -> None:
    """4 MHz / 372 is printed cut, as 10752."""
    rate = bit_rate(exact(row["clock_hz"]), row["F"], row["D"])
    assert rate == exact(row["derived_bit_rate"])
    assert agrees(rate, row["derived_bit_rate_bps"])
    if "published_bit_rate" in row:
        assert rate // 1 == int(row["published_bit_rate"])


def test_a_smart_card_is_waited_for_a_second_in_the_worked_example() -> None:
    """960 * 10 * 372 / 3571200 s, as the entry's example says."""
    assert waiting_time(Fraction(3571200), 372) == 1


def test_lighting_bus_has_1200_bits_a_second_within_ten_percent() -> None:
    published, ours = entry("async.dali"), BY_NAME["dali"]
    assert ours.rate == published["rate_bps"]
    assert character_time(ours.rate, Fraction(1)) / MICROSECOND == exact(published["bit_us"])
    assert ours.allowance is not None
    assert 100 * (ours.allowance.lowest or 0) == exact(published["tolerance_lower_percent"])
    assert 100 * (ours.allowance.highest or 0) == exact(published["tolerance_upper_percent"])


@each_row("async.dali.frames")
def test_a_lighting_frame_lasts_its_bits_and_its_settling_time(entry: Any, row: Any) -> None:
    milliseconds = lighting_frame_time(row["bits"], exact(row["settling_ms"]) / 1000) * 1000
    assert agrees(milliseconds, row["derived_ms"])
    assert printed(milliseconds, row["published_ms"])


def test_the_field_bus_of_ten_rates_has_them_within_three_tenths_of_a_percent() -> None:
    published, ours = entry("async.profibus"), BY_NAME["profibus"]
    assert list(ours.rates) == published["rates_bps"]
    assert ours.allowance is not None
    assert 100 * (ours.allowance.highest or 0) == exact(published["tolerance_percent"])


def test_a_sensor_link_counts_ticks_of_3_to_90_microseconds() -> None:
    published, ours = entry("async.sent"), BY_NAME["sent"]
    assert ours.slowest is not None
    assert ours.fastest is not None
    assert 10**6 / ours.fastest == published["tick_min_us"]
    assert 10**6 / ours.slowest == published["tick_max_us"]
    assert ours.allowance is not None
    assert 100 * (ours.allowance.highest or 0) == exact(published["tick_tolerance_percent"])


def test_twisted_pair_of_a_house_has_9600_baud() -> None:
    published, ours = entry("async.knx_tp"), BY_NAME["knx"]
    assert ours.rate == published["rate_bps"]
    assert character_time(ours.rate, Fraction(1)) / MICROSECOND == exact(published["bit_us"])
