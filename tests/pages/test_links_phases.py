"""The sum of a field bus with a data phase: both phases, each from the clock to its share of the allowance."""

from __future__ import annotations

import re

from wheelwork.judge import judge
from wheelwork.judge.rates import JudgedLink, judge_links
from wheelwork.pages.links_sums import show_sums
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan

SHEET = """
format = "wheelwork-part/1"
name = "Two phases"
core.clock = "core"
core_voltage.only.volts = "1 V"

[oscillator.crystal]
frequency = "20 MHz"
tolerance = "±100 ppm"

[divider.core]
input = "crystal"
ratios = "1..8"

[load.bus]
title = "Bus"
input = "core"

[load.bus.can]
prescaler = "1..8"
segment_1 = "1..64"
segment_2 = "1..16"
jump = "1..16"

[load.bus.can.data]
prescaler = "1..8"
segment_1 = "1..16"
segment_2 = "1..8"
"""


def bus(**asked: str) -> JudgedLink:
    part, problems = read_sheet(SHEET)
    assert part is not None, problems
    link = {"load": "bus", "family": "can", "rate": "500 kbit/s", **asked}
    plan, problems = read_plan({"in_use": ["bus"], "link": [link]}, part)
    assert plan is not None, problems
    return judge_links(judge(part, plan))[0]


def steps(link: JudgedLink) -> list[tuple[str, str]]:
    shown = [(step.label, re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", str(step.math)))) for step in show_sums(link)]
    plain = str.maketrans("\u2009\u00a0", "  ")
    return [(label.translate(plain), math.translate(plain).strip()) for label, math in shown]


def test_the_data_phase_has_a_sum_of_its_own() -> None:
    """20 MHz / 40 quanta = 500 kbit/s; for 3 Mbit/s the nearest is 20 MHz / 7 = 2.857 Mbit/s, 4.76 % slow."""
    link = bus(data_rate="3 Mbit/s")
    labels = [label for label, _ in steps(link)]
    assert labels[0] == "Rule"
    assert [label for label in labels if label.startswith("Data")][:3] == [
        "Data: rule",
        "Data: error",
        "Data: at worst",
    ]
    told = dict(steps(link))
    assert told["Rule"].endswith("= 500 000.000 bit/s")
    assert re.search(r"= 20 MHz 1 × \( 1 \+ \d \+ \d \) = 2 857 142\.857… bit/s$", told["Data: rule"])
    assert told["Data: error"].endswith("= 2 857 142.857… bit/s 3 000 000.000 bit/s − 1 = −4.76 %")
    assert told["Data: at worst"].endswith("= −4.77 %")


def test_both_phases_are_held_to_the_same_allowance() -> None:
    """20 MHz / 10 quanta = 2 Mbit/s exactly; 100 ppm of the clock's tolerance are the same share of both."""
    told = dict(steps(bus(data_rate="2 Mbit/s")))
    of = [label for label in told if "Of ±" in label or "of ±" in label]
    assert len(of) == 2
    assert of[1] == f"Data: o{of[0][1:]}"
    assert told[of[0]] == told[of[1]]


def test_a_bus_without_a_data_phase_has_one_sum() -> None:
    labels = [label for label, _ in steps(bus())]
    assert labels[:3] == ["Rule", "Error", "At worst"]
    assert len(labels) == 4
    assert labels[3].startswith("Of ±")
