"""The published tables of field buses, row by row; the library's rows are also asked of the library itself."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import can
import pytest

from tests.links.published import agrees, each_row, entry, exact
from wheelwork.links.bit_ranges import Ranges, nearest_timings, offer
from wheelwork.links.bit_timing import Timing, oscillator_tolerance, propagation_quanta, usual_sample_point
from wheelwork.links.can import FAMILY, STANDARDS
from wheelwork.links.family import Choice, Feed
from wheelwork.links.fields import Fields, Refused
from wheelwork.quantities.ratios import read_ratios
from wheelwork.quantities.spans import EXACT

BY_NAME = {each.name: each for each in STANDARDS}
LEAST_HARDWARE = {"prescaler": "1..32", "segment_1": "2..16", "segment_2": "2..8", "jump": "1..4"}
LIBRARY = {"prescaler": "1..64", "segment_1": "1..16", "segment_2": "1..8", "jump": "1..4"}
NANOSECOND = Fraction(1, 10**9)
A_METRE = 5 * NANOSECOND
WAYS = {
    "tolerance_percent_loop250ns_10m": (250, 10),
    "tolerance_percent_loop100ns_10m": (100, 10),
    "tolerance_percent_loop250ns_40m": (250, 40),
}


def ask(clock: Any, asked: dict[str, str], generator: dict[str, Any] = LIBRARY, chosen: Any = None) -> Choice:
    """The first choice of the family on a clock without tolerance, or the chosen one."""
    feed, offered = Feed(exact(clock), EXACT), FAMILY.read_generator(Fields(generator, "generator"))
    wanted = FAMILY.read_ask(Fields(asked, "ask"))
    if chosen:
        return FAMILY.settle(feed, offered, wanted, chosen, "chosen")
    return FAMILY.answer(feed, offered, wanted).choices[0]


def published_timing(row: Any, prescaler: Any = None) -> Timing:
    """A row's setting, its phases given one by one or as segments."""
    first = row["propagation_tq"] + row["phase1_tq"] if "phase1_tq" in row else row["time_segment1_tq"]
    second = row["phase2_tq"] if "phase2_tq" in row else row["time_segment2_tq"]
    return Timing(prescaler or row["prescaler"], first, second, row["sync_jump_width_tq"])


def ranges(table: dict[str, str]) -> Ranges:
    return offer(*(read_ratios(table[key]) for key in ("prescaler", "segment_1", "segment_2", "jump")))


def there_and_back(loop_ns: Any, metres: Any) -> Fraction:
    """The way through two nodes and the line and back, 5 ns a metre."""
    return 2 * (exact(loop_ns) * NANOSECOND + exact(metres) * A_METRE)


def whole_nanoseconds(clock: int, prescaler: int) -> Fraction:
    """A quantum as the library counts with it: to a whole nanosecond, a half to the even one."""
    return round(Fraction(prescaler * 10**9, clock)) * NANOSECOND


def percent_borne(row: Any, timing: Timing, way: Fraction, data: Timing | None = None) -> Fraction:
    quantum = whole_nanoseconds(row["clock_hz"], timing.prescaler)
    phase_1 = timing.segment_1 - propagation_quanta(way, quantum)
    return 100 * oscillator_tolerance(timing, phase_1, data)


def test_the_least_hardware_of_the_specification_makes_bits_of_8_to_25_quanta() -> None:
    """Segment 1 is propagation and phase 1; phase 2 is as long as the information processing time at least."""
    published = entry("can.classic.segments")
    first = published["propagation_segment_tq_min"] + published["phase_segment1_tq_min"]
    most = published["propagation_segment_tq_max"] + published["phase_segment1_tq_max"]
    offered = ranges(LEAST_HARDWARE)
    assert (min(offered.firsts), max(offered.firsts)) == (first, most)
    assert min(offered.seconds) == published["information_processing_time_tq_max"]
    assert offered.quanta[-1] == published["quanta_per_bit_max"]
    assert published["quanta_per_bit_min"] in offered.quanta
    assert Timing(1, 1, 1, 1).quanta == published["sync_segment_tq"] + 2
    assert all(each.fastest == published["bit_rate_max_bps"] for each in STANDARDS if not each.rates)
    assert BY_NAME["canopen"].rates[0] == published["bit_rate_max_bps"]


