"""The plans that are handed over in these tests: the demo's, that of the walk, and parts made to be awkward."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

from tests.demo import PLANS, SCENARIOS, load_demo
from wheelwork.handover.forms import Wish, forms
from wheelwork.judge import Judgement, judge
from wheelwork.part.reading import read_sheet, read_sheet_json
from wheelwork.plan.reading import read_plan, read_plan_text

NAMES = (*(path.stem for path in PLANS), "walk", "fraction", "ratios", "links")

AWKWARD: dict[str, Any] = {
    "format": "wheelwork-part/1",
    "name": "Awkward",
    "core": {"clock": "core"},
    "core_voltage": {"only": {"volts": "1.1755 V", "code": 3, "flash": [{"up_to": "1 GHz", "wait_states": 2}]}},
    "oscillator": {"rc": {"frequency": ["100/3 MHz", "8 MHz"], "tolerance": "±1 %"}},
    "pll": {
        "fine": {
            "input": "rc",
            "reference_divider": "1..63",
            "feedback": "1..4000",
            "fraction_of": 16777216,
            "codes": {"reference_divider": "ratio - 1", "fraction": "ratio"},
        }
    },
    "divider": {
        "halves": {"input": "fine", "ratios": [1, "3/2", "5/2", 7], "codes": [0, 1, 2, 3]},
        "core": {"input": "halves", "ratios": "1..1000000", "limits": "up to 1 MHz"},
        "fine_feedback": {"input": "core", "ratios": [1, 2], "codes": [4, 5]},
    },
    "scaler": {"thirds": {"input": "core", "multiply": 2, "divide": 3}},
    "load": {
        "everything": {
            "input": "thirds",
            "also": ["fine_feedback"],
            "spi": {"ratios": "2..256"},
            "watchdog": {"prescaler": "1..256", "reload": "1..4096"},
            "can": {
                **{"prescaler": "1..256", "segment_1": "1..16", "segment_2": "1..8", "jump": "1..4"},
                "data": {"prescaler": "1..32", "segment_1": "1..16", "segment_2": "1..8", "jump": "1..4"},
            },
            "i2c": {"prescaler": "1..16", "low": "4..256", "high": "4..256"},
            "pwm": {"prescaler": "1..16", "reload": "1..65536", "aligned": ["centre"]},
        }
    },
}
FRACTION = {
    "set": {"fine": {"reference_divider": 7, "feedback": 997, "fraction": 9999991}, "halves": "3/2", "core": 999983},
    "in_use": ["everything"],
}
RATIOS = {
    "set": {"rc": "8 MHz", "fine": {"feedback": 13, "fraction": 1}, "halves": "5/2", "core": 1, "fine_feedback": 2},
    "in_use": ["everything"],
}
LINKS = {
    "set": {"rc": "8 MHz", "fine": {"feedback": 15}, "core": 1},
    "in_use": ["everything"],
    "link": [
        {"name": "One!", "load": "everything", "family": "spi", "at_most": "1 MHz"},
        {"name": "One?", "load": "everything", "family": "watchdog", "time_out": "2 ms"},
        {"load": "everything", "family": "can", "rate": "500 kbit/s", "data_rate": "2 Mbit/s"},
        {"name": "潮", "load": "everything", "family": "i2c", "mode": "fast", "rise": "100 ns", "fall": "30 ns"},
        {"name": "Lamp", "load": "everything", "family": "pwm", "rate": "20 kHz", "steps": 100},
    ],
}
MADE: Mapping[str, dict[str, Any]] = {"fraction": FRACTION, "ratios": RATIOS, "links": LINKS}


@cache
def judged(name: str) -> Judgement:
    """The judgement of one of the plans, by its name."""
    if name in MADE:
        return judge_made(MADE[name])
    if name == "walk":
        return judge_files("walk/buoy-16.toml", "walk/channel-buoy-4.toml")
    return judge(*load_demo(name))


def judge_made(raw: Mapping[str, Any]) -> Judgement:
    """The judgement of a plan on the awkward part."""
    part, problems = read_sheet_json(AWKWARD)
    assert part is not None, problems
    plan, problems = read_plan(dict(raw), part)
    assert plan is not None, problems
    return judge(part, plan)


def judge_files(sheet: str, file: str) -> Judgement:
    """The judgement of a plan by the files of sheet and plan."""
    part, problems = read_sheet((SCENARIOS / sheet).read_text())
    assert part is not None, problems
    raw, problems = read_plan_text((SCENARIOS / file).read_text())
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    return judge(part, plan)


def written(name: str, form: str, prefix: str = "PLAN_", reasons: bool = True) -> str:
    """One of the plans as text of a form."""
    return forms()[form].write(judged(name), Wish(prefix, reasons))


def with_titles(judgement: Judgement, titles: list[str]) -> Judgement:
    """The same with other titles on nodes, links, plan, part and board, taken in turn."""
    turn = [titles[place % len(titles)] for place in range(len(judgement.part.nodes) + 9)]
    nodes = {
        name: replace(node, title=turn[place], see=turn[place + 1])
        for place, (name, node) in enumerate(judgement.part.nodes.items())
    }
    part = replace(judgement.part, nodes=nodes, name=turn[-1], figures_from=turn[-2], revision=turn[-3])
    links = tuple(
        replace(link, name=f"{turn[place % len(turn)]} {place}") for place, link in enumerate(judgement.plan.links)
    )
    plan = replace(
        judgement.plan, name=turn[-4], owner=turn[-5], board_name=turn[-6], board_revision=turn[-7], links=links
    )
    return judge(part, plan)
