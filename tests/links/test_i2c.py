"""Two-wire buses: minima of UM10204, Table 10 (as restated in two data sheets), counts by hand and by trying all."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import pytest

from tests.links.test_dividing import answer, feed, refused_at, settle
from wheelwork.links.two_wire import MODES
from wheelwork.quantities.ratios import read_ratios

COUNTS = {"prescaler": [1], "low": "1..256", "high": "1..256", "filter": "50 ns"}
NO_EDGES = {"rise": "1 ps", "fall": "1 ps"}


@pytest.mark.parametrize(("mode", "rate"), [("standard", 100_000), ("fast-plus", 1_000_000)])
def test_longest_edges_and_shortest_levels_make_the_mode_s_period(mode: str, rate: int) -> None:
    """4.7 + 4.0 + 1.0 + 0.3 = 10 µs; 0.5 + 0.26 + 0.12 + 0.12 = 1 µs."""
    known = MODES[mode]
    assert 1 / (known.low + known.high + known.rise + known.fall) == rate == known.rate


def test_fast_mode_from_8_mhz_needs_a_longer_low() -> None:
    """8 MHz: 20 counts are 400 kHz; 1.3 µs are 10.4 counts, so at least 11 low; 0.6 µs are 4.8, so at least 5 high."""
    found = answer("i2c", feed(8_000_000), COUNTS, {"mode": "fast", **NO_EDGES})
    best = found.choices[0]
    low, high = best.settings["low"], best.settings["high"]
    assert isinstance(low, int)
    assert isinstance(high, int)
    assert (low + high, low >= 11, high >= 5, best.verdict) == (20, True, True, "inside")


def test_an_even_split_at_400_khz_breaks_the_low() -> None:
    """10 counts of 8 MHz are 1.25 µs, below 1.3 µs."""
    chosen = settle("i2c", feed(8_000_000), COUNTS, {"mode": "fast", **NO_EDGES}, {"low": 10, "high": 10})
    assert chosen.verdict == "over"


def test_a_fast_clock_makes_an_exact_low_too_short() -> None:
    """13 counts of 10 MHz are 1.3 µs exactly; 1 % faster they are 1.287 µs."""
    ask = {"mode": "fast", **NO_EDGES}
    assert settle("i2c", feed(10_000_000), COUNTS, ask, {"low": 13, "high": 12}).verdict == "inside"
    assert settle("i2c", feed(10_000_000, 10_000), COUNTS, ask, {"low": 13, "high": 12}).verdict == "tight"


@pytest.mark.parametrize("seed", range(40))
def test_the_highest_rate_is_that_of_trying_all(seed: int) -> None:
    dice = random.Random(seed)
    offered = {
        "prescaler": dice.choice([[1], "1..4", [1, 2, 8]]),
        "low": dice.choice(["1..60", "2..60 step 2", [5, 9, 17, 33, 60]]),
        "high": dice.choice(["1..60", "3..59 step 4", [4, 7, 20, 60]]),
    }
    clock, mode = dice.choice([4, 8, 12, 16]) * 10**6, dice.choice(list(MODES))
    found = answer("i2c", feed(clock), offered, {"mode": mode, "rise": "40 ns", "fall": "10 ns"})
    known, edges = MODES[mode], Fraction(50, 10**9)
    rates = []
    for p, low, high in itertools.product(*(read_ratios(offered[key]) for key in ("prescaler", "low", "high"))):
        low_time, high_time = p * low / clock, p * high / clock
        rate = 1 / (low_time + high_time + edges)
        if known.longest_high is not None and high_time > known.longest_high:
            continue
        if low_time >= known.low and high_time >= known.high and known.slowest <= rate <= known.rate:
            rates.append(rate)
    if rates:
        assert (found.choices[0].rate, found.verdict) == (max(rates), "inside")
    else:
        assert found.verdict == "none fits"


def test_edges_longer_than_the_mode_bears_are_refused() -> None:
    assert refused_at("i2c", COUNTS, {"mode": "fast", "rise": "400 ns"}) == ["ask.rise"]
    assert refused_at("i2c", COUNTS, {"mode": "faster"}) == ["ask.mode"]
    assert refused_at("i2c", COUNTS, {}) == ["ask.mode"]
    assert refused_at("i2c", {"low": "1..9"}, {"mode": "fast"}) == ["generator.high"]
    assert refused_at("i2c", COUNTS, {"mode": "fast"}, {"low": 300, "high": 7}) == ["chosen.low"]


def test_a_filter_that_the_sheet_does_not_state_is_told() -> None:
    offered = {key: value for key, value in COUNTS.items() if key != "filter"}
    assert answer("i2c", feed(8_000_000), offered, {"mode": "fast"}).remarks[0].severity == "note"
    assert not answer("i2c", feed(8_000_000), COUNTS, {"mode": "fast"}).remarks


def test_a_system_management_bus_may_not_rest() -> None:
    """SMBus 2.0: the clock high for at most 50 µs and at least 10 kHz: 1.2 MHz can be high for 60 counts, not 61."""
    ask = {"standard": "smbus", **NO_EDGES}
    assert settle("i2c", feed(1_200_000), COUNTS, ask, {"low": 6, "high": 60}).verdict == "inside"
    assert settle("i2c", feed(1_200_000), COUNTS, ask, {"low": 6, "high": 61}).verdict == "under"
    assert settle("i2c", feed(1_200_000, 100), COUNTS, ask, {"low": 6, "high": 60}).verdict == "tight"
    assert settle("i2c", feed(1_200_000), COUNTS, ask, {"low": 100, "high": 40}).verdict == "under"


def test_a_bus_too_slow_for_all_counts_misses_by_the_shortest() -> None:
    found = answer("i2c", feed(1_200_000), {**COUNTS, "high": "70..90"}, {"standard": "smbus", **NO_EDGES})
    assert (found.verdict, found.choices[0].settings["high"]) == ("none fits", 70)


def test_a_standard_and_a_mode_have_to_agree() -> None:
    assert refused_at("i2c", COUNTS, {"mode": "fast", "standard": "smbus"}) == ["ask.mode"]
    assert answer("i2c", feed(8_000_000), COUNTS, {"mode": "fast", "standard": "fast"}).verdict == "inside"
    assert refused_at("i2c", COUNTS, {"standard": "smbuss"}) == ["ask.standard"]


def test_many_counts_of_a_fast_clock_are_all_looked_at() -> None:
    """Two thousand million counts a second: 10 µs are 20 000, of which 9 400 at least low and 8 000 high."""
    found = answer(
        "i2c", feed(2 * 10**9), {**COUNTS, "low": "1..65536", "high": "1..65536"}, {"mode": "standard", **NO_EDGES}
    )
    assert found.choices[0].settings == {"prescaler": 1, "low": 12000, "high": 8000}