@each_row("can.fd.segments")
def test_the_least_hardware_of_each_kind_is_taken_as_it_is(entry: Any, row: Any) -> None:
    """Its longest bit is asked for: 1 + propagation + phase 1 + phase 2 quanta, at the largest jump."""
    ends = {key: [int(end) for end in row[key].split("..")] for key in row if key != "set"}
    first = ends["propagation_tq"][1] + ends["phase1_tq"][1]
    table = {
        "prescaler": row["prescaler"],
        "segment_1": f"{ends['propagation_tq'][0] + ends['phase1_tq'][0]}..{first}",
        "segment_2": row["phase2_tq"],
        "jump": row["sync_jump_width_tq"],
    }
    longest = Timing(1, first, ends["phase2_tq"][1], ends["sync_jump_width_tq"][1])
    found = nearest_timings(ranges(table), Fraction(longest.quanta), longest.sample_point, 1)[0]
    assert found == [longest]


@pytest.mark.parametrize("phase_1", range(1, 17))
@pytest.mark.parametrize("propagation", [1, 2, 8])
def test_both_conditions_are_the_papers(propagation: int, phase_1: int) -> None:
    """The formulas of `can.oscillator.formulas`, as they are printed there, in the names of the entry."""
    published = entry("can.oscillator.formulas")
    jump = min(4, phase_1)
    names = {"phase1": phase_1, "phase2": phase_1, "bit_time": 1 + propagation + 2 * phase_1, "sync_jump_width": jump}
    timing = Timing(1, propagation + phase_1, phase_1, jump)
    least = min(_as_printed(published[key], names) for key in ("condition_1", "condition_2"))
    assert oscillator_tolerance(timing, phase_1) == least


def _as_printed(formula: str, names: dict[str, int]) -> Fraction:
    """A formula `df <= above / (below)` of the file with its names put in."""
    above, _, below = formula.removeprefix("df <= ").partition(" / ")
    return Fraction(eval(above, {"min": min}, names), eval(below, {}, names))  # the file is our own


def test_the_specifications_bound_is_what_its_setting_bears() -> None:
    """1.58 % is cut, not rounded: exactly 400/252 %. By the same formulas phases of 5 and 5 bear more, 500/302 %."""
    published = entry("can.oscillator.bound")
    timing = published_timing({**published, "prescaler": 1})
    bears = 100 * oscillator_tolerance(timing, published["phase1_tq"])
    assert timing.quanta == published["quanta_per_bit"]
    assert bears == Fraction(400, 252)
    assert agrees(bears, published["derived_condition_1_percent"])
    assert 100 * Fraction(timing.jump, 20 * timing.quanta) == exact(published["derived_condition_2_percent"])
    assert str(float(bears)).startswith(published["published_max_percent"])
    assert 100 * oscillator_tolerance(Timing(1, 6, 5, 4)) == Fraction(500, 302)


@each_row("can.worked.bosch")
def test_a_worked_example_bears_what_follows_from_its_formula(entry: Any, row: Any) -> None:
    """Two are cut in print; two (`differs`) do not follow from their own formula: 0.43 and 3.08."""
    timing = published_timing(row)
    bears = 100 * oscillator_tolerance(timing, row["phase1_tq"])
    assert timing.quanta == row["quanta_per_bit"]
    assert timing.rate(exact(row["clock_hz"])) == row["bit_rate_bps"]
    assert agrees(bears, row["derived_tolerance_percent"])
    assert str(float(bears)).startswith(row["published_tolerance_percent"]) == (row["published_vs_exact"] != "differs")


