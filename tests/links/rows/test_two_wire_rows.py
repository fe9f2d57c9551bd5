"""The published limits of two-wire buses, row by row, and clocks held against them."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from tests.links.published import agrees, each_row, entry, exact
from tests.links.test_dividing import feed, settle
from wheelwork.links import two_wire
from wheelwork.links.two_wire import MODES, PICO, largest_pull_up, modes_met

UNITS = {
    "Hz": Fraction(1),
    "ms": Fraction(1, 1000),
    "us": Fraction(1, 10**6),
    "ns": Fraction(1, 10**9),
    "pF": PICO,
}
OF_SUPPLY = "20*(VDD/5.5 V)"
FREE = {"low": "1..300", "high": "1..300", "filter": "50 ns"}


@each_row("i2c.timing")
def test_each_mode_has_the_published_limits(entry: Any, row: Any) -> None:
    """The least fall time hangs on the supply (from memory; older editions print another) and is no limit here."""
    for key, name in (("standard", "standard"), ("fast", "fast"), ("fast_plus", "fast-plus")):
        ends = [row.get(f"{key}_{end}") for end in ("min", "max")]
        held = [None if each in (None, OF_SUPPLY) else exact(each) * UNITS[row["unit"]] for each in ends]
        assert MODES[name].limits(row["symbol"]) == tuple(held), name


def test_the_ultra_fast_mode_has_the_published_limits() -> None:
    published, mode = entry("i2c.ultra_fast"), MODES["ultra-fast"]
    keys = ("tLOW", "tHIGH", "tHD_STA", "tSU_STA", "tSU_STO", "tBUF", "tSU_DAT", "tHD_DAT")
    assert published["clock_max_hz"] == mode.rate
    for key in keys:
        assert mode.limits(key.replace("_", ";"))[0] == published[f"{key}_min_ns"] * UNITS["ns"]
    assert (published["tr_max_ns"] * UNITS["ns"], published["tf_max_ns"] * UNITS["ns"]) == (mode.rise, mode.fall)


@each_row("i2c.period_budget")
def test_longest_edges_and_shortest_levels_make_the_mode_s_period(entry: Any, row: Any) -> None:
    mode = MODES[row["mode"].replace("_", "-")]
    period = mode.low + mode.high + mode.rise + mode.fall
    assert period == exact(row["sum_of_low_high_rise_fall_us"]) * UNITS["us"]
    assert 1 / period == exact(row["derived_clock_hz"])
    assert (1 / period <= mode.rate) == row["fits"]


@each_row("i2c.pull_up")
def test_the_largest_pull_up_is_the_published_one(entry: Any, row: Any) -> None:
    ours = largest_pull_up(row["rise_time_max_ns"] * UNITS["ns"], row["bus_capacitance_pf"] * PICO)
    assert agrees(ours, row["derived_pull_up_max_ohm"])


@each_row("i2c.counts")
def test_counts_make_the_published_clock_and_meet_the_published_modes(entry: Any, row: Any) -> None:
    edges = Fraction(row["rise_plus_fall_ns"], 10**9)
    low, high = (Fraction(row[key], row["input_clock_hz"]) for key in ("low_counts", "high_counts"))
    rate = 1 / (low + high + edges)
    assert agrees(low * 10**6, row["derived_low_us"])
    assert agrees(high * 10**6, row["derived_high_us"])
    assert agrees(rate, row["derived_clock_hz"])
    met = [each.replace("_", "-") for each in row["meets_modes"]]
    assert modes_met(low, high, rate) == met
    for mode in ("standard", "fast", "fast-plus"):
        half = f"{row['rise_plus_fall_ns'] * 500 or 1} ps"
        if 500 * row["rise_plus_fall_ns"] * PICO > MODES[mode].fall:
            continue  # the family refuses edges longer than the mode bears
        asked = {"mode": mode, "rise": half, "fall": half}
        chosen = settle("i2c", feed(row["input_clock_hz"]), FREE, asked, {"low": low_of(row), "high": high_of(row)})
        assert (chosen.verdict == "inside") == (mode in met)


def low_of(row: Any) -> int:
    return int(row["low_counts"])


def high_of(row: Any) -> int:
    return int(row["high_counts"])


@each_row("smbus.limits")
def test_the_system_management_bus_has_the_published_limits(entry: Any, row: Any) -> None:
    """The clocks of the classes above 100 kHz are from memory."""
    mode = MODES["smbus"]
    held = {
        "clock frequency, 100 kHz class": mode.limits("fSCL"),
        "clock frequency, 400 kHz class": MODES["smbus-400k"].limits("fSCL"),
        "clock frequency, 1 MHz class": MODES["smbus-1m"].limits("fSCL"),
        "clock low time-out": two_wire.LOW_TIME_OUT,
        "clock low": mode.limits("tLOW"),
        "clock high": mode.limits("tHIGH"),
        "cumulative low stretch, target device, start to stop": (None, two_wire.STRETCH_OF_DEVICE),
        "cumulative low stretch, controller, per byte": (None, two_wire.STRETCH_OF_CONTROLLER),
        "bus free time": mode.limits("tBUF"),
        "start hold": mode.limits("tHD;STA"),
        "repeated start set-up": mode.limits("tSU;STA"),
        "stop set-up": mode.limits("tSU;STO"),
        "data hold (transmit)": mode.limits("tHD;DAT"),
        "data set-up": mode.limits("tSU;DAT"),
        "rise time": mode.limits("tr"),
        "fall time": mode.limits("tf"),
    }
    ends = (row.get("min"), row.get("max"))
    assert held[row["quantity"]] == tuple(None if each is None else exact(each) * UNITS[row["unit"]] for each in ends)
