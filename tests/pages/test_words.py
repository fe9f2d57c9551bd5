"""What people read. Wordings and cuts are those of the page's design, sections 3 and 4; amounts are hand sums."""

from __future__ import annotations

from fractions import Fraction

import pytest

from wheelwork.clocks.propagate import Clock
from wheelwork.clocks.verdicts import STOPPED, judge_clock
from wheelwork.clocks.words import say_verdict
from wheelwork.pages.words import draw_figure
from wheelwork.quantities.spans import read_tolerance, read_window

THIN = "\u2009"


@pytest.mark.parametrize(
    ("frequency", "counts", "zeros", "cut", "unit"),
    [
        (Fraction(8_000_000), "8", f".000{THIN}000", False, "MHz"),
        (Fraction(32_768), "32.768", f"{THIN}000", False, "kHz"),
        (Fraction(187_500_000), "187.5", f"00{THIN}000", False, "MHz"),
        (Fraction(232_000_000, 9), f"25.777{THIN}777", "", True, "MHz"),  # 25.7777777…: cut, not rounded to …778
        (Fraction(11_289_600), f"11.289{THIN}6", "00", False, "MHz"),
        (Fraction(1), "0.001", f"{THIN}000", False, "kHz"),
        (Fraction(10**15), f"1{THIN}000{THIN}000{THIN}000", f".000{THIN}000", False, "MHz"),
    ],
)
def test_a_figure_has_six_decimals_of_which_the_last_zeros_stand_back(
    frequency: Fraction, counts: str, zeros: str, cut: bool, unit: str
) -> None:
    figure = draw_figure(frequency)
    assert (figure.counts, figure.zeros, figure.cut, figure.unit) == (counts, zeros, cut, unit)


@pytest.mark.parametrize(
    ("megahertz", "tolerance", "window", "words"),
    [
        ("28", "±0 ppm", "up to 31 MHz", "3 MHz of headroom"),
        ("8", "±0 ppm", "3 MHz .. 38 MHz", "5 MHz above the floor"),
        ("48", "±0 ppm", "48 MHz ± 0.25 %", "120 kHz either side"),
        ("58", "±30 ppm", "up to 58 MHz", "On the upper limit"),
        ("3", "±30 ppm", "from 3 MHz", "On the lower limit"),
        ("58", "±0 ppm", "up to 58 MHz", "On the upper limit"),
        # 57.999 MHz + 57.999 MHz * 0.00003 = 58.000739… MHz, so 739.97 Hz past
        ("57.999", "±30 ppm", "up to 58 MHz", "Tolerance reaches 740 Hz past the upper limit"),
        ("29", "±0 ppm", "up to 27 MHz", "Over by 2 MHz"),
        ("2.7", "±0 ppm", "from 3 MHz", "Under by 300 kHz"),
        # 31 MHz - 29 MHz * 1.00003 = 1.99913 MHz: worst case, three figures, trailing zeros dropped
        ("29", "±30 ppm", "up to 31 MHz", "2 MHz of headroom"),
    ],
)
def test_a_verdict_says_its_amount_in_the_worst_case(megahertz: str, tolerance: str, window: str, words: str) -> None:
    clock = Clock(Fraction(megahertz) * 10**6, read_tolerance(tolerance), "source")
    said = say_verdict(judge_clock(clock, read_window(window)))
    assert said.replace("\u00a0", " ") == words


def test_what_does_not_run_and_what_has_no_window_say_so() -> None:
    assert say_verdict(STOPPED) == "Not running"
    clock = Clock(Fraction(8_000_000), read_tolerance("±30 ppm"), "source")
    assert say_verdict(judge_clock(clock, None)) == "No window stated"
