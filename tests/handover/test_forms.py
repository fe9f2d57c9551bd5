"""All forms together: what a sheet's codes do not reach is told, and no form ends in a fault."""

from __future__ import annotations

from typing import Any

import pytest

from tests.handover.plans import NAMES, written
from wheelwork.handover.forms import Wish, file_name, forms
from wheelwork.judge import Judgement, judge
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.reading import read_plan

ODD: dict[str, Any] = {
    "format": "wheelwork-part/1",
    "name": "Odd codes",
    "core": {"clock": "core"},
    "core_voltage": {"only": {"volts": "1.2 V", "flash": [{"up_to": "1 MHz", "wait_states": 0}]}},
    "oscillator": {"rc": {"frequency": "8 MHz"}},
    "pll": {
        "fine": {
            "input": "rc",
            "reference_divider": "1..4",
            "feedback": "2..8",
            "fraction_of": 8,
            "codes": {
                "feedback": "log2(ratio)",
                "reference_divider": "ratio * 18446744073709551615",
                "fraction": [0, 1],
            },
            "vco_ranges": [{"span": "1 MHz .. 2 MHz", "code": 1}],
        }
    },
    "divider": {"core": {"input": "fine", "ratios": "1..8", "codes": "log2(ratio)"}},
}
"""Codes that a sheet may state and that some settings do not reach: log2 of 3, 2 * (2^64 - 1), the third of two."""


def odd() -> Judgement:
    part, problems = read_sheet_json(ODD)
    assert part is not None, problems
    settings = {"core": 3, "fine": {"reference_divider": 2, "feedback": 3, "fraction": 2}}
    plan, problems = read_plan({"name": "Odd", "set": settings}, part)
    assert plan is not None, problems
    return judge(part, plan)


def test_the_forms_are_those_of_the_interface() -> None:
    assert set(forms()) == {"c", "rust", "devicetree", "markdown", "csv", "json", "toml"}


@pytest.mark.parametrize("form", ["c", "rust", "csv", "json"])
def test_what_cannot_be_written_is_told_by_name(form: str) -> None:
    """8 MHz / 2 * (3 + 2/8) = 13 MHz; no row of the flash table reaches 13/3 MHz."""
    text = " ".join(forms()[form].write(odd(), Wish()).replace("//", "").split())  # no-break spaces too
    for said in (
        "PLAN_FINE_REFERENCE_DIVIDER_CODE is 36893488147419103230, past 64 bits, and left out.",
        "PLAN_FINE_FEEDBACK_CODE is left out: the sheet's codes have no whole number for this ratio.",
        "PLAN_FINE_FRACTION_CODE is left out: the sheet's codes have no whole number for this ratio.",
        "PLAN_FINE_VCO_RANGE_CODE is left out: no range holds 13 MHz.",
        "PLAN_CORE_CODE is left out: the sheet's codes have no whole number for this ratio.",
        "PLAN_FLASH_WAIT_STATES is left out: no number of them suffices, and none is chosen.",
    ):
        assert said in text


@pytest.mark.parametrize("form", forms())
def test_no_form_ends_in_a_fault(form: str) -> None:
    assert forms()[form].write(odd(), Wish())


@pytest.mark.parametrize("form", forms())
@pytest.mark.parametrize("name", NAMES)
def test_every_text_ends_with_the_end_of_a_line_and_is_unicode(name: str, form: str) -> None:
    text = written(name, form)
    assert text.endswith("\n")
    assert text.encode().decode() == text


def test_a_file_is_named_after_its_plan() -> None:
    assert file_name(odd(), forms()["c"]) == "odd_clocks.h"