@each_row("can.worked.bosch")
def test_a_worked_examples_propagation_covers_its_way(entry: Any, row: Any) -> None:
    """Delays of driver, receiver and line, there and back."""
    delays = sum(row[key] for key in ("driver_delay_ns", "receiver_delay_ns", "line_delay_ns"))
    quantum = Fraction(row["prescaler"], row["clock_hz"])
    assert propagation_quanta(2 * delays * NANOSECOND, quantum) <= row["propagation_tq"]


@each_row("can.cia.table")
def test_a_rate_of_the_bus_table_comes_out_of_its_oscillator(entry: Any, row: Any) -> None:
    """10 kbit/s divide 16 MHz by 100, which a prescaler of six bits does not reach: it has eight here."""
    tall = {**LIBRARY, "prescaler": "1..256"}
    quanta, rate = row["quanta_per_bit"], exact(row["bit_rate_bps"])
    asked = {"standard": "canopen", "rate": f"{rate} bit/s"}
    prescaler = Fraction(entry["oscillator_hz"]) / rate / quanta
    second = entry["phase_segment2_tq"]
    chosen = {"prescaler": int(prescaler), "segment_1": quanta - 1 - second, "segment_2": second, "jump": 1}
    made = ask(entry["oscillator_hz"], asked, tall, chosen)
    assert (made.error, made.told["quanta"]) == (0, quanta)
    assert 10**6 / rate == exact(row["bit_time_us"])
    assert made.told["sample_point"] == Fraction(row["sample_point_tq"], quanta)
    assert 100 * Fraction(row["sample_point_tq"], quanta) == exact(row["sample_point_percent"])
    best = ask(entry["oscillator_hz"], asked, tall)
    assert (best.error, best.told["sample_point"]) == (0, made.told["sample_point"])
    way = there_and_back(0, row["bus_length_m"])
    assert entry["propagation_ns_per_m"] * NANOSECOND == A_METRE
    assert way <= (quanta - 1 - second) * Fraction(chosen["prescaler"], entry["oscillator_hz"])


def test_the_standard_of_the_bus_table_has_its_rates_and_its_oscillator() -> None:
    published, ours = entry("can.cia.table"), BY_NAME["canopen"]
    assert list(ours.rates) == [row["bit_rate_bps"] for row in published["rows"]]
    assert ours.allowance is not None
    assert ours.allowance.highest == Fraction(published["oscillator_tolerance_ppm"], 10**6)
    assert ours.allowance.lowest == -ours.allowance.highest


@each_row("can.cia.sample_points")
def test_above_a_rate_it_is_sampled_where_the_recommendation_says(entry: Any, row: Any) -> None:
    just_above = Fraction(row["bit_rate_above_bps"]) + Fraction(1, 1000)
    assert 100 * usual_sample_point(just_above) == exact(row["sample_point_percent"])


@each_row("can.mcu8.settings")
def test_a_data_sheets_setting_is_reckoned_as_it_is_printed(entry: Any, row: Any) -> None:
    """The best choice samples there too, with other quanta or a larger jump. The time of a quantum is printed cut."""
    prescaler = row["derived_prescaler"]
    timing, clock = published_timing(row, prescaler), exact(row["clock_hz"])
    assert timing.quanta == row["quanta_per_bit"]
    assert timing.rate(clock) == row["bit_rate_bps"]
    assert 100 * timing.sample_point == row["published_sample_point_percent"]
    assert 0 <= 10**6 * prescaler / clock - Fraction(row["published_tq_us"]) < Fraction(1, 10**6)
    assert agrees(100 * oscillator_tolerance(timing, row["phase1_tq"]), row["derived_tolerance_percent"])
    asked = {"rate": f"{row['bit_rate_bps']} bit/s", "sample_point": "75 %"}
    best = ask(clock, asked)
    assert (best.error, best.told["sample_point"]) == (0, timing.sample_point)
    chosen = {**timing.settings(), "jump": row["sync_jump_width_tq"]}
    assert ask(clock, asked, chosen=chosen).rate == row["bit_rate_bps"]


