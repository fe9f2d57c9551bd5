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
from wheelwork.part.schema import GENERATOR_FAMILIES

STEADY = "01-skerry-3-steady-running"
FOG_SIGNAL = "03-fog-signal-44k1"
LOGGING = "05-pier-head-logging"
STORM_WATCH = "06-pier-head-storm-watch"

STILL_MISSING = {"can", "i2c", "spi", "timer", "pwm", "rtc", "watchdog", "adc", "audio", "reference"}
"""Families of which no plan of the demo has a link yet."""


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


def test_the_links_are_of_every_family_but_those_still_missing() -> None:
    used = {link.link.family for path in PLANS for link in judged(path.stem).links}
    assert used == set(GENERATOR_FAMILIES) - STILL_MISSING
