"""Which crystal to fit: the list and its reasons, what a window lets in, and the order of the choices."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.find.test_combs import LINK, MHZ, core_at, question
from wheelwork.find.crystals import STANDARD_CRYSTALS, choose_crystals, reason_for, values_for
from wheelwork.find.question import Preference, Question
from wheelwork.find.verdict import does_one_fit
from wheelwork.part.reading import read_sheet_json


@pytest.mark.parametrize(
    "frequency",
    [
        2**15,  # common practice, no source
        Fraction(39_375_000, 11),  # ITU-R BT.1700: 5 MHz times 63 over 88
        Fraction("4433618.75"),  # ITU-R BT.1700
        13_500_000,  # ITU-R BT.601
        13_560_000,  # ISO/IEC 14443-2
        27_000_000,  # ISO/IEC 13818-1
        25_000_000,  # IEEE 802.3
        11_289_600,  # 256 times 44.1 kHz, AES5
        22_579_200,  # 512 times 44.1 kHz
        24_576_000,  # 512 times 48 kHz
        3_686_400,  # 32 times 115 200 Bd
        14_745_600,  # 128 times 115 200 Bd
        2**22,  # common practice, no source
    ],
)
def test_a_standard_value_is_on_the_list(frequency: Fraction | int) -> None:
    assert Fraction(frequency) in STANDARD_CRYSTALS


def test_every_value_has_its_reason_and_stands_once_in_rising_order() -> None:
    assert list(STANDARD_CRYSTALS) == sorted(set(STANDARD_CRYSTALS))
    assert all(reason_for(value) for value in STANDARD_CRYSTALS)
    with pytest.raises(KeyError):
        reason_for(Fraction(7_777_777))


def test_only_what_lies_in_the_window_is_tried() -> None:
    asked = question((LINK,))
    values = values_for(asked, "crystal", [Fraction(n * MHZ) for n in (2, 3, 8, 38, 40)])
    assert values == [3 * MHZ, 8 * MHZ, 38 * MHZ]
    assert values_for(asked, "rc") == []


def test_the_choices_are_those_that_fit_and_the_rest_comes_last() -> None:
    """By hand: 240 MHz is 30 times 8 MHz and 20 times 12 MHz, and 48 MHz is 240 MHz / 5.

    7.3728 MHz is 2^15 * 3^2 * 5^2 Hz and 48 MHz holds 5^6: no feedback up to 72 brings the 5^4 that is missing.
    """
    asked = question((LINK, core_at(48)))
    values = [Fraction(n) for n in (8_000_000, 12_000_000, 7_372_800, 11_289_600)]
    choices = choose_crystals(asked, "crystal", lambda: True, values)
    assert {choice.frequency for choice in choices} == set(values)
    fitting = [choice.frequency for choice in choices if choice.best is not None]
    assert 7_372_800 not in fitting
    assert {8 * MHZ, 12 * MHZ} <= set(fitting)
    assert fitting == [choice.frequency for choice in choices[: len(fitting)]]
    assert all((choice.admissible == 0) == (choice.best is None) for choice in choices)


def test_the_best_by_what_is_put_first_comes_first() -> None:
    """By hand: 58 MHz, the most the core may have, is 8 * 29 / 4; 3.072 MHz lacks a factor of 29 * 5^3."""
    asked = question((LINK,))
    alone = replace(asked.plan, in_use=())
    asked = Question(part=asked.part, plan=alone, prefer=(Preference("highest", "core"),))
    choices = choose_crystals(asked, "crystal", lambda: True, [Fraction(3_072_000), Fraction(8 * MHZ)])
    assert choices[0].frequency == 8 * MHZ
    assert choices[0].best is not None
    assert choices[0].best.core == 58 * MHZ


def test_where_the_sheet_lists_what_fits_the_list_is_tried() -> None:
    asked = question((LINK,))
    sheet = dict(asked.part.written)
    sheet["oscillator"] = {
        **sheet["oscillator"],
        "crystal": {"frequency": "3 MHz .. 38 MHz", "fits": ["9 MHz", "7 MHz"]},
    }
    part, problems = read_sheet_json(sheet)
    assert part is not None, problems
    assert values_for(Question(part=part, plan=asked.plan), "crystal") == [7 * MHZ, 9 * MHZ]


def test_without_time_no_crystal_is_counted() -> None:
    choices = choose_crystals(question((LINK,)), "crystal", lambda: False, [Fraction(8 * MHZ)])
    assert [choice.admissible for choice in choices] == [None]


def test_the_tolerance_of_the_plan_is_kept() -> None:
    asked = question((LINK,))
    choices = choose_crystals(asked, "crystal", lambda: True, [Fraction(12 * MHZ)])
    best = choices[0].best
    assert best is not None
    assert best.plan.fitted["crystal"].frequency == 12 * MHZ
    assert best.plan.fitted["crystal"].tolerance == asked.plan.fitted["crystal"].tolerance
    assert does_one_fit(asked.part, best.plan, lambda: True, asked.targets)
