"""Mends of links: the nearest single change with which a link keeps its rate, held against trying everything."""

from __future__ import annotations

from fractions import Fraction
from itertools import count

import pytest

from wheelwork.find.link_mends import seek_link_mend
from wheelwork.find.mends import apply_mend
from wheelwork.judge import Judgement, judge
from wheelwork.judge.rates import judge_links
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan

SHEET = """
format = "wheelwork-part/1"
name = "Linked"
core.clock = "core"
core_voltage.only.volts = "1 V"
oscillator.rc.frequency = "8 MHz"
oscillator.fine.frequency = "7.3728 MHz"

[selector.source]
inputs = ["rc", "fine"]

[divider.core]
input = "source"
ratios = [1, 2, 3, 4, 8]

[divider.bus]
input = "core"
ratios = "1..16"
limits = "up to 4.5 MHz"

[load.port]
input = "bus"
uart = { oversampling = [16], divisor = "1..255" }

[load.other]
input = "bus"
uart = { oversampling = [16], divisor = "1..255" }
"""


def part() -> Part:
    read, problems = read_sheet(SHEET)
    assert read is not None, problems
    return read


def judged(*rates: str, loads: tuple[str, ...] = ("port", "other"), **settings: int | str) -> Judgement:
    """A plan with a link for each rate, ±1 % allowed; the bus divides by 2 unless said."""
    links = [
        {"name": load, "load": load, "family": "uart", "rate": rate, "allowance": "±1 %"}
        for load, rate in zip(loads, rates, strict=False)
    ]
    raw = {"in_use": list(loads), "link": links, "set": {"core": 1, "bus": 2, **settings}}
    plan, problems = read_plan(raw, part())
    assert plan is not None, problems
    return judge(part(), plan)


def always() -> bool:
    return True


def test_the_nearest_change_is_the_one_that_leaves_the_core_most_alone() -> None:
    """115 200 Bd of 4 MHz: /2 is 8.5 % fast. The bus at 8 / 9 MHz: 55 556 Bd at most. None of its ratios does;
    7.3728 MHz over 2 makes 3.6864 MHz = 16 * 2 * 115 200 exactly, and moves the core by 8.5 %."""
    mend = seek_link_mend(judged("115200 Bd"), 0, always)
    assert mend.finished
    assert mend.mend is not None
    assert mend.mend.set == {"source": "fine"}


def test_a_ratio_that_keeps_the_core_clock_goes_before_one_that_moves_it() -> None:
    """8 MHz / 6 / 16 = 83 333.3 Bd, and so are 8 MHz / 2 / 16 / 3; from 5 the bus has less far to go to 6."""
    start = judged("83333 Bd", bus=5)
    assert not judge_links(start)[0].keeps
    mend = seek_link_mend(start, 0, always).mend
    assert mend is not None
    assert mend.set == {"bus": Fraction(6)}


def test_a_mend_harms_no_window_and_no_other_link() -> None:
    """The bus at 6 would mend the first link and harm the second, 31 250 Bd = 8 MHz / 2 / 16 / 8; at 2 both keep."""
    start = judged("83333 Bd", "31250 Bd", bus=4)
    links = judge_links(start)
    assert [link.keeps for link in links] == [False, True]
    mend = seek_link_mend(start, 0, always).mend
    assert mend is not None
    after = judge(start.part, apply_mend(start.plan, mend))
    assert all(link.keeps for link in judge_links(after))
    assert after.legal


def every_single_change(start: Judgement) -> list[Judgement]:
    """All plans that differ in one setting, by trying each in turn."""
    found = []
    for key, values in (("core", (1, 2, 3, 4, 8)), ("bus", range(1, 17))):
        found += [start.plan.with_settings({key: Fraction(value)}) for value in values]
    found += [start.plan.with_settings({"source": name}) for name in ("rc", "fine")]
    return [judge(start.part, plan) for plan in found]


def distance(start: Judgement, after: Judgement) -> tuple[Fraction, Fraction]:
    ratios = [after.clocks[name].nominal / start.clocks[name].nominal for name in start.clocks.keys() & after.clocks]
    core = after.clocks["core"].nominal / start.clocks["core"].nominal
    total = Fraction(1)
    for ratio in ratios:
        total *= max(ratio, 1 / ratio)
    return max(core, 1 / core), total


@pytest.mark.parametrize("rate", ["9600 Bd", "19200 Bd", "38400 Bd", "57600 Bd", "76800 Bd", "115200 Bd", "230400 Bd"])
@pytest.mark.parametrize("bus", [2, 3, 7, 16])
def test_no_single_change_is_nearer(rate: str, bus: int) -> None:
    start = judged(rate, bus=bus)
    if judge_links(start)[0].keeps:
        return
    able = [after for after in every_single_change(start) if after.legal and judge_links(after)[0].keeps]
    mend = seek_link_mend(start, 0, always).mend
    assert (mend is None) == (able == [])
    if mend is not None:
        after = judge(start.part, apply_mend(start.plan, mend))
        assert distance(start, after) == min(distance(start, each) for each in able)


def test_where_nothing_mends_it_that_is_the_answer() -> None:
    assert seek_link_mend(judged("3 MBd"), 0, always).mend is None


def test_it_ends_when_its_time_does() -> None:
    asked = count()
    ended = seek_link_mend(judged("3 MBd"), 0, lambda: next(asked) < 5)
    assert not ended.finished
    assert next(asked) == 6


def test_an_illegal_plan_is_not_made_worse() -> None:
    """With the bus at 1 it is over by 3.5 MHz; a mend of the link may leave that, and harm nothing else."""
    start = judged("115200 Bd", bus=1)
    assert not start.legal
    assert not judge_links(start)[0].keeps
    mend = seek_link_mend(start, 0, always).mend
    assert mend is not None
    after = judge(start.part, apply_mend(start.plan, mend))
    assert judge_links(after)[0].keeps
    outside = [{name for name, each in judgement.nodes.items() if each.outside} for judgement in (start, after)]
    assert outside[1] <= outside[0]
