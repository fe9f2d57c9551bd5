"""The links of the tide laboratory's plans: what each comes to, against sums made by hand.

Each row says by which whole or half number of clocks a bit or period is made, and what share that is off.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from tests.demo import PLANS, load_demo
from wheelwork.judge import JudgedLink, Judgement, judge
from wheelwork.links.families import families

STEADY = "01-skerry-3-steady-running"
WAITING = "02-skerry-3-waiting-for-the-tide"
FOG_SIGNAL = "03-fog-signal-44k1"
HARBOUR_LAMP = "04-harbour-lamp"
LOGGING = "05-pier-head-logging"
STORM_WATCH = "06-pier-head-storm-watch"


@cache
def judged(plan: str) -> Judgement:
    return judge(*load_demo(plan))


def link_of(plan: str, name: str) -> JudgedLink:
    [link] = [link for link in judged(plan).links if link.link.name == name]
    return link


ERRORS = [
    # 29 MHz: 252 clocks a bit; 252 * 115 200 is 29 030 400, 30 400 more
    (STEADY, "Console", Fraction(-30_400, 29_030_400)),
    # 3021 * 9600 is 29 001 600
    (STEADY, "Tide sensor", Fraction(-1_600, 29_001_600)),
    # 31 * 921 600 is 28 569 600, three quarters of the allowance of 2 %
    (STEADY, "Radio modem", Fraction(430_400, 28_569_600)),
    # 66 MHz: 573 * 115 200 is 66 009 600
    (FOG_SIGNAL, "Console", Fraction(-9_600, 66_009_600)),
    # 2112 * 31 250 is 66 000 000
    (FOG_SIGNAL, "Organ keyboard", Fraction(0)),
    # 47.5 MHz: 412 1/2 * 115 200 is 47 520 000
    (LOGGING, "Console", Fraction(-20_000, 47_520_000)),
    # 40 MHz: 43 * 921 600 is 39 628 800
    (LOGGING, "Modem", Fraction(371_200, 39_628_800)),
    # 46.875 MHz: 407 * 115 200 is 46 886 400
    (STORM_WATCH, "Console", Fraction(-11_400, 46_886_400)),
    # 95 MHz / 2 is 47.5 MHz of at most 50 MHz; 47.5 MHz / 6 = 95 / 12 MHz of at most 8 MHz; / 24 = 95 / 48 of at most 2
    (LOGGING, "Flash chip", Fraction(-1, 20)),
    (LOGGING, "Radio", Fraction(95, 12 * 8) - 1),
    (LOGGING, "Pressure gauge", Fraction(95, 48 * 2) - 1),
    # 29 MHz is 8 * 58 * 62 500 and 20 000 * 1450; 95 MHz is 1000 * 2 * 47 500 and 8 * 190 * 62 500
    (STEADY, "Sampling tick", Fraction(0)),
    (STEADY, "Pump drive", Fraction(0)),
    (LOGGING, "Flow meter", Fraction(0)),
    (LOGGING, "Sampling tick", Fraction(0)),
    # 132 MHz is 20 000 * 6600, 86 MHz is 200 * 8 * 53 750, 142.5 MHz is 20 000 * 7125; 140.625 MHz is 20 000 * 7031.25
    (FOG_SIGNAL, "Horn driver", Fraction(0)),
    (HARBOUR_LAMP, "Lamp dimmer", Fraction(0)),
    (LOGGING, "Pump drive", Fraction(0)),
    (STORM_WATCH, "Pump drive", Fraction(1, 28_124)),
    # 32 768 is 256 * 128
    (WAITING, "Calendar", Fraction(0)),
    # 12 MHz * (15 + 3460/65 536) / 16 is 11 289 596.557 617 187 5 Hz of 256 * 44 100
    (FOG_SIGNAL, "Fog signal", Fraction("-3.4423828125") / 11_289_600),
    # 5 MHz * (39 + 10 538/32 768) / 16 is 12 287 998.199 462 890 625 Hz of 256 * 48 000
    (LOGGING, "Harbour loudspeaker", Fraction("-1.800537109375") / 12_288_000),
    # 33 kHz / 9: 2 s are 7333 1/3 clocks, 7334 the next; the error is that of the time
    (LOGGING, "Watchdog", Fraction(1, 11_000)),
    # 23.75 MHz: 41 + 15 counts with edges of 120 and 30 ns are 2.508 µs; 55 would be 2.466 µs, above 400 kHz
    (LOGGING, "Sensor bus", 1 / (Fraction(56, 23_750_000) + Fraction(150, 10**9)) / 400_000 - 1),
    # 29 MHz over 12 + 14 cycles is 1.115 MHz, over 24 + 14 it is 0.763 MHz; 1 MHz is wanted
    (STEADY, "Hydrophone", Fraction(3, 26)),
    # 40 MHz is 500 000 * 80
    (LOGGING, "Field bus", Fraction(0)),
    # the clock is the rate
    (FOG_SIGNAL, "USB", Fraction(0)),
    (LOGGING, "Network", Fraction(0)),
    # 46.875 MHz of 48 MHz
    (STORM_WATCH, "USB", Fraction(-1_125, 48_000)),
]


@pytest.mark.parametrize(("plan", "name", "error"), ERRORS)
def test_a_link_is_as_far_off_as_the_sum_says(plan: str, name: str, error: Fraction) -> None:
    choice = link_of(plan, name).choice
    assert choice is not None
    assert choice.error == error


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_plans_links_all_run_and_are_told_in_words(path: Path) -> None:
    for link in judged(path.stem).links:
        assert link.verdict != "stopped"
        assert link.wanted


def test_the_calendar_stands_near_the_edge_of_two_seconds_a_day() -> None:
    """The watch crystal's 20 ppm are 1.728 s of 86 400, of 2 s that are allowed: 86 %."""
    link = link_of(WAITING, "Calendar")
    assert link.choice is not None
    assert link.allowance is not None
    assert link.choice.error_highest == Fraction(20, 10**6)
    assert link.allowance.highest == Fraction(2, 86_400)


