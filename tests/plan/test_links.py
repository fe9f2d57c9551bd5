"""Links of a plan: read with every problem at its place, written back the same, told in words."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.demo import load_demo
from wheelwork.findings import Problem
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.links import Link, say_asked
from wheelwork.plan.permalink import read_permalink, write_permalink
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import add_lines, read_plan, read_plan_text
from wheelwork.plan.writing import write_plan

SHEET = """
format = "wheelwork-part/1"
name = "Linked"
core.clock = "core"
core_voltage.only.volts = "1 V"
oscillator.rc.frequency = "8 MHz"

[divider.core]
input = "rc"
ratios = "1..8"

[load.port]
title = "Port"
input = "core"
uart = { oversampling = [8, 16], divisor = "1..4096", fraction_of = 16 }

[load.spare]
title = "Spare port"
input = "core"
uart = { divisor = "1..255" }

[load.lamp]
title = "Lamp"
input = "core"
"""
CONSOLE = {"name": "Console", "load": "port", "family": "uart", "rate": "9600 Bd"}


@cache
def part() -> Part:
    read, problems = read_sheet(SHEET)
    assert read is not None, problems
    return read


def plan_with(*links: object) -> tuple[Plan | None, list[Problem]]:
    return read_plan({"link": list(links)}, part())


def refused(*links: object) -> list[str]:
    plan, problems = plan_with(*links)
    assert plan is None
    return [problem.sentence() for problem in problems]


def test_what_is_asked_is_every_key_but_the_links_own() -> None:
    plan, _ = plan_with({**CONSOLE, "allowance": "±2 %", "chosen": {"oversampling": 16, "divisor": "833/16"}})
    assert plan is not None
    asked = {"rate": "9600 Bd", "allowance": "±2 %"}
    assert plan.links == (Link("Console", "port", "uart", asked, {"oversampling": 16, "divisor": "833/16"}),)


def test_a_name_may_be_left_out_of_many() -> None:
    unnamed = {key: value for key, value in CONSOLE.items() if key != "name"}
    plan, problems = plan_with(unnamed, unnamed)
    assert problems == []
    assert plan is not None
    assert [link.name for link in plan.links] == ["", ""]


ASKS = st.fixed_dictionaries(
    {"rate": st.integers(1, 10**6).map("{} Bd".format)},
    optional={
        "frame": st.sampled_from(["8N1", "7E1", "8E2", "9N1"]),
        "allowance": st.integers(1, 90).map("±{} %".format),
        "chosen": st.fixed_dictionaries(
            {"oversampling": st.sampled_from([8, 16]), "divisor": st.integers(16, 65535).map("{}/16".format)}
        ),
    },
)


@given(st.lists(st.tuples(st.booleans(), ASKS), max_size=8))
def test_links_ride_in_an_address_and_come_back_the_same(asked: list[tuple[bool, dict[str, Any]]]) -> None:
    links = [
        {**({"name": f"link {place}"} if named else {}), "load": "port", "family": "uart", **ask}
        for place, (named, ask) in enumerate(asked)
    ]
    plan, problems = plan_with(*links)
    assert plan is not None, problems
    written = write_plan(plan, part())
    assert written.get("link", []) == links
    raw, _ = read_permalink(write_permalink(written))
    assert read_plan(raw, part()) == (plan, [])


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"rate": "0 Bd"}, "link.1.rate: '0 Bd' is not above zero; write one above zero, such as 9600 Bd"),
        ({"rat": 1}, "link.1.rat: 'rat' is no key here; did you mean rate? standard, rate, frame and allowance are"),
        ({"standard": "mdi"}, "link.1.standard: 'mdi' is not known here; did you mean midi?"),
        ({"family": "uarts"}, "link.1.family: 'uarts' is no family of links; did you mean uart?"),
        ({"load": "prt"}, "link.1.load: 'prt' is no load of Linked; did you mean port?"),
        ({"load": "lamp"}, "link.1.family: Lamp has no uart generator; it has none; port and spare have one"),
        ({"load": 3}, "link.1.load: '3' is no text; write a text in quotes"),
        ({"name": "First"}, "link.1.name: 'First' names two links; give each a name of its own"),
        ({"chosen": 3}, "link.1.chosen: '3' is no table; write { divisor = 4 }"),
        (
            {"chosen": {"oversampling": 4, "divisor": 4}},
            "link.1.chosen.oversampling: '4' is not offered; 8, 16 are",
        ),
        (
            {"chosen": {"oversampling": 8, "divisor": "4097"}},
            "link.1.chosen.divisor: '4097' is not offered; 1 to 4096 in steps of 1/16 are",
        ),
    ],
)
def test_a_problem_stands_at_its_place(change: dict[str, Any], told: str) -> None:
    [said] = refused({**CONSOLE, "name": "First"}, {**CONSOLE, **change})
    assert said.startswith(told)


def test_a_misspelt_key_is_named_where_the_right_one_is_missing() -> None:
    assert refused({"lod": "port", "famly": "uart", "rate": "9600 Bd"}) == [
        'link.0.load: is missing; write load = "serial_port" in place of lod',
        'link.0.family: is missing; write family = "uart" in place of famly',
    ]


def test_all_problems_of_all_links_are_told_together() -> None:
    told = refused({**CONSOLE, "rate": "9600"}, {**CONSOLE, "name": "B", "load": "x"}, {**CONSOLE, "name": "C", "x": 1})
    assert [sentence.split(":")[0] for sentence in told] == ["link.0.rate", "link.1.load", "link.2.x"]


def test_a_problem_has_the_line_of_its_link() -> None:
    link = '[[link]]\nload = "port"\nfamily = "uart"\nrate = "{}"\n\n'
    text = link.format("9600 Bd") + link.format("1")
    raw, _ = read_plan_text(text)
    _, problems = read_plan(raw, part())
    [problem] = add_lines(problems, text)
    assert (problem.where, problem.line) == ("link.1.rate", 9)


def test_there_are_at_most_64() -> None:
    assert plan_with(*[{**CONSOLE, "name": str(place)} for place in range(64)])[1] == []
    assert refused(*[{**CONSOLE, "name": str(place)} for place in range(65)]) == [
        "link: there are 65 entries; at most 64"
    ]


def test_a_link_that_is_no_table_is_refused() -> None:
    assert refused("9600 Bd") == ["link.0: '9600 Bd' is no table; write keys with their values"]


def test_a_plan_without_links_writes_none() -> None:
    _, plan = load_demo("01-skerry-3-steady-running")
    empty, _ = plan_with()
    assert empty is not None
    assert "link" not in write_plan(empty, part())
    assert plan.links  # the demo's own has some


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        ({"rate": "9600 Bd", "frame": "8N1"}, "9600 Bd, frame 8N1"),
        ({"standard": "midi"}, "MIDI 1.0"),
        ({"allowance": "±2 %", "rate": "1 kBd"}, "1 kBd"),
        ({"at_most": "10 MHz"}, "at most 10 MHz"),
        ({"rise": "120 ns", "mode": "fast"}, "fast mode, rise 120 ns"),
    ],
)
def test_what_is_asked_is_told_the_main_thing_first(ask: dict[str, Any], said: str) -> None:
    assert say_asked(Link("", "port", "uart", ask)) == said


def test_an_empty_load_or_family_is_told_at_its_place() -> None:
    plan, problems = plan_with({"load": "", "family": "", "rate": "9600 Bd"})
    assert plan is None
    assert [(problem.where, problem.what) for problem in problems] == [
        ("link.0.load", "nothing stands here"),
        ("link.0.family", "nothing stands here"),
    ]
