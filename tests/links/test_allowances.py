from __future__ import annotations

from fractions import Fraction

import pytest

from wheelwork.links.allowances import read_allowance, within
from wheelwork.links.family import Allowance
from wheelwork.links.fields import Fields, Refused


@pytest.mark.parametrize(
    ("written", "lowest", "highest"),
    [
        ("±2 %", Fraction(-1, 50), Fraction(1, 50)),
        ("+-50 ppm", Fraction(-1, 20000), Fraction(1, 20000)),
        ("-1 % .. +1.5 %", Fraction(-1, 100), Fraction(3, 200)),
    ],
)
def test_a_link_has_an_allowance_of_its_own(written: str, lowest: Fraction, highest: Fraction) -> None:
    fields = Fields({"allowance": written}, "ask")
    assert read_allowance(fields) == Allowance(lowest, highest, "the link's own")
    fields.finish()


def test_a_link_that_states_none_has_none() -> None:
    assert read_allowance(Fields({}, "ask")) is None


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("2 %", "ask.allowance: '2 %' has no sign on both sides; write ±2 %, or two ends: -1 % .. +1.5 %"),
        (2, "ask.allowance: '2' is no text with a unit; write a tolerance as \"±20 ppm\""),
    ],
)
def test_an_allowance_that_cannot_be_read_is_named(written: object, sentence: str) -> None:
    fields = Fields({"allowance": written}, "ask")
    assert read_allowance(fields) is None
    with pytest.raises(Refused) as refused:
        fields.finish()
    assert [problem.sentence().replace("\u00a0", " ") for problem in refused.value.problems] == [sentence]


def test_an_allowance_in_percent_reaches_to_both_sides() -> None:
    assert within("0.25", "a standard") == Allowance(Fraction(-1, 400), Fraction(1, 400), "a standard")
