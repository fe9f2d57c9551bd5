from __future__ import annotations

from fractions import Fraction

import pytest

from wheelwork.links.fields import Fields, Refused
from wheelwork.links.serial_standards import STANDARDS
from wheelwork.links.standards import Standard, take_rate, take_standard

FIXED = Standard(name="fixed", family="uart", title="Fixed", rate=Fraction(31250))
LISTED = Standard(name="listed", family="uart", title="Listed", rates=(Fraction(9600), Fraction(19200)))
BETWEEN = Standard(name="between", family="uart", title="Between", slowest=Fraction(1000), fastest=Fraction(20000))
USUAL = Standard(name="usual", family="uart", title="Usual", usual=Fraction(19200))
KNOWN = (FIXED, LISTED, BETWEEN, USUAL)


def rate_under(raw: dict[str, object]) -> Fraction | None:
    fields = Fields(raw, "ask")
    rate = take_rate(fields, take_standard(fields, KNOWN))
    fields.finish()
    return rate


@pytest.mark.parametrize(
    ("raw", "rate"),
    [
        ({"standard": "fixed"}, 31250),
        ({"standard": "fixed", "rate": "31.25 kBd"}, 31250),
        ({"standard": "listed", "rate": "9600 Bd"}, 9600),
        ({"standard": "between", "rate": "1000 Bd"}, 1000),
        ({"standard": "between", "rate": "20 kBd"}, 20000),
        ({"standard": "usual"}, 19200),
        ({"standard": "usual", "rate": "9600 Bd"}, 9600),
        ({"rate": "115200 Bd"}, 115200),
    ],
)
def test_a_rate_is_the_one_asked_for_or_the_standards(raw: dict[str, object], rate: int) -> None:
    assert rate_under(raw) == rate


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        ({"standard": "fixed", "rate": "9600 Bd"}, "ask.rate: '9600 Bd' is no rate of Fixed; 31250 Bd is"),
        (
            {"standard": "listed", "rate": "38400 Bd"},
            "ask.rate: '38400 Bd' is no rate of Listed; 9600 Bd and 19200 Bd are",
        ),
        ({"standard": "listed"}, 'ask.rate: is missing; write a rate such as "9600 Bd"'),
        ({"standard": "between", "rate": "999 Bd"}, "ask.rate: '999 Bd' is too slow for Between; from 1000 Bd on"),
        ({"standard": "between", "rate": "20001 Bd"}, "ask.rate: '20001 Bd' is too fast for Between; up to 20000 Bd"),
        (
            {"standard": "usual", "rate": "0 Bd"},
            "ask.rate: '0 Bd' is not above zero; write one above zero, such as 9600 Bd",
        ),
        (
            {"standard": "fixt"},
            "ask.standard: 'fixt' is not known here; did you mean fixed? fixed, listed, between and usual are",
        ),
        ({}, 'ask.rate: is missing; write a rate such as "9600 Bd"'),
    ],
)
def test_a_rate_that_a_standard_does_not_know_is_refused(raw: dict[str, object], sentence: str) -> None:
    with pytest.raises(Refused) as refused:
        rate_under(raw)
    assert [problem.sentence().replace("\u00a0", " ") for problem in refused.value.problems] == [sentence]


@pytest.mark.parametrize("standard", STANDARDS, ids=lambda standard: standard.name)
def test_a_serial_standard_has_its_line_and_who_says_so(standard: Standard) -> None:
    assert standard.line
    assert standard.allowance is None or standard.allowance.source
