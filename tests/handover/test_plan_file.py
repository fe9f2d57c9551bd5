"""Plan file and JSON: what is handed over reads back as the same plan, and gives the same texts again."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from tests.handover.plans import NAMES, judged, written
from wheelwork.handover.c_header import read_constants
from wheelwork.handover.forms import Wish, forms
from wheelwork.judge import Judgement, judge
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan, read_plan_text

TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters=[chr(n) for n in range(32)]), max_size=20)


def read_back(judgement: Judgement, form: str) -> Plan:
    """The plan that a text of a form holds."""
    text = forms()[form].write(judgement, Wish())
    raw, problems = (json.loads(text)["plan"], []) if form == "json" else read_plan_text(text)
    assert raw is not None, problems
    plan, problems = read_plan(raw, judgement.part)
    assert plan is not None, problems
    return plan


@pytest.mark.parametrize("form", ["toml", "json"])
@pytest.mark.parametrize("name", NAMES)
def test_it_reads_back_as_the_same_plan(name: str, form: str) -> None:
    """All of it but the settings as it was; those say the same, each that matters written out."""
    judgement = judged(name)
    read = read_back(judgement, form)
    assert replace(read, settings=judgement.plan.settings) == judgement.plan
    assert read.complete(judgement.part) == judgement.plan.complete(judgement.part)


@pytest.mark.parametrize("name", NAMES)
def test_what_was_read_back_gives_the_same_bytes_in_every_form(name: str) -> None:
    judgement = judged(name)
    again = judge(judgement.part, read_back(judgement, "toml"))
    for form in forms().values():
        assert form.write(again, Wish()) == form.write(judgement, Wish())


def test_a_setting_that_matters_is_written_out_where_it_is_the_reset_value() -> None:
    """The core's divider divides by 1 after reset, and so it does here; what does not run is left out."""
    table = tomllib.loads(written("02-skerry-3-waiting-for-the-tide", "toml"))["set"]
    assert table["core"] == 1
    assert "main" not in table


@given(TEXT, TEXT, TEXT)
def test_any_text_reads_back(name: str, owner: str, link: str) -> None:
    judgement = judged("walk")
    plan = replace(judgement.plan, name=name, owner=owner, board_name=link, board_revision=name + owner)
    for form in ("toml", "json"):
        read = read_back(replace(judgement, plan=plan), form)
        assert (read.name, read.owner, read.board_name, read.board_revision) == (name, owner, link, name + owner)


def test_the_json_tells_values_notices_and_the_exact_clock() -> None:
    """29 MHz on a clock that may have 27 MHz."""
    told = json.loads(written("01-skerry-3-steady-running", "json"))
    assert (told["format"], told["legal"]) == ("wheelwork-handover/1", False)
    [converter] = [each for each in told["values"] if each["of"] == "converter"]
    assert converter["constants"] == {
        "PLAN_CONVERTER_RATIO": 1,
        "PLAN_CONVERTER_CODE": 0,
        "PLAN_CONVERTER_HZ": 29000000,
    }
    assert converter["window"] == {"lowest": "200000", "highest": "27000000"}
    assert converter["notices"] == ["OUTSIDE: Converter clock (ADC) is over by 2 MHz".replace(" MHz", "\u00a0MHz")]


@pytest.mark.parametrize("name", NAMES)
def test_the_json_has_the_constants_of_the_c_header(name: str) -> None:
    told = json.loads(written(name, "json"))
    values = {key: str(value) for block in told["values"] for key, value in block["constants"].items()}
    assert values == read_constants(written(name, "c"))


def test_a_number_that_not_every_reader_keeps_exactly_is_a_string() -> None:
    """The numerator 6 537 845 446 484 375 is below 2^53 = 9 007 199 254 740 992; ten times it would not be."""
    told = json.loads(written("fraction", "json"))
    values = {key: value for block in told["values"] for key, value in block["constants"].items()}
    assert values["PLAN_FINE_HZ_NUMERATOR"] == 6_537_845_446_484_375
    assert all(isinstance(value, str) == (int(value) >= 2**53) for value in values.values())


def test_the_plan_in_the_json_is_what_the_interface_takes(client: TestClient) -> None:
    told = json.loads(written("01-skerry-3-steady-running", "json"))
    answer = client.post("/api/check", json={"plan": told["plan"]})
    assert (answer.status_code, answer.json()["legal"]) == (200, False)
