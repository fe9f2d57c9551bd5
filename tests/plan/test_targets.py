"""Targets as one writes them in a line, and what is told of those that ask for nothing or against themselves."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.plan import Target
from wheelwork.plan.reading import read_plan
from wheelwork.plan.targets import say_target, say_wanted, split_target, split_wanted

SHEET = Path(__file__).resolve().parents[2] / "scenarios" / "parts" / "turnstone-58.toml"


def turnstone() -> Part:
    part, problems = read_sheet(SHEET.read_text("utf-8"))
    assert part is not None, problems
    return part


def read(*targets: dict[str, Any]) -> tuple[Target, ...]:
    plan, problems = read_plan({"target": list(targets)}, turnstone())
    assert plan is not None, problems
    return plan.targets


@pytest.mark.parametrize(
    ("line", "target"),
    [
        ("usb_link 48 MHz within 0.25 %", Target("usb_link", Fraction(48_000_000), Fraction(1, 400))),
        ("usb_link 48 MHz ± 0.25 %", Target("usb_link", Fraction(48_000_000), Fraction(1, 400))),
        ("usb_link 48 MHz within +-10 ppm", Target("usb_link", Fraction(48_000_000), Fraction(1, 100_000))),
        ("core at least 30 MHz", Target("core", at_least=Fraction(30_000_000))),
        ("core from 30MHz", Target("core", at_least=Fraction(30_000_000))),
        ("slow_bus at most 31 MHz", Target("slow_bus", at_most=Fraction(31_000_000))),
        ("slow_bus up to 31 MHz", Target("slow_bus", at_most=Fraction(31_000_000))),
        ("core 48 MHz", Target("core", Fraction(48_000_000))),
        ("  core   exactly 48 MHz ", Target("core", Fraction(48_000_000))),
        ("core at 48 MHz", Target("core", Fraction(48_000_000))),
        ("core 32.768 kHz", Target("core", Fraction(32_768))),
        (
            "core at least 30 MHz and at most 48 MHz",
            Target("core", at_least=Fraction(30_000_000), at_most=Fraction(48_000_000)),
        ),
        ("core 30 MHz .. 48 MHz", Target("core", at_least=Fraction(30_000_000), at_most=Fraction(48_000_000))),
    ],
)
def test_a_line_says_what_is_wanted(line: str, target: Target) -> None:
    assert read(split_target(line)) == (target,)


@pytest.mark.parametrize(
    ("given_", "where", "what"),
    [
        (split_target("core"), "target.0", "nothing is asked for"),
        (split_target(""), "target.0.node", "'' is no node"),
        (split_target("core 48"), "target.0.frequency", "'48' has no unit"),
        (split_target("core at least"), "target.0.frequency", "'at least' is no frequency"),
        (split_target("core 48 MHz within 110 %"), "target.0.within", "'110 %' is no share"),
        (split_target("core 48 MHz within -1 %"), "target.0.within", "'-1 %' is no share"),
        (split_target("cor 48 MHz"), "target.0.node", "'cor' is no node"),
        ({"node": "core", "within": "1 %"}, "target.0", "nothing is asked for"),
        (split_target("core 30 MHz .. 20 MHz"), "target.0.at_most", "at most 20 MHz cannot be beside at least 30 MHz"),
        (
            {"node": "core", "frequency": "48 MHz", "within": "1 %", "at_least": "48.5 MHz"},
            "target.0.at_least",
            "at least 48.5 MHz cannot be beside 48 MHz",
        ),
        (
            {"node": "core", "frequency": "48 MHz", "at_most": "47 MHz"},
            "target.0.at_most",
            "at most 47 MHz cannot be beside 48 MHz",
        ),
    ],
)
def test_what_cannot_be_asked_is_told_at_its_place(given_: dict[str, Any], where: str, what: str) -> None:
    plan, problems = read_plan({"target": [given_]}, turnstone())
    assert plan is None
    assert (problems[0].where, what in problems[0].what) == (where, True), problems


def test_bounds_within_the_share_stand_beside_each_other() -> None:
    """1 % above 48 MHz is 48.48 MHz: at least 48.4 MHz leaves room."""
    assert read({"node": "core", "frequency": "48 MHz", "within": "1 %", "at_least": "48.4 MHz"})


frequencies = st.fractions(min_value=1, max_value=10**9, max_denominator=10**6)
targets = (
    st.builds(Target, st.just("core"), frequency=frequencies, within=st.none() | st.fractions(0, Fraction(99, 100)))
    | st.builds(Target, st.just("core"), at_least=frequencies)
    | st.builds(Target, st.just("core"), at_most=frequencies)
)


@given(targets)
def test_what_is_said_of_a_target_reads_back_the_same(target: Target) -> None:
    assert read({"node": "core", **split_wanted(say_wanted(target))}) == (target,)


@given(st.text(max_size=60))
def test_any_line_is_split_without_a_fault(line: str) -> None:
    assert "node" in split_target(line)


def test_a_target_is_told_with_its_title() -> None:
    target = Target("usb_link", Fraction(48_000_000), Fraction(1, 400))
    assert say_target(target, turnstone()) == "USB, full speed: 48\u00a0MHz within 0.25\u00a0%"
