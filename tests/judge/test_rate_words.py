"""Links in words: how far off, how fast, what is allowed."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from wheelwork.judge.rate_words import say_allowance, say_off, say_rate, say_settings
from wheelwork.links.families import families
from wheelwork.links.family import Allowance, Choice

RATE: dict[str, Any] = {"rate": "1 kHz"}
PERIOD = {"period": "1 ms"}


def plainly(said: str) -> str:
    return said.translate(str.maketrans("\u00a0\u2009\u2212", "  -"))


@pytest.mark.parametrize(
    ("error", "ask", "said"),
    [
        (Fraction(1, 30), RATE, "fast by 3.33 %"),
        (Fraction(-1, 30), RATE, "slow by 3.33 %"),
        (Fraction(1, 30), PERIOD, "long by 3.33 %"),
        (Fraction(-1, 11001), {"time_out": "2 s"}, "short by 90.9 ppm"),
        (Fraction(0), RATE, "exact"),
    ],
)
def test_an_error_is_told_by_its_side_and_amount(error: Fraction, ask: dict[str, Any], said: str) -> None:
    assert plainly(say_off(error, ask)) == said


@pytest.mark.parametrize(
    ("rate", "ask", "said"),
    [
        (Fraction(29_000_000, 31), RATE, "935 483.870… Bd"),
        (Fraction(9600), RATE, "9600 Bd"),
        (Fraction(29_000_000), PERIOD, "34.482… ns"),
        (Fraction(1, 2), {"time_out": "2 s"}, "2 s"),
    ],
)
def test_a_rate_is_told_as_it_was_asked_for(rate: Fraction, ask: dict[str, Any], said: str) -> None:
    assert plainly(say_rate(rate, families()["uart"], ask)) == said


@pytest.mark.parametrize(
    ("lowest", "highest", "said"),
    [
        ("-1/50", "1/50", "±2 %"),
        ("-1/10", "1/2", "-10 % to +50 %"),
        (None, "0", "at most what is asked"),
        (None, "1/20000", "up to +50 ppm"),
        ("0", None, "at least what is asked"),
        ("-1/100", None, "from -1 %"),
        (None, None, "anything"),
    ],
)
def test_an_allowance_is_told_by_its_sides(lowest: str | None, highest: str | None, said: str) -> None:
    low, high = (None if end is None else Fraction(end) for end in (lowest, highest))
    assert plainly(say_allowance(Allowance(low, high, "somebody"))) == said


def test_settings_are_told_by_their_names() -> None:
    choice = Choice(settings={"segment_1": 13, "divisor": Fraction(63, 4), "jump": None, "aligned": "edge"}, rate=None)
    assert say_settings(choice) == "segment 1 13, divisor 15.75, jump –, aligned edge"