@each_row("can.library.classic")
def test_the_librarys_setting_bears_what_the_library_says_and_ours_is_no_worse(entry: Any, row: Any) -> None:
    """It takes the smallest prescaler that is near in rate; ours is at least as near in rate, then in sample point."""
    clock, rate, wanted = row["clock_hz"], row["bit_rate_bps"], float(row["wanted_sample_point_percent"])
    asked = {"rate": f"{rate} bit/s", "sample_point": f"{row['wanted_sample_point_percent']} %"}
    if row.get("result") == "no solution":
        with pytest.raises(ValueError, match="No suitable"):
            can.BitTiming.from_sample_point(clock, rate, wanted)
        assert ask(clock, asked, LEAST_HARDWARE).error == 0  # 8 MHz / 32 / 25; to the library 32 is too many
        return
    timing = published_timing(row)
    theirs = can.BitTiming.from_sample_point(clock, rate, wanted)
    assert (theirs.brp, theirs.tseg1, theirs.tseg2, theirs.sjw) == tuple(timing.settings().values())
    assert timing.quanta == row["quanta_per_bit"]
    assert agrees(100 * timing.sample_point, row["sample_point_percent"])
    for key, (loop, metres) in WAYS.items():
        bears = percent_borne(row, timing, there_and_back(loop, metres))
        assert agrees(bears, row[key]) or bears == 0 == row[key]
        assert float(bears) == pytest.approx(theirs.oscillator_tolerance(loop, metres), rel=1e-12)
    ours = ask(clock, asked)
    error, point = ours.error, ours.told["sample_point"]
    assert error is not None
    assert isinstance(point, Fraction)
    aim = exact(row["wanted_sample_point_percent"]) / 100
    off = abs(timing.rate(Fraction(clock)) / rate - 1), abs(timing.sample_point - aim)
    assert (abs(error), abs(point - aim)) <= off


@each_row("can.library.given")
def test_a_given_setting_bears_what_the_library_says(entry: Any, row: Any) -> None:
    """One quantum of 62.5 ns is 62 ns to the library, which costs it a quantum of propagation."""
    timing, clock = published_timing(row), Fraction(row["clock_hz"])
    way = there_and_back(row["loop_delay_ns"], row["bus_length_m"])
    assert timing.rate(clock) == row["bit_rate_bps"]
    assert 100 * timing.sample_point == exact(row["sample_point_percent"])
    quanta = propagation_quanta(way, timing.prescaler / clock)
    assert quanta == row["propagation_tq"]
    bears = 100 * oscillator_tolerance(timing, timing.segment_1 - quanta)
    assert agrees(bears, row.get("tolerance_percent_exact_quanta", row["tolerance_percent"]))
    assert agrees(percent_borne(row, timing, way), row["tolerance_percent"])
    theirs = can.BitTiming(row["clock_hz"], timing.prescaler, timing.segment_1, timing.segment_2, timing.jump)
    said = theirs.oscillator_tolerance(row["loop_delay_ns"], row["bus_length_m"])
    assert float(percent_borne(row, timing, way)) == pytest.approx(said, rel=1e-12)


