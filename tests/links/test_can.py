"""Field buses: what each setting bears, the best of all settings, standards, and what cannot be taken."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.links.test_dividing import answer, feed, refused_at, settle
from wheelwork.judge.rate_words import say_settings
from wheelwork.links.bit_timing import Timing, oscillator_tolerance
from wheelwork.links.family import MOST_CHOICES, Choice, Feed
from wheelwork.links.fields import Refused
from wheelwork.quantities.ratios import read_ratios

CLASSIC = {"prescaler": "1..64", "segment_1": "1..16", "segment_2": "1..8", "jump": "1..4"}
FLEXIBLE = {**CLASSIC, "data": {"prescaler": "1..32", "segment_1": "1..16", "segment_2": "1..8", "jump": "1..8"}}
KEYS = ("prescaler", "segment_1", "segment_2", "jump")


def every_timing(offered: dict[str, Any]) -> Iterator[Timing]:
    """Every setting one by one, a jump no longer than either segment."""
    for values in product(*(read_ratios(offered[key]) for key in KEYS)):
        timing = Timing(*(int(value) for value in values))
        if timing.jump <= min(timing.segment_1, timing.segment_2):
            yield timing


def off(timing: Timing, clock: Fraction, rate: int, point: Fraction) -> tuple[Fraction, Fraction]:
    """How far a setting is off in rate and in sample point."""
    return abs(clock / (timing.prescaler * timing.quanta) / rate - 1), abs(timing.sample_point - point)


def timing_of(choice: Choice) -> Timing:
    return Timing(*(int(str(choice.settings[key])) for key in KEYS))


def data_of(choice: Choice) -> Timing:
    data: Any = choice.settings["data"]
    return Timing(*(data[key] for key in KEYS))


SEGMENTS = st.sampled_from(["1..6", "2..5", "3..9 step 3"]) | st.lists(st.integers(1, 9), min_size=1, unique=True)
OFFERED = st.fixed_dictionaries(
    {
        "prescaler": st.sampled_from(["1..12", "2..16 step 2", [1, 2, 4, 8]]),
        "segment_1": SEGMENTS,
        "segment_2": SEGMENTS,
        "jump": st.sampled_from(["1..4", "1..2", [1, 3], [1]]),
    }
)
POINTS = st.integers(1, 99)


@settings(max_examples=60, deadline=None)
@given(clock=st.integers(10**6, 10**7), rate=st.integers(10**4, 10**6), percent=POINTS, offered=OFFERED)
def test_the_choices_are_the_best_of_all_settings(clock: int, rate: int, percent: int, offered: dict[str, Any]) -> None:
    """Of every prescaler, segments and jump; a smaller jump beside the largest is no choice of its own."""
    point = Fraction(percent, 100)

    def worth(timing: Timing) -> tuple[Fraction, Fraction, Fraction, int]:
        return *off(timing, Fraction(clock), rate, point), -oscillator_tolerance(timing), -timing.quanta

    of_one_jump: dict[tuple[int, int, int], Timing] = {}
    for timing in every_timing(offered):
        key = timing.prescaler, timing.segment_1, timing.segment_2
        known = of_one_jump.setdefault(key, timing)
        if timing.jump > known.jump:
            assert oscillator_tolerance(timing) >= oscillator_tolerance(known)
            of_one_jump[key] = timing
    asked = {"rate": f"{rate} bit/s", "sample_point": f"{percent} %"}
    found = [timing_of(choice) for choice in answer("can", feed(clock), offered, asked).choices]
    assert [worth(each) for each in found] == sorted(worth(each) for each in of_one_jump.values())[:MOST_CHOICES]
    assert set(found) <= set(of_one_jump.values())
    assert len(set(found)) == len(found)


@settings(max_examples=30, deadline=None)
@given(
    clock=st.sampled_from([8, 10, 12, 16]),
    rate=st.sampled_from([125, 250, 300, 500]),
    data_rate=st.sampled_from([500, 800, 1000, 2000, 3000]),
    percent=st.sampled_from([60, 75, 80]),
    offered=OFFERED,
    data_offered=OFFERED,
)
def test_with_a_data_phase_the_best_pair_of_all_is_chosen(
    clock: int, rate: int, data_rate: int, percent: int, offered: dict[str, Any], data_offered: dict[str, Any]
) -> None:
    """Both are nearest in rate and sample point; of those pairs the one that bears the most stands first."""
    point, hertz = Fraction(percent, 100), Fraction(clock * 10**6)

    def nearest(every: list[Timing], wanted: int) -> list[Timing]:
        least = min(off(each, hertz, wanted * 1000, point) for each in every)
        return [each for each in every if off(each, hertz, wanted * 1000, point) == least]

    nominals = nearest(list(every_timing(offered)), rate)
    datas = nearest(list(every_timing(data_offered)), data_rate)
    asked = {
        "rate": f"{rate} kbit/s",
        "sample_point": f"{percent} %",
        "data_rate": f"{data_rate} kbit/s",
        "data_sample_point": f"{percent} %",
    }
    best = answer("can", feed(hertz), {**offered, "data": data_offered}, asked).choices[0]
    assert timing_of(best) in nominals
    assert data_of(best) in datas
    most = max(oscillator_tolerance(one, data=other) for one in nominals for other in datas)
    assert best.told["oscillator_tolerance"] == most


def test_sixteen_quanta_at_half_a_megabit_sample_at_seven_eighths() -> None:
    """16 MHz / 2 / 16 = 500 kbit/s; (1 + 13) / 16 = 87.5 %; 2 / (2 * (13 * 16 - 2)) = 1/206; 11 quanta of 125 ns."""
    best = answer("can", feed(16_000_000, 100), CLASSIC, {"rate": "500 kbit/s"}).choices[0]
    assert best.settings == {"prescaler": 2, "segment_1": 13, "segment_2": 2, "jump": 2}
    assert (best.error, best.verdict) == (0, "inside")
    assert best.told == {
        "quanta": 16,
        "sample_point": Fraction(7, 8),
        "oscillator_tolerance": Fraction(1, 206),
        "propagation": Fraction(1375, 10**9),
    }


def test_propagation_is_told_up_to_where_the_setting_would_bear_less() -> None:
    timing = Timing(2, 13, 2, 2)
    borne = oscillator_tolerance(timing)
    free = timing.segment_1 - timing.free_propagation
    assert oscillator_tolerance(timing, free) == borne > oscillator_tolerance(timing, free - 1)


def test_a_data_phase_has_its_settings_in_a_table_of_its_own() -> None:
    """16 MHz: 32 quanta of 500 kbit/s, 8 of 2 Mbit/s, sampled at 28/32 and 6/8."""
    asked = {"rate": "500 kbit/s", "data_rate": "2 Mbit/s"}
    best = answer("can", feed(16_000_000), {**FLEXIBLE, "segment_1": "1..40"}, asked).choices[0]
    assert best.settings == {
        "prescaler": 1,
        "segment_1": 27,
        "segment_2": 4,
        "jump": 4,
        "data": {"prescaler": 1, "segment_1": 5, "segment_2": 2, "jump": 2},
    }
    told = {key: value for key, value in best.told.items() if key.startswith("data_")}
    assert told == {"data_rate": 2_000_000, "data_error": 0, "data_quanta": 8, "data_sample_point": Fraction(3, 4)}
    assert say_settings(best).endswith("jump 4, data prescaler 1, data segment 1 5, data segment 2 2, data jump 2")


@pytest.mark.parametrize(("ppm", "verdict"), [(4800, "inside"), (4900, "tight")])
def test_the_clock_may_be_off_as_far_as_the_setting_bears(ppm: int, verdict: str) -> None:
    """1/206 is 4854 ppm."""
    assert answer("can", feed(16_000_000, ppm), CLASSIC, {"rate": "500 kbit/s"}).verdict == verdict


def test_a_data_rate_that_is_missed_counts_as_much_as_the_rate() -> None:
    """16 MHz make 5.333 Mbit/s of 5: 6.67 % fast, far more than any setting bears; 1 Mbit/s is exact."""
    found = answer("can", feed(16_000_000), FLEXIBLE, {"rate": "1 Mbit/s", "data_rate": "5 Mbit/s"})
    assert (found.verdict, found.choices[0].verdict, found.choices[0].error) == ("none fits", "over", 0)
    assert found.choices[0].told["data_error"] == Fraction(1, 15)
    assert found.choices[0].missed == ("the data phase is fast by 6.67\u00a0%",)
    assert not found.remarks


def test_a_rate_nothing_comes_near_is_an_answer_with_the_nearest() -> None:
    """20 MHz / 27 is 740.7 kbit/s; at most 25 quanta can be had, which make 8 % more."""
    found = answer("can", feed(20_000_000), {**CLASSIC, "prescaler": [1]}, {"rate": "740740 bit/s"})
    assert (found.verdict, found.choices[0].rate) == ("none fits", 800_000)


@pytest.mark.parametrize(
    ("allowance", "ends"),
    [
        ("±0.1 %", (Fraction(-1, 1000), Fraction(1, 1000))),
        ("±2 %", (Fraction(-1, 206), Fraction(1, 206))),
        ("-0.1 % .. +2 %", (Fraction(-1, 1000), Fraction(1, 206))),
    ],
)
def test_an_allowance_of_its_own_narrows_what_the_setting_bears(
    allowance: str, ends: tuple[Fraction, Fraction]
) -> None:
    found = answer("can", feed(16_000_000), CLASSIC, {"rate": "500 kbit/s", "allowance": allowance}).allowance
    assert found is not None
    assert (found.lowest, found.highest) == ends
    assert ("own" in found.source, "bears" in found.source) == (allowance != "±2 %", allowance != "±0.1 %")


def test_a_standard_narrows_it_too() -> None:
    found = answer("can", feed(16_000_000, 1500), CLASSIC, {"rate": "500 kbit/s", "standard": "canopen"})
    assert found.allowance is not None
    assert (found.allowance.highest, found.verdict) == (Fraction(1, 1000), "tight")


@pytest.mark.parametrize(
    ("generator", "ask", "where"),
    [
        (CLASSIC, {}, ["ask.rate"]),
        (CLASSIC, {"rate": "0 bit/s"}, ["ask.rate"]),
        (CLASSIC, {"rate": "-500 kbit/s"}, ["ask.rate"]),
        (CLASSIC, {"rate": "2 Mbit/s"}, ["ask.rate"]),
        (CLASSIC, {"rate": "2 Mbit/s", "standard": "classic"}, ["ask.rate"]),
        (CLASSIC, {"rate": "500 kbit/s", "sample_point": "120 %"}, ["ask.sample_point"]),
        (CLASSIC, {"rate": "500 kbit/s", "sample_point": "0 %"}, ["ask.sample_point"]),
        (CLASSIC, {"rate": "500 kbit/s", "standard": "canopn"}, ["ask.standard"]),
        (CLASSIC, {"rate": "300 kbit/s", "standard": "canopen"}, ["ask.rate"]),
        (CLASSIC, {"rate": "500 kbit/s", "data_rate": "2 Mbit/s"}, ["ask.data_rate"]),
        (FLEXIBLE, {"rate": "500 kbit/s", "data_rate": "250 kbit/s"}, ["ask.data_rate"]),
        (FLEXIBLE, {"rate": "500 kbit/s", "data_rate": "9 Mbit/s"}, ["ask.data_rate"]),
        (FLEXIBLE, {"rate": "500 kbit/s", "data_sample_point": "75 %"}, ["ask.data_rate"]),
        (FLEXIBLE, {"rate": "500 kbit/s", "standard": "flexible-data-rate"}, ["ask.data_rate"]),
        (FLEXIBLE, {"rate": "500 kbit/s", "data_rate": "2 Mbit/s", "standard": "classic"}, ["ask.data_rate"]),
        ({**CLASSIC, "jump": [9]}, {"rate": "500 kbit/s"}, ["generator.jump"]),
        ({**CLASSIC, "segment_1": []}, {"rate": "500 kbit/s"}, ["generator.segment_1"]),
        ({**CLASSIC, "segment_2": "1..513"}, {"rate": "500 kbit/s"}, ["generator.segment_2"]),
        (
            {**CLASSIC, "data": {"prescaler": "1..9"}},
            {"rate": "500 kbit/s"},
            ["generator.data.segment_1", "generator.data.segment_2"],
        ),
    ],
)
def test_what_cannot_be_taken_is_named_at_its_place(
    generator: dict[str, Any], ask: dict[str, Any], where: list[str]
) -> None:
    assert refused_at("can", generator, ask) == where


def test_a_standard_misspelt_is_offered_right() -> None:
    with pytest.raises(Refused, match="did you mean canopen"):
        answer("can", feed(16_000_000), CLASSIC, {"rate": "500 kbit/s", "standard": "canopn"})


def test_no_rate_is_above_its_clock() -> None:
    slow: Feed = feed(400_000)
    with pytest.raises(Refused, match=r"500.kbit/s is above its clock, 400.kHz"):
        answer("can", slow, CLASSIC, {"rate": "500 kbit/s"})


CHOSEN = {"prescaler": 2, "segment_1": 11, "segment_2": 4, "jump": 1}


def test_a_chosen_setting_is_judged_as_it_stands() -> None:
    """Jump 1 bears 1 / (20 * 16) = 0.3125 %."""
    made = settle("can", feed(16_000_000), CLASSIC, {"rate": "500 kbit/s"}, CHOSEN)
    assert (made.settings, made.told["sample_point"]) == (CHOSEN, Fraction(3, 4))
    assert made.told["oscillator_tolerance"] == Fraction(1, 320)


def test_a_choice_of_the_answer_can_be_chosen_as_it_is_told() -> None:
    asked = {"rate": "500 kbit/s", "data_rate": "2 Mbit/s"}
    for choice in answer("can", feed(16_000_000, 50), FLEXIBLE, asked).choices:
        assert settle("can", feed(16_000_000, 50), FLEXIBLE, asked, dict(choice.settings)) == choice


@pytest.mark.parametrize(
    ("generator", "data_rate", "chosen", "where"),
    [
        (CLASSIC, {}, {**CHOSEN, "jump": 5}, ["chosen.jump"]),
        (CLASSIC, {}, {**CHOSEN, "segment_2": 1, "jump": 2}, ["chosen.jump"]),
        (CLASSIC, {}, {**CHOSEN, "data": CHOSEN}, ["chosen.data"]),
        (FLEXIBLE, {"data_rate": "2 Mbit/s"}, CHOSEN, ["chosen.data"]),
        (
            FLEXIBLE,
            {"data_rate": "2 Mbit/s"},
            {**CHOSEN, "data": {**CHOSEN, "segment_1": 17}},
            ["chosen.data.segment_1"],
        ),
    ],
)
def test_a_chosen_setting_that_is_not_offered_is_named(
    generator: dict[str, Any], data_rate: dict[str, str], chosen: dict[str, Any], where: list[str]
) -> None:
    assert refused_at("can", generator, {"rate": "500 kbit/s", **data_rate}, chosen) == where
