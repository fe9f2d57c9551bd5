"""Plans with links, for the tests of the Links page. The part is Turnstone 58; its slow bus runs at 29 MHz ±30 ppm."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from tests.demo import load_demo
from wheelwork.judge import Judgement, judge
from wheelwork.pages.plan import permalink_of
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan

PART, _DEMO = load_demo("01-skerry-3-steady-running")
Raw = Mapping[str, Any]
RADIO: Raw = {
    "name": "Radio modem",
    "load": "serial_port",
    "family": "uart",
    "rate": "921600 Bd",
    "allowance": "±2 %",
    "chosen": {"oversampling": 16, "divisor": 2},
}
"""29 MHz / (16 * 2) = 906 250 Bd, 1.666 % slow: 83 % of ±2 %."""
TIDE: Raw = {
    "name": "Tide sensor",
    "load": "serial_port",
    "family": "uart",
    "rate": "9600 Bd",
    "frame": "8N1",
    "allowance": "±2 %",
}
"""29 MHz / (16 * 188 13/16) = 9599.470… Bd, 55.2 ppm slow."""
SLOW: Raw = {**RADIO, "name": "Slow modem", "chosen": {"oversampling": 16, "divisor": "33/16"}}
"""29 MHz / (16 * 33/16) = 878 787.87… Bd, 4.65 % slow, past ±2 %; ÷ 3 15/16 with 8 samples is 0.105 % slow."""
TOO_FAST: Raw = {**TIDE, "name": "Far too fast", "rate": "3.5 MBd"}
"""29 MHz / 8 = 3.625 MBd, 3.57 % fast, is as near as it gets: one sixteenth more, ÷ 1 1/16, is 2.52 % slow."""


def plan_with(*links: Raw) -> Plan:
    """The demo's plan with these links and no others."""
    plan, problems = read_plan({**write_plan(_DEMO, PART), "link": [dict(link) for link in links]}, PART)
    assert plan is not None, problems
    return plan


def judged_with(*links: Raw) -> Judgement:
    """Its judgement."""
    return judge(PART, plan_with(*links))


def link_of(plan: Plan) -> str:
    """The text that carries a plan of this part."""
    return permalink_of(plan, PART)


def address_of(plan: Plan, *opened: int) -> str:
    """The address of its Links page with some rows open."""
    return "/links?" + urlencode({"plan": link_of(plan), "open": " ".join(map(str, opened))})
