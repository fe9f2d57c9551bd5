"""Findings in words: an amount can be told from the values beside it, and a PLL's two verdicts are told apart."""

from __future__ import annotations

from functools import cache
from typing import Any

from wheelwork.findings import Finding
from wheelwork.judge import judge
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan

SHEET = """
format = "wheelwork-part/1"
name = "Remarked"
core.clock = "core"
core_voltage.only.volts = "1 V"

[oscillator.rc]
title = "RC"
kind = "rc"
frequency = "8 MHz"
tolerance = "±2 %"

[oscillator.crystal]
title = "Crystal"
kind = "crystal"
frequency = "4 MHz .. 16 MHz"

[selector.source]
title = "Source"
inputs = ["rc", "crystal"]

[divider.core]
title = "Core"
input = "source"
ratios = "1..8"
limits = "2 MHz .. 20 MHz"

[pll.main]
title = "Main PLL"
input = "source"
reference_divider = "1..8"
feedback = "8..20"
phase_detector = "1 MHz .. 4 MHz"
vco = "60 MHz .. 90 MHz"

[load.port]
title = "Port"
input = "main"
"""


@cache
def part() -> Part:
    read, problems = read_sheet(SHEET)
    assert read is not None, problems
    return read


def stops(**raw: Any) -> list[Finding]:
    plan, problems = read_plan(raw, part())
    assert plan is not None, problems
    return [finding for finding in judge(part(), plan).findings if finding.severity == "stop"]


def said(finding: Finding) -> tuple[str, str]:
    return finding.what.replace("\u00a0", " "), finding.detail.replace("\u00a0", " ")


def test_an_amount_that_the_tolerance_adds_to_is_told_with_what_it_reaches() -> None:
    """8 MHz / 8 = 1 MHz, less 2 % 980 kHz: 1.02 MHz below 2 MHz. 2 - 1 would be 1."""
    [finding] = stops(set={"core": 8})
    assert said(finding) == ("Core is under by 1.02 MHz.", "1 MHz, with tolerance 980 kHz, allowed 2 to 20 MHz.")


def test_an_amount_that_the_nominal_makes_is_told_plainly() -> None:
    """8 MHz / 8 = 1 MHz, less 30 ppm 999.97 kHz: 1.00003 MHz below 2 MHz, in three figures 1."""
    crystal = {"frequency": "8 MHz", "tolerance": "±30 ppm"}
    [finding] = stops(set={"core": 8, "source": "crystal"}, board={"crystal": crystal})
    assert said(finding) == ("Core is under by 1 MHz.", "1 MHz, allowed 2 to 20 MHz.")


def test_a_phase_detector_and_a_vco_are_told_apart() -> None:
    """8 MHz / 1 = 8 MHz is over 4 MHz; 8 MHz · 12 = 96 MHz is over 90 MHz."""
    found = stops(in_use=["port"], set={"main": {"feedback": 12}})
    told = {finding.what.partition(" is ")[0]: (finding.node, finding.detector) for finding in found}
    assert told == {"Phase detector of Main PLL": ("main", True), "VCO of Main PLL": ("main", False)}
