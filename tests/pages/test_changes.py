"""What differs between two plans, in the names of the form's fields."""

from __future__ import annotations

from typing import Any

import pytest

from tests.pages.sheets import dipper, plan_of
from wheelwork.pages.changes import differing


@pytest.mark.parametrize(
    ("change", "places"),
    [
        ({}, []),
        ({"set": {"bus": 4}}, ["set.bus"]),
        ({"set": {"bus": 1}}, []),  # its reset value
        ({"set": {"main": {"feedback": 9}}}, ["set.main.feedback"]),
        ({"in_use": ["port"]}, ["use.port", "use.processor"]),
        ({"board": {"crystal": {"frequency": "8 MHz"}}}, ["board.crystal.frequency"]),
        ({"board": {"rc": {"tolerance": "±1 %"}}}, ["board.rc.tolerance"]),
        ({"core_voltage": "low", "wait_states": 0, "name": "Ebb"}, ["name", "core_voltage", "wait_states"]),
        ({"held": ["bus"]}, ["held.bus"]),
    ],
)
def test_each_place_that_differs_is_named(change: dict[str, Any], places: list[str]) -> None:
    assert differing(dipper(), plan_of(), plan_of(**change)) == places
    assert differing(dipper(), plan_of(**change), plan_of()) == places
