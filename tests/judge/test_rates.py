"""Links judged: on the clock of their load, with its tolerance, the plan's own choice before the best.

Sums by hand on 29 MHz ± 30 ppm and 921 600 Bd: ÷ (16 * 31/16) = 31 gives 935 483.870… Bd, 1/31 of 29 000 000, which is
29 000 000 / (31 * 921 600) - 1 = 269 / 17 856 = 1.5065 % fast; ÷ (16 * 15/8) = 30 gives 4.89 % fast; the nearest is
÷ (8 * 63/16) = 31.5, 920 634.920… Bd, 19 / 18 144 = 0.1047 % slow.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from wheelwork.find.mends import with_mends
from wheelwork.findings import Finding
from wheelwork.judge import JudgedLink, Judgement, judge
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan

SHEET = """
format = "wheelwork-part/1"
name = "Rated"
core.clock = "core"
core_voltage.only.volts = "1 V"

[oscillator.crystal]
title = "Crystal"
frequency = "29 MHz"
tolerance = "±30 ppm"

[divider.core]
title = "Core"
input = "crystal"
ratios = "1..8"
limits = "up to 30 MHz"

[divider.slow]
title = "Slow bus"
input = "core"
ratios = "1..8"
limits = "up to 20 MHz"

[load.port]
title = "Port"
input = "core"
uart = { oversampling = [8, 16], divisor = "1..4096", fraction_of = 16 }

