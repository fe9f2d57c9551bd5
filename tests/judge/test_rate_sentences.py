"""What is said of a link of every family that fails or is tight: what is really missed, at which end, by how much.

Each figure is a sum by hand beside its case.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from wheelwork.judge.rate_words import Case, say_case
from wheelwork.links.families import answer_link, families
from wheelwork.links.family import Allowance, Choice, Feed, LinkAnswer
from wheelwork.quantities.spans import EXACT, read_tolerance

Raw = dict[str, Any]
Given = tuple[str, str, str, Raw, Raw, Raw, str]
"""Family, clock, tolerance, generator, what is asked, what is chosen, what is to be said."""
PORT: Raw = {"oversampling": [16], "divisor": "1..4096"}
PULSE: Raw = {"prescaler": [1], "reload": "1..100"}
CONVERTER: Raw = {
    "bits": 12,
    "sample_cycles": [12, 48],
    "conversion_cycles": 14,
    "resistance": "2 kΩ",
    "capacitance": "5 pF",
}
BUS: Raw = {"low": "1..256", "high": "1..256", "filter": "50 ns"}
NO_EDGES: Raw = {"mode": "fast", "rise": "1 ps", "fall": "1 ps"}
GUARD: Raw = {"prescaler": [1], "reload": "1..65535"}
PHASES: Raw = {"prescaler": "1..8", "segment_1": "1..16", "segment_2": "1..8"}
FIELD_BUS: Raw = {**PHASES, "data": PHASES}

FAILS: list[Given] = [
    # 1 MHz / 16 = 62 500 Bd, 45.7 % below 115 200
    ("uart", "1 MHz", "", PORT, {"rate": "115200 Bd"}, {}, "cannot be met: the nearest is slow by 45.7 %."),
    # 1 MHz / 32 = 31 250 Bd
    ("uart", "1 MHz", "", PORT, {"rate": "31250 Bd"}, {"divisor": 1}, "is fast by 100 %."),
    # 1 MHz / 100 = 10 kHz with 100 steps
    (
        "pwm",
        "1 MHz",
        "",
        PULSE,
        {"rate": "10 kHz", "steps": 256},
        {},
        "cannot be met: at the nearest the pulse has 100 steps, 156 short of 256.",
    ),
    (
        "pwm",
        "1 MHz",
        "",
        PULSE,
        {"rate": "10 kHz", "steps": 80},
        {"prescaler": 1, "reload": 50},
        "is fast by 100 %, and the pulse has 50 steps, 30 short of 80.",
    ),
    # (10 + 2) kΩ * 5 pF * ln(2^13) = 540.7 ns; 12 cycles of 24 MHz are 500 ns
    (
        "adc",
        "24 MHz",
        "",
        {**CONVERTER, "sample_cycles": [12]},
        {"source_resistance": "10 kΩ"},
        {},
        "cannot be met: at the nearest the sample lasts 500 ns, 40.7 ns short of 541 ns, "
        "which the source needs to settle.",
    ),
    # its rate, 24 MHz / (12 + 12), is exact, and that is not said
    (
        "adc",
        "24 MHz",
        "",
        {**CONVERTER, "conversion_cycles": 12},
        {"source_resistance": "10 kΩ", "rate": "1 MHz"},
        {"sample_cycles": 12},
        "does not keep what is asked: the sample lasts 500 ns, 40.7 ns short of 541 ns, "
        "which the source needs to settle.",
    ),
    # 10 counts of 8 MHz are 1.25 µs, 1.3 at least; 20 together are 400 kHz exactly
    (
        "i2c",
        "8 MHz",
        "",
        BUS,
        NO_EDGES,
        {"low": 10, "high": 11},
        "does not keep what is asked: low lasts 1.25 µs, 50 ns short of 1.3 µs.",
    ),
    # 4 counts are 0.5 µs, 0.6 at least; the bus is slower than it may be, and that is not blamed
    (
        "i2c",
        "8 MHz",
        "",
        BUS,
        NO_EDGES,
        {"low": 40, "high": 4},
        "does not keep what is asked: high lasts 500 ns, 100 ns short of 600 ns.",
    ),
    # 8 + 8 counts are 2 µs and 2 ps: 500 kHz, 25 % above
    (
        "i2c",
        "8 MHz",
        "",
        BUS,
        NO_EDGES,
        {"low": 8, "high": 8},
        "is fast by 25 %, and low lasts 1 µs, 300 ns short of 1.3 µs.",
    ),
    # 400 and 600 counts of 8 MHz: 50 and 75 µs, together 8 kHz
    (
        "i2c",
        "8 MHz",
        "",
        {**BUS, "low": "1..1000", "high": "1..1000"},
        {"mode": "smbus", "rise": "1 ps", "fall": "1 ps"},
        {"low": 400, "high": 600},
        "does not keep what is asked: the bus runs at 8 kHz, 2 kHz short of 10 kHz, "
        "and high lasts 75 µs, 25 µs over 50 µs.",
    ),
    # 1 MHz / 100 000 counts would be 100 ms; 65 535 are 65.5 ms, 34.5 % short
    ("watchdog", "1 MHz", "", GUARD, {"time_out": "100 ms"}, {}, "cannot be met: the nearest is short by 34.5 %."),
    # 16 MHz / 3 = 5.33 Mbit/s, 6.67 % above 5; 1 Mbit/s is exact, and that is not said
    (
        "can",
        "16 MHz",
        "",
        FIELD_BUS,
        {"rate": "1 Mbit/s", "data_rate": "5 Mbit/s"},
        {},
        "cannot be met: at the nearest the data phase is fast by 6.67 %.",
    ),
    # 46.875 MHz of 48; the clock itself is held against the standard
    ("reference", "46.875 MHz", "", {}, {"standard": "usb-full-speed"}, {}, "misses its standard: slow by 2.34 %."),
    ("timer", "1 MHz", "", GUARD, {"period": "1 ms"}, {"prescaler": 1, "reload": 1010}, "is long by 1 %."),
    ("spi", "48 MHz", "", {"ratios": [2, 4]}, {"at_most": "8 MHz"}, {}, "cannot be met: the nearest is fast by 50 %."),
]
TIGHT: list[Given] = [
    # 1 MHz / 16 / 10 = 6250 Bd; −3 % is past −2 %, +1 % is not
    ("uart", "1 MHz", "-3 % .. +1 %", PORT, {"rate": "6250 Bd", "allowance": "±2 %"}, {}, "slow by up to 3 %"),
    # the larger end, −3 %, is allowed; +1 % is not
    (
        "uart",
        "1 MHz",
        "-3 % .. +1 %",
        PORT,
        {"rate": "6250 Bd", "allowance": "-5 % .. +0.5 %"},
        {},
        "fast by up to 1 %",
    ),
    (
        "uart",
        "1 MHz",
        "±3 %",
        PORT,
        {"rate": "6250 Bd", "allowance": "±2 %"},
        {},
        "slow by up to 3 % or fast by up to 3 %",
    ),
    # a time is short where the clock is fast: 1 / 1.03 is 2.91 % less; slow, 1 / 0.97 is 3.09 % more
    (
        "timer",
        "1 MHz",
        "±3 %",
        GUARD,
        {"period": "1 ms", "allowance": "-10 % .. +3 %"},
        {},
        "long by up to 3.09 %",
    ),
    # 1.3 µs are 13 counts of 10 MHz; 1 % faster they are 1.287 µs
    (
        "i2c",
        "10 MHz",
        "±1 %",
        BUS,
        NO_EDGES,
        {"low": 13, "high": 13},
        "low lasts 1.29 µs, 12.9 ns short of 1.3 µs",
    ),
    # 12 cycles of 22 MHz are 545.5 ns; 2 % faster 534.8 ns where 540.7 are needed
    (
        "adc",
        "22 MHz",
        "±2 %",
        {**CONVERTER, "sample_cycles": [12]},
        {"source_resistance": "10 kΩ"},
        {},
        "the sample lasts 535 ns, 5.9 ns short of 541 ns, which the source needs to settle",
    ),
    # at ±30 % three quarters closed leave no moment (0.75 / 0.7 > 1 / 1.3)
    (
        "watchdog",
        "37 kHz",
        "±30 %",
        GUARD,
        {"time_out": "1 s", "closed": "75 %", "allowance": "±50 %"},
        {},
        "no moment is safe for the refresh",
    ),
]


def said(case: Given) -> tuple[str, str]:
    """Severity and sentence of the first finding, spaces made plain."""
    family, clock, tolerance, generator, ask, chosen, _ = case
    size = {"MHz": 10**6, "kHz": 10**3}[clock.split()[1]]
    feed = Feed(Fraction(clock.split()[0]) * size, read_tolerance(tolerance) if tolerance else EXACT)
    kind = families()[family]
    answer, choice = answer_link(kind, feed, generator, ask, chosen)
    finding = next(say_case(Case("It", "", kind, ask, "what is asked", clock, answer, choice)))
    return finding.severity, finding.what.translate(str.maketrans("\u00a0\u2009\u2212", "  -"))


@pytest.mark.parametrize("case", FAILS, ids=lambda case: f"{case[0]} {case[-1]}")
def test_what_fails_is_told_by_what_it_misses(case: Given) -> None:
    assert said(case) == ("stop", f"It {case[-1]}")


@pytest.mark.parametrize("case", TIGHT, ids=lambda case: f"{case[0]} {case[-1]}")
def test_what_is_tight_is_told_by_the_end_that_is_past(case: Given) -> None:
    allowed = ", past what is allowed" if " by " in case[-1] else ""
    assert said(case) == ("caution", f"It: with its clock's tolerance {case[-1]}{allowed}.")


def test_what_a_family_does_not_explain_is_told_by_what_is_asked() -> None:
    choice = Choice(settings={"ratio": 1}, rate=Fraction(1), error=Fraction(0), verdict="under")
    answer = LinkAnswer((choice,), Allowance(Fraction(-1), Fraction(1), "a test"), "none fits")
    [finding] = say_case(Case("It", "", families()["spi"], {}, "at most 8 MHz", "1 Hz", answer))
    assert finding.what == "It cannot keep what is asked: at most 8 MHz."


def test_no_setting_that_is_exact_is_called_a_miss_of_its_rate() -> None:
    assert not [case for case in FAILS if "exact" in said(case)[1]]
