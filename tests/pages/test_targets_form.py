"""The form of the Targets page: what is typed becomes a plan's targets, or is told at its field and kept."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.demo import load_demo
from wheelwork.pages.targets_form import (
    TypedTarget,
    Wishes,
    read_targets_form,
    read_targets_of,
    read_wishes,
    type_target,
)
from wheelwork.plan.plan import Target

MHZ = Fraction(10**6)
PART, PLAN = load_demo("01-skerry-3-steady-running")


def typed(*rows: tuple[str, str, str], **more: str) -> dict[str, str]:
    """The fields of a form with these rows of targets."""
    fields = dict(more)
    for number, row in enumerate(rows):
        fields |= {
            f"target.{number}.{what}": text for what, text in zip(("node", "wanted", "within"), row, strict=True)
        }
    return fields


@pytest.mark.parametrize(
    ("wanted", "within", "target"),
    [
        ("58 MHz", "±0.5 %", Target("core", 58 * MHZ, Fraction(1, 200))),
        ("58 MHz", "0.5%", Target("core", 58 * MHZ, Fraction(1, 200))),
        ("58 MHz", "none", Target("core", 58 * MHZ)),
        ("58 MHz", "", Target("core", 58 * MHZ)),
        ("58 MHz ± 50 ppm", "none", Target("core", 58 * MHZ, Fraction(1, 20_000))),
        ("at most 31 MHz", "none", Target("core", at_most=31 * MHZ)),
        ("At least 4 MHz", "", Target("core", at_least=4 * MHZ)),
        ("at least 4 MHz and at most 31 MHz", "", Target("core", at_least=4 * MHZ, at_most=31 * MHZ)),
    ],
)
def test_a_row_is_read_as_a_target(wanted: str, within: str, target: Target) -> None:
    read = read_targets_form(PART, PLAN, typed(("core", wanted, within)))
    assert read.problems == ()
    assert read.plan.targets == (target,)


@pytest.mark.parametrize(
    "target",
    [
        Target("core", 58 * MHZ, Fraction(1, 200)),
        Target("core", 232 * MHZ / 9),
        Target("core", at_least=Fraction(32768)),
        Target("core", at_least=4 * MHZ, at_most=31 * MHZ),
    ],
)
def test_what_a_row_shows_reads_back_as_the_same_target(target: Target) -> None:
    row = type_target(target)
    read = read_targets_form(PART, PLAN, typed((row.node, row.wanted, row.within)))
    assert read.plan.targets == (target,)


@pytest.mark.parametrize(
    ("row", "field", "what", "allowed"),
    [
        (("core", "58", ""), "wanted", "'58' has no unit", "write it as 58 MHz"),
        (("core", "58 MHz", "half"), "within", "'half' is no share", ""),
        (("core", "at most 31 MHz", "1 %"), "within", "a share needs a frequency", "write none"),
        (("core", "", "1 %"), "wanted", "nothing is asked for", "58 MHz, at least 4 MHz or at most 31 MHz"),
        (("cores", "58 MHz", ""), "node", "'cores' is no node of Turnstone 58", "core"),
        (("core", "at least 9 MHz and at most 8 MHz", ""), "wanted", "at most 8 MHz", "leave one of them out"),
    ],
)
def test_what_cannot_be_taken_is_told_at_its_field(
    row: tuple[str, str, str], field: str, what: str, allowed: str
) -> None:
    read = read_targets_form(PART, PLAN, typed(("slow_bus", "at most 31 MHz", ""), row))
    first = read.problems[0]
    assert first.where == f"target.1.{field}"
    assert what in first.what
    assert allowed in first.allowed
    assert read.rows[1] == TypedTarget(*row)
    assert read.plan.targets == (Target("slow_bus", at_most=31 * MHZ),)


def test_all_faults_are_told_at_once_and_the_right_rows_count() -> None:
    fields = typed(("core", "58", ""), ("slow_bus", "at most 31 MHz", ""), ("converter", "26 MHz", "1"))
    read = read_targets_form(PART, PLAN, fields)
    assert {problem.where for problem in read.problems} == {"target.0.wanted", "target.2.within"}
    assert [target.node for target in read.plan.targets] == ["slow_bus"]


def test_a_row_in_which_nothing_is_asked_is_kept_and_not_told() -> None:
    read = read_targets_form(PART, PLAN, typed(("core", "58 MHz", ""), ("slow_bus", "", "none")))
    assert read.problems == ()
    assert len(read.rows) == 2
    assert len(read.plan.targets) == 1


def test_what_is_ticked_is_held_in_the_order_of_the_sheet_and_nothing_else() -> None:
    fields = {"held.core_voltage": "yes", "held.slow_bus": "yes", "held.core_source": "yes", "held.main": "yes"}
    held = read_targets_form(PART, PLAN, fields).plan.held
    assert set(held) == {"core_voltage", "slow_bus", "core_source", "main"}
    assert held[-1] == "core_voltage"
    assert held.index("core_source") < held.index("slow_bus")
    assert read_targets_form(PART, read_targets_form(PART, PLAN, fields).plan, {}).plan.held == ()


def test_something_held_that_the_part_does_not_know_leaves_the_targets_as_they_are() -> None:
    read = read_targets_form(PART, PLAN, typed(("core", "58 MHz", ""), **{"held.nonsense": "yes"}))
    assert [problem.where for problem in read.problems] == ["held"]
    assert len(read.plan.targets) == 1


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"first": "cheapest"}, "first"),
        ({"first": "highest core", "then": "lowest core"}, "then"),
        ({"crystal": "fast_rc"}, "crystal"),
    ],
)
def test_a_preference_or_a_crystal_that_there_is_not_is_told(fields: dict[str, str], field: str) -> None:
    assert [problem.where for problem in read_targets_form(PART, PLAN, fields).problems] == [field]


def test_an_address_holds_only_what_is_not_as_usual() -> None:
    assert read_wishes({}).query() == {}
    asked = {"first": "least current", "then": "most room", "crystal": "crystal", "top": "200"}
    assert read_wishes(asked).query() == asked
    assert read_wishes({"top": "1000000"}).top == Wishes().top


def test_a_plan_from_its_address_fills_the_rows() -> None:
    part, plan = load_demo("03-fog-signal-44k1")
    read = read_targets_of(part, plan, Wishes())
    assert read.rows == (
        TypedTarget("audio_master", "11.2896 MHz", "±50 ppm"),
        TypedTarget("usb_link", "48 MHz", "±0.25 %"),
    )
    assert read.problems == ()
