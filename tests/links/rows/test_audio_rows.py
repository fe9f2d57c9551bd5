"""Published master clocks, bit clocks, microphones' windows and the digital interface's accuracies, row by row."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from tests.links.published import agrees, each_row, entry, exact, printed
from tests.links.test_dividing import PPM, answer, feed, refused_at
from wheelwork.links import audio_clocks
from wheelwork.links.audio_clocks import BIT_MICROPHONE, STANDARDS, WORD_MICROPHONE, bit_clock, decimated

BY_NAME = {each.name: each for each in STANDARDS}
RATIOS = [64, 96, 128, 192, 256, 384, 512, 768, 1024]


def half_width(name: str) -> Fraction:
    allowance = BY_NAME[name].allowance
    assert allowance is not None
    assert allowance.highest is not None
    assert allowance.lowest == -allowance.highest
    return allowance.highest


@each_row("audio.master_clock")
def test_a_master_clock_makes_the_sample_rate_by_its_ratio(entry: Any, row: Any) -> None:
    """Of all ratios on offer the one printed is the only exact one at that clock undivided."""
    found = answer(
        "audio",
        feed(row["master_clock_hz"]),
        {"master": RATIOS, "divisor": [1]},
        {"sample_rate": f"{row['sample_rate_hz']} Hz"},
    )
    best = found.choices[0]
    assert (best.settings["master"], best.error, best.told["master_clock"]) == (row["ratio"], 0, row["master_clock_hz"])
    assert Fraction(row["published_master_clock_mhz"]) * 10**6 == row["master_clock_hz"]


def test_the_two_families_of_rates_are_147_to_160() -> None:
    published = entry("audio.families")
    slow, fast = audio_clocks.SAMPLE_RATES
    assert (slow, fast) == (published["family_44k1_base_hz"], published["family_48k_base_hz"])
    assert slow / fast == exact(published["ratio_of_families"])
    for clock in published["classic_master_clocks_hz"]:
        found = [
            answer("audio", feed(clock), {"master": RATIOS}, {"sample_rate": f"{rate} Hz"}) for rate in (slow, fast)
        ]
        assert [each.choices[0].error == 0 for each in found].count(True) == 1


@each_row("audio.ratios")
def test_a_multiplied_clock_misses_the_master_clock_as_published(entry: Any, row: Any) -> None:
    clock = Fraction(row["source_hz"]) * row["multiply"] / row["divide"]
    assert agrees(clock, row["derived_clock_hz"])
    asked = f"{Fraction(row['wanted_hz'], 256)} Hz"
    for standard, key in (("iec-60958-high-accuracy", "within_50ppm"), ("iec-60958-normal", "within_1000ppm")):
        found = answer("audio", feed(clock), {"master": [256]}, {"sample_rate": asked, "standard": standard})
        assert found.choices[0].error is not None
        assert agrees(found.choices[0].error * 10**6, row["derived_offset_ppm"])
        assert (found.verdict == "inside") == row[key]


@each_row("audio.bit_clock")
def test_a_bit_clock_is_rate_times_slots_times_bits(entry: Any, row: Any) -> None:
    ours = bit_clock(Fraction(row["sample_rate_hz"]), row["slots"], row["bits_per_slot"])
    assert ours == row["derived_bit_clock_hz"]


def test_an_i2s_bus_has_the_published_shares_of_its_period() -> None:
    """The example of 2.5 MHz, 400 ns ± 10 %, is from memory."""
    published = entry("audio.i2s_spec")
    assert exact(published["clock_high_min_T"]) == exact(published["clock_low_min_T"]) == audio_clocks.LEAST_LEVEL
    assert exact(published["data_delay_max_T"]) == audio_clocks.LONGEST_DELAY
    assert exact(published["rise_time_max_T"]) == audio_clocks.LONGEST_RISE
    assert exact(published["receiver_setup_min_T"]) == audio_clocks.LEAST_SET_UP
    share, period = half_width("i2s"), 10**9 / Fraction(published["example_clock_hz"])
    assert share * 100 == exact(published["example_tolerance_percent"])
    assert (period * (1 - share), period * (1 + share)) == (
        published["example_period_min_ns"],
        published["example_period_max_ns"],
    )


@each_row("audio.iec60958")
def test_the_digital_interface_has_the_published_levels(entry: Any, row: Any) -> None:
    """The figure of level III is from memory and by agreement."""
    name = {
        "I (high accuracy)": "iec-60958-high-accuracy",
        "II (normal)": "iec-60958-normal",
        "III (variable pitch)": "iec-60958-variable",
    }[row["level"]]
    if "tolerance_ppm" in row:
        assert half_width(name) == row["tolerance_ppm"] * PPM
    else:
        assert f"{float(half_width(name) * 100)} %" in row["tolerance_ppm_text"]


def test_a_microphone_that_gives_bits_has_its_window() -> None:
    """The common clocks and decimations are from memory."""
    published = entry("audio.pdm")
    assert (BIT_MICROPHONE.lowest, BIT_MICROPHONE.highest) == (published["clock_min_hz"], published["clock_max_hz"])
    assert all(BIT_MICROPHONE.holds(Fraction(clock)) for clock in published["common_clock_hz"])


@each_row("audio.pdm.rates")
def test_a_stream_of_bits_makes_the_published_sample_rate(entry: Any, row: Any) -> None:
    clock, decimation = Fraction(row["pdm_clock_hz"]), row["decimation"]
    rate = decimated(clock, decimation)
    assert rate == exact(row["derived_sample_rate_hz"])
    assert BIT_MICROPHONE.holds(clock) == row["inside_typical_window"]
    asked = {"sample_rate": f"{rate} Hz", "standard": "bit-microphone"}
    assert (answer("audio", feed(clock), {"master": [decimation]}, asked).verdict == "inside") == row[
        "inside_typical_window"
    ]


def test_a_microphone_that_gives_words_takes_64_bits_a_frame() -> None:
    published = entry("audio.i2s_mic")
    assert (WORD_MICROPHONE.lowest, WORD_MICROPHONE.highest) == (
        published["bit_clock_min_hz"],
        published["bit_clock_max_hz"],
    )
    assert published["bits_per_frame"] == audio_clocks.WORD_MICROPHONE_BITS
    ends = BY_NAME["word-microphone"]
    assert ends.slowest is not None
    assert printed(ends.slowest / 1000, str(published["word_select_min_hz"] / 1000))
    assert ends.fastest == published["word_select_max_hz"]
    asked = {"sample_rate": "96 kHz", "standard": "word-microphone"}
    assert refused_at("audio", {"master": [256], "divisor": "1..9"}, asked) == ["ask.sample_rate"]


def test_a_microphone_s_clock_outside_its_window_fits_only_where_no_other_does() -> None:
    """24.576 MHz: 48 kHz by 64 is 3.072 MHz, by 512 it is 24.576 MHz, past 4.8 MHz (AN-000111)."""
    asked = {"sample_rate": "48 kHz", "standard": "bit-microphone"}
    found = answer("audio", feed(24_576_000), {"master": [64, 512], "divisor": "1..16"}, asked)
    assert (found.choices[0].settings, found.verdict) == ({"master": 64, "divisor": 8}, "inside")
    found = answer("audio", feed(24_576_000), {"master": [512], "divisor": [1]}, asked)
    assert (found.verdict, found.choices[0].error, found.choices[0].verdict) == ("none fits", 0, "over")
    assert found.choices[0].missed[0].replace("\u00a0", " ") == "the master clock is 24.6 MHz, 19.8 MHz over 4.8 MHz"
    near = answer("audio", feed(4_800_000, 10), {"master": [100]}, asked)
    assert (near.verdict, len(near.choices[0].missed)) == ("tight", 1)