@each_row("can.library.fd")
def test_a_setting_with_a_data_phase_bears_what_the_library_says_and_ours_is_no_worse(entry: Any, row: Any) -> None:
    nominal, data = (
        Timing(
            *(
                row[f"{phase}_{key}"]
                for key in ("prescaler", "time_segment1_tq", "time_segment2_tq", "sync_jump_width_tq")
            )
        )
        for phase in ("nominal", "data")
    )
    clock = Fraction(row["clock_hz"])
    assert (nominal.rate(clock), data.rate(clock)) == (row["nominal_bit_rate_bps"], row["data_bit_rate_bps"])
    assert 100 * nominal.sample_point == exact(row["nominal_sample_point_percent"])
    assert 100 * data.sample_point == exact(row["data_sample_point_percent"])
    bears = percent_borne(row, nominal, there_and_back(250, 10), data)
    assert agrees(bears, row["tolerance_percent_loop250ns_10m"])
    theirs = can.BitTimingFd(
        row["clock_hz"],
        nom_brp=nominal.prescaler,
        nom_tseg1=nominal.segment_1,
        nom_tseg2=nominal.segment_2,
        nom_sjw=nominal.jump,
        data_brp=data.prescaler,
        data_tseg1=data.segment_1,
        data_tseg2=data.segment_2,
        data_sjw=data.jump,
    )
    assert float(bears) == pytest.approx(theirs.oscillator_tolerance(250, 10), rel=1e-12)
    ours = ask(clock, _asked(row), FLEXIBLE)
    for told, phase in (("sample_point", "nominal"), ("data_sample_point", "data")):
        aim, point = exact(row[f"wanted_{phase}_sample_point_percent"]) / 100, ours.told[told]
        assert isinstance(point, Fraction)
        assert abs(point - aim) <= abs(exact(row[f"{phase}_sample_point_percent"]) / 100 - aim)
    assert (ours.error, ours.told["data_error"]) == (0, 0)


FLEXIBLE = {
    **{"prescaler": "1..256", "segment_1": "1..256", "segment_2": "1..128", "jump": "1..128"},
    "data": {"prescaler": "1..32", "segment_1": "1..32", "segment_2": "1..16", "jump": "1..16"},
}
"""What the library allows."""


def _asked(row: Any) -> dict[str, str]:
    return {
        "rate": f"{row['nominal_bit_rate_bps']} bit/s",
        "sample_point": f"{row['wanted_nominal_sample_point_percent']} %",
        "data_rate": f"{row['data_bit_rate_bps']} bit/s",
        "data_sample_point": f"{row['wanted_data_sample_point_percent']} %",
    }


@pytest.mark.parametrize("key", ["condition_3", "condition_4", "condition_5"])
def test_each_condition_of_a_data_phase_counts(key: str) -> None:
    """Each of three settings bears what one formula of `can.library.fd` says, less than by those of arbitration."""
    nominal, data = {
        "condition_3": (Timing(2, 41, 16, 16), Timing(4, 14, 1, 1)),
        "condition_4": (Timing(1, 14, 1, 1), Timing(8, 12, 7, 7)),
        "condition_5": (Timing(4, 50, 10, 10), Timing(1, 25, 6, 6)),
    }[key]
    formula = entry("can.library.fd")[key].removeprefix("df <= ")
    names = {
        "data_sync_jump_width": data.jump,
        "data_bit_quanta": data.quanta,
        "data_phase2": data.segment_2,
        "data_prescaler": Fraction(data.prescaler),
        "nominal_prescaler": Fraction(nominal.prescaler),
        "nominal_bit_quanta": nominal.quanta,
        "nominal_phase1": nominal.segment_1 - 1,
        "nominal_phase2": nominal.segment_2,
    }
    above, _, below = formula.partition(" / (2")
    said = Fraction(eval(above, {"min": min, "max": max}, names)) / eval(f"(2{below}", {}, names)
    assert oscillator_tolerance(nominal, data=data) == said < oscillator_tolerance(nominal)


def test_a_library_is_no_judge_of_what_no_bus_has() -> None:
    """The library takes 2 Mbit/s without a data phase; the specification ends at one."""
    assert can.BitTiming(16_000_000, 1, 5, 2, 1).bitrate == 2_000_000
    with pytest.raises(Refused, match="up to 1 Mbit/s"):
        ask(16_000_000, {"rate": "2 Mbit/s"})