def test_the_field_bus_is_sampled_where_it_is_asked_to_be() -> None:
    """1 + 69 of 80 quanta are 87.5 %; the jump is as long as the shorter segment, 10."""
    choice = link_of(LOGGING, "Field bus").choice
    assert choice is not None
    assert choice.settings == {"prescaler": 1, "segment_1": 69, "segment_2": 10, "jump": 10}


def test_the_water_level_is_sampled_long_enough() -> None:
    """11.4 kΩ and 7 pF to half of the last of 12 bits: 79.8 ns * ln(8192) is 719 ns, 18 clocks of 25 MHz; 33 do.

    25 MHz over 33 + 14 cycles is the fastest.
    """
    choice = link_of(LOGGING, "Water level").choice
    assert choice is not None
    assert choice.settings == {"sample_cycles": 33}
    assert choice.rate == Fraction(25_000_000, 47)


def test_two_links_do_not_keep_their_rate() -> None:
    """Skerry 3 samples too fast until its converter is mended; in the storm USB is fed 46.875 MHz by the main PLL."""
    failing = [(path.stem, link.title) for path in PLANS for link in judged(path.stem).links if not link.keeps]
    assert failing == [(STEADY, "Hydrophone"), (STORM_WATCH, "USB")]


def test_mending_the_converter_of_skerry_3_mends_its_hydrophone() -> None:
    """÷9 gives 58 * 4 / 9 MHz, over 12 + 14 cycles 991 452.991… Hz, 0.85 % slow."""
    part, plan = load_demo(STEADY)
    mended = judge(part, plan.with_settings({"main_converter": Fraction(9)}))
    [link] = [link for link in mended.links if link.title == "Hydrophone"]
    assert link.choice is not None
    assert link.choice.rate == Fraction(232_000_000, 9 * 26)
    assert link.keeps


def test_the_largest_plan_has_at_least_twelve() -> None:
    assert len(judged(LOGGING).links) >= 12


def test_the_links_are_of_every_family() -> None:
    used = {link.link.family for path in PLANS for link in judged(path.stem).links}
    assert used == set(families())
