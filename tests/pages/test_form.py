"""The posted form: fields to a plan; what cannot be taken keeps its last right value and is told by its field."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.pages.sheets import dipper, plan_of
from wheelwork.pages.form import FormRead, field_of, fresh_plan, read_form, without_resets
from wheelwork.plan.plan import Plan


def read(before: Plan | None = None, **fields: str) -> FormRead:
    return read_form(dipper(), before or plan_of(), {name.replace("__", "."): text for name, text in fields.items()})


def test_a_form_that_changes_nothing_gives_the_same_plan() -> None:
    assert read(set__bus="1", core_voltage="full", use__processor="yes").plan == plan_of()


def test_a_ratio_is_taken() -> None:
    assert read(set__bus=" 4 ").plan.settings["bus"] == 4


def test_a_setting_at_its_reset_value_is_left_out_so_that_the_address_stays_short() -> None:
    plan = read(plan_of(set={"bus": 4}), set__bus="1").plan
    assert "bus" not in plan.settings
    assert without_resets(plan_of(set={"bus": 1}), dipper()).settings == {}


def test_a_load_is_put_in_use_and_taken_out() -> None:
    assert read(use__port="yes", use__processor="no").plan.in_use == ("port",)


def test_what_is_fitted_on_the_board_is_read_with_its_unit() -> None:
    fitted = read(board__crystal__frequency="12 MHz", board__crystal__tolerance="±20 ppm").plan.fitted["crystal"]
    assert fitted.frequency == 12_000_000
    assert fitted.tolerance is not None
    assert fitted.tolerance.highest == Fraction(20, 10**6)


def test_an_empty_field_takes_the_value_away() -> None:
    assert read(plan_of(supply="3 V"), supply="").plan.supply is None


def test_several_faults_are_told_together_and_the_rest_is_taken() -> None:
    outcome = read(set__bus="80", supply="3", set__core="2")
    assert outcome.plan.settings == {"core": 2}
    assert outcome.faults.told.keys() == {"set.bus", "supply"}
    assert outcome.faults.typed == {"set.bus": "80", "supply": "3"}
    assert len(outcome.problems) == 2


def test_a_source_that_is_chosen_but_not_fitted_is_told_at_its_field_and_the_last_plan_counts() -> None:
    outcome = read(set__source="crystal")
    assert outcome.plan == plan_of()
    assert list(outcome.faults.told) == ["board.crystal.frequency"]
    assert outcome.faults.typed["set.source"] == "crystal"


@pytest.mark.parametrize("text", ["9" * 1_000_000, "\x00", "<b>", "1e400", "-1", "٣", "1/0"])
def test_a_strange_ratio_is_told_and_changes_nothing(text: str) -> None:
    outcome = read(set__bus=text)
    assert outcome.plan == plan_of()
    assert list(outcome.faults.told) == ["set.bus"]


def test_a_problem_stands_at_its_field() -> None:
    problems = read(set__main__feedback="800", wait_states="none").problems
    assert {field_of(problem) for problem in problems} == {"set.main.feedback", "wait_states"}


def test_a_first_plan_on_a_part_can_be_judged_at_once() -> None:
    plan = fresh_plan(dipper(), "dipper-40")
    assert plan.core_voltage == dipper().reset_step
    assert plan.fitted == {}