[load.lamp]
title = "Lamp"
input = "slow"
"""
MODEM = {"name": "Modem", "load": "port", "family": "uart", "rate": "921600 Bd", "allowance": "±2 %"}


@cache
def part() -> Part:
    read, problems = read_sheet(SHEET)
    assert read is not None, problems
    return read


def judged(*links: dict[str, Any], in_use: tuple[str, ...] = ("port",), **more: Any) -> Judgement:
    plan, problems = read_plan({"in_use": list(in_use), "link": list(links), **more}, part())
    assert plan is not None, problems
    return judge(part(), plan)


def judged_link(**change: Any) -> JudgedLink:
    [link] = judged({**MODEM, **change}).links
    return link


def told(finding: Finding) -> tuple[str, str, str]:
    plain = str.maketrans("\u00a0\u2009", "  ")
    return finding.severity, finding.what.translate(plain), finding.detail.translate(plain)


def test_a_link_is_judged_on_the_clock_that_feeds_its_load() -> None:
    link = judged_link()
    assert link.clock is not None
    assert (link.node, link.clock.nominal, link.title, link.wanted) == ("core", 29_000_000, "Modem", "921600 Bd")
    [halved] = judged(MODEM, set={"core": 2}).links
    assert halved.clock is not None
    assert halved.clock.nominal == 14_500_000


def test_the_best_counts_where_nothing_is_chosen() -> None:
    link = judged_link()
    assert link.choice is not None
    assert link.choice.settings == {"oversampling": 8, "divisor": Fraction(63, 16)}
    assert link.choice.error == Fraction(-19, 18144)
    assert (link.chosen, link.verdict, link.keeps, link.findings) == (None, "inside", True, ())


def test_the_plans_own_choice_counts_before_the_best() -> None:
    link = judged_link(chosen={"oversampling": 16, "divisor": "31/16"})
    assert link.choice is link.chosen
    assert link.chosen is not None
    assert (link.chosen.error, link.verdict) == (Fraction(269, 17856), "inside")


def test_the_tolerance_of_the_clock_is_carried_into_the_error() -> None:
    """1.00003 * (1 + 269/17 856) - 1, and the same with 0.99997."""
    choice = judged_link(chosen={"oversampling": 16, "divisor": "31/16"}).choice
    assert choice is not None
    ends = [Fraction(18125, 17856) * (1 + sign * Fraction(30, 10**6)) - 1 for sign in (-1, 1)]
    assert [choice.error_lowest, choice.error_highest] == ends


def test_a_choice_outside_stops_and_names_the_best_that_keeps() -> None:
    link = judged_link(chosen={"oversampling": 16, "divisor": "15/8"})
    assert (link.verdict, link.keeps) == ("over", False)
    [finding] = link.findings
    assert told(finding) == (
        "stop",
        "Modem is fast by 4.89 %.",
        "966 666.666… Bd where 921600 Bd is wanted, from Core 29 MHz; allowed ±2 %: the link's own. "
        "The best keeps it: oversampling 8, divisor 3.9375.",
    )
    assert (finding.node, finding.link) == ("port", "Modem")


def test_none_fits_is_told_with_the_nearest() -> None:
    """From 29 MHz at most 29 000 000 / 8 = 3 625 000 Bd come out: 63.75 % below 10 MBd."""
    link = judged_link(rate="10 MBd")
    assert (link.verdict, link.keeps) == ("none fits", False)
    [finding] = link.findings
    assert told(finding)[:2] == ("stop", "Modem cannot be met: the nearest is slow by 63.8 %.")


def test_a_rate_above_its_clock_is_a_finding_and_no_fault() -> None:
    """29 MHz over 8 samples a bit and the divisor 1 is 3 625 000 Bd."""
    link = judged_link(rate="90 MBd")
    assert (link.answer, link.verdict, link.keeps) == (None, "none fits", False)
    [finding] = link.findings
    assert told(finding)[1].startswith("Modem cannot be met: rate: ")
    assert told(finding)[2] == "At most 3625000 Bd comes of that clock."


def test_only_the_tolerance_past_an_edge_is_a_caution() -> None:
    """269/17 856 is 1.506 496… %; with 30 ppm of 1.015 06 more it is 1.509 541… %, past 1.508 %."""
    link = judged_link(chosen={"oversampling": 16, "divisor": "31/16"}, allowance="±1.508 %")
    assert (link.verdict, link.keeps) == ("tight", True)
    [finding] = link.findings
    assert told(finding)[:2] == (
        "caution",
        "Modem: with its clock's tolerance fast by up to 1.51 %, past what is allowed.",
    )


def test_a_link_of_a_stopped_load_says_so_and_is_not_judged() -> None:
    [link] = judged(MODEM, in_use=()).links
    assert (link.clock, link.answer, link.verdict, link.keeps) == (None, None, "stopped", True)
    [finding] = link.findings
    assert told(finding)[:2] == ("note", "Modem is not judged: Port is not in use.")


def test_a_link_without_a_name_is_called_by_its_load() -> None:
    assert judged_link(name="").title == "Port"


def test_findings_of_links_join_the_plans_after_its_own() -> None:
    judgement = judged({**MODEM, "rate": "10 MBd"}, in_use=("port", "lamp"))
    stops = [(finding.node, finding.link) for finding in judgement.findings if finding.severity == "stop"]
    assert stops == [("slow", ""), ("port", "Modem")]


def usb(standard: str, clock: str) -> list[tuple[str, bool]]:
    """Findings that stop a load held to 48 MHz ± 0.25 % (USB 2.0, section 7.1.11) with a link to a standard."""
    sheet = SHEET.replace("29 MHz", clock).replace("30 MHz", "50 MHz").replace("±30 ppm", "±10 ppm")
    bus = '[load.bus]\ntitle = "Bus"\ninput = "core"\nlimits = "48 MHz ± 0.25 %"\nreference = {}\n'
    read, problems = read_sheet(sheet + bus)
    assert read is not None, problems
    link = {"name": "USB", "load": "bus", "family": "reference", "standard": standard}
    plan, problems = read_plan({"in_use": ["bus"], "link": [link]}, read)
    assert plan is not None, problems
    stops = [finding for finding in judge(read, plan).findings if finding.severity == "stop"]
    return [(told(finding)[1], bool(finding.link)) for finding in stops]


def test_what_sheet_and_link_say_alike_is_told_once() -> None:
    """47 MHz are 2.08 % below 48; 0.25 % of 48 MHz are 120 kHz, so they are 880.47 kHz below the edge at −10 ppm."""
    assert usb("usb-full-speed", "47 MHz") == [("Bus is under by 880 kHz.", False)]


def test_what_a_link_bears_less_of_than_the_sheet_is_told_beside_it() -> None:
    """A host has 500 ppm (USB 2.0, section 7.1.11): 47.9 MHz, 2083 ppm below, are inside the sheet's 0.25 % alone."""
    slow = ("USB misses its standard: slow by 2.08 %.", True)
    assert usb("usb-full-speed-host", "47 MHz") == [("Bus is under by 880 kHz.", False), slow]
    assert usb("usb-full-speed-host", "47.9 MHz") == [("USB misses its standard: slow by 0.208 %.", True)]


def test_a_links_stop_leaves_the_plan_legal() -> None:
    """`legal` speaks of windows, wait states, rules and supply; a rate is none of them."""
    judgement = judged({**MODEM, "rate": "10 MBd"})
    assert judgement.legal
    assert [finding.severity for finding in judgement.findings] == ["stop"]


def test_no_mend_is_sought_for_a_link() -> None:
    judgement = with_mends(judged({**MODEM, "rate": "10 MBd"}, in_use=("port", "lamp")), lambda: True)
    stops = [finding for finding in judgement.findings if finding.severity == "stop"]
    mended = {finding.link: bool(finding.mend or finding.tried) for finding in stops}
    assert mended == {"": True, "Modem": False}


@pytest.mark.parametrize("rate", ["9600 Bd", "921600 Bd"])
def test_the_same_plan_is_judged_the_same_again(rate: str) -> None:
    assert judged({**MODEM, "rate": rate}).links == judged({**MODEM, "rate": rate}).links
