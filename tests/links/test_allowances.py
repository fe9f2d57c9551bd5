from __future__ import annotations

from fractions import Fraction

import pytest

from wheelwork.judge.rate_words import say_allowance
from wheelwork.links import adc, timer, watchdog
from wheelwork.links.allowances import read_allowance, within
from wheelwork.links.families import families, standards_of
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


def known_allowances() -> list[Allowance]:
    """Those that are usual, and those of standards that speak of the very rate which is wanted."""
    standards = [each for name in families() for each in standards_of(name).values()]
    usual = [module.USUAL for module in (adc, timer, watchdog)]
    return usual + [each.allowance for each in standards if each.allowance is not None]


@pytest.mark.parametrize("allowance", known_allowances(), ids=lambda allowance: allowance.source)
def test_a_source_does_not_say_the_figure_again(allowance: Allowance) -> None:
    """It is told beside the figure: `allowed ±1 %: common practice, no source`."""
    source = allowance.source.replace(" ", "\u00a0")
    for end in say_allowance(allowance).split(" to "):
        assert end.lstrip("±+\u2212") not in source


def test_a_converter_takes_ends_that_differ_as_every_family_does() -> None:
    """One side alone is not to be written (a tolerance is `±20 ppm`, or two ends); an end of 0 closes a side."""
    asked = adc.FAMILY.read_ask(Fields({"rate": "1 kHz", "allowance": "0 % .. +5 %"}, "ask"))
    assert asked.allowance == Allowance(Fraction(0), Fraction(1, 20), "the link's own")
