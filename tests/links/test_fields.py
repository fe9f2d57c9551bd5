from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest

from wheelwork.links.fields import Fields, Refused, read_number_of
from wheelwork.quantities.ratios import read_ratios
from wheelwork.quantities.units import FREQUENCY, TIME

Reading = Callable[[Fields], Any]


def problems_of(raw: Any, reading: Reading) -> list[str]:
    fields = Fields(raw, "ask")
    reading(fields)
    with pytest.raises(Refused) as refused:
        fields.finish()
    return [problem.sentence() for problem in refused.value.problems]


@pytest.mark.parametrize(
    ("raw", "reading", "value"),
    [
        ({"rate": "9600 Bd"}, Fields.rate, Fraction(9600)),
        ({"rate": "9.6 kbit/s"}, Fields.rate, Fraction(9600)),
        ({}, Fields.rate, None),
        ({"lasts": "2 ms"}, lambda fields: fields.quantity("lasts", TIME), Fraction(1, 500)),
        ({"closed": "25 %"}, lambda fields: fields.share("closed"), Fraction(1, 4)),
        ({"bits": 12}, lambda fields: fields.whole("bits", 1, 24), 12),
        ({"mode": "fast"}, lambda fields: fields.word("mode", ("standard", "fast")), "fast"),
        ({"ratio": "1..4"}, lambda fields: fields.ratios("ratio"), read_ratios("1..4")),
        ({"ratio": [8, 16]}, lambda fields: fields.counts("ratio"), read_ratios([8, 16])),
        ({}, lambda fields: fields.counts("ratio", read_ratios([16])), read_ratios([16])),
    ],
)
def test_a_key_gives_its_value_or_its_default(raw: dict[str, object], reading: Reading, value: object) -> None:
    fields = Fields(raw, "ask")
    assert reading(fields) == value
    fields.finish()


@pytest.mark.parametrize(
    ("raw", "reading", "sentence"),
    [
        ("fast", lambda fields: None, "ask: 'fast' is no table; write keys with their values"),
        (
            {"rate": "0 Bd"},
            Fields.rate,
            "ask.rate: '0 Bd' is not above zero; write one above zero, such as 9600 Bd",
        ),
        ({"rate": "-5 Bd"}, Fields.rate, "ask.rate: '-5 Bd' is below what can be; a rate is at least 0 Bd"),
        ({"rate": "9600"}, Fields.rate, "ask.rate: '9600' has no unit; write it as 9600 Bd"),
        (
            {"closed": "100 %"},
            lambda fields: fields.share("closed"),
            "ask.closed: '100 %' is no share in between; write one above 0 % and below 100 %",
        ),
        (
            {"bits": 25},
            lambda fields: fields.whole("bits", 1, 24),
            "ask.bits: '25' is not allowed here; a whole number from 1 to 24 is",
        ),
        (
            {"bits": True},
            lambda fields: fields.whole("bits", 1, 24),
            "ask.bits: 'True' is not allowed here; a whole number from 1 to 24 is",
        ),
        (
            {"mode": "fats"},
            lambda fields: fields.word("mode", ("standard", "fast")),
            "ask.mode: 'fats' is not known here; did you mean fast? standard and fast are",
        ),
        (
            {"mode": 3},
            lambda fields: fields.word("mode", ("standard", "fast")),
            "ask.mode: '3' is not known here; standard and fast are",
        ),
        (
            {},
            lambda fields: fields.ratios("divisor"),
            'ask.divisor: is missing; write "1..65535" or [8, 16]',
        ),
        (
            {"divisor": ["3/2", 2]},
            lambda fields: fields.counts("divisor"),
            "ask.divisor: '['3/2', 2]' holds a fraction; write whole numbers: \"1..65535\" or [8, 16]",
        ),
        (
            {"divisor": "1..65"},
            lambda fields: fields.counts("divisor", most=64),
            "ask.divisor: '1..65' offers 65 numbers; at most 64 may be offered here",
        ),
        (
            {"rat": "9600 Bd"},
            Fields.rate,
            "ask.rat: 'rat' is no key here; did you mean rate? rate is",
        ),
    ],
)
def test_what_cannot_be_taken_is_named_at_its_place(raw: object, reading: Reading, sentence: str) -> None:
    assert [told.replace("\u00a0", " ") for told in problems_of(raw, reading)] == [sentence]


def test_an_empty_set_offers_nothing_and_is_refused() -> None:
    (told,) = problems_of({"divisor": []}, lambda fields: fields.counts("divisor"))
    assert told.startswith("ask.divisor: an empty list offers nothing; write ")


def test_all_problems_are_told_together() -> None:
    def reading(fields: Fields) -> None:
        fields.rate()
        fields.quantity("clock", FREQUENCY)
        fields.whole("bits", 1, 24)

    told = problems_of({"rate": "fast", "clock": "8", "bits": 0, "colour": "red"}, reading)
    assert [sentence.partition(":")[0] for sentence in told] == ["ask.rate", "ask.clock", "ask.bits", "ask.colour"]


def test_a_form_can_ask_which_words_may_stand_at_a_key() -> None:
    fields = Fields({}, "ask")
    fields.word("mode", ("standard", "fast"))
    assert fields.offered == {"mode": ("standard", "fast")}


@pytest.mark.parametrize(("raw", "value"), [(16, "16"), ("139/8", "139/8"), ("15.75", "63/4"), (Fraction(1, 3), "1/3")])
def test_a_setting_is_a_whole_number_or_a_ratio(raw: object, value: str) -> None:
    assert str(read_number_of(raw)) == value


@pytest.mark.parametrize("raw", ["1/0", "many", "", True, None, 1.5, "9" * 80])
def test_a_setting_that_is_no_number_is_refused(raw: object) -> None:
    with pytest.raises(ValueError, match="is no number; write one such as 16"):
        read_number_of(raw)
