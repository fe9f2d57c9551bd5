from __future__ import annotations

from fractions import Fraction
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.links.nearest import Ordered, values_above, values_below, values_near
from wheelwork.quantities.ratios import RatioSet, read_ratios

SETS = st.sampled_from(["1..9", "4..40 step 4", "3..3", "2..9 step 3"]).map(read_ratios) | st.lists(
    st.integers(1, 30), min_size=1, max_size=6, unique=True
).map(read_ratios)
AIMS = st.fractions(Fraction(1, 20), Fraction(60), max_denominator=64)


def all_values(offered: RatioSet, parts: int) -> list[Fraction]:
    return sorted(whole + Fraction(part, parts) for whole in offered for part in range(parts))


@given(SETS, st.integers(1, 8), AIMS)
def test_both_sides_hold_every_value_once_from_the_aim_outwards(offered: RatioSet, parts: int, aim: Fraction) -> None:
    every = all_values(offered, parts)
    assert list(values_below(offered, parts, aim)) == [each for each in reversed(every) if each <= aim]
    assert list(values_above(offered, parts, aim)) == [each for each in every if each > aim]


MIXED = st.sampled_from([[1, 2, 40, "4..9"], ["4..40 step 4", 5, 3], [7], ["3..6"]]).map(read_ratios)


@given(SETS | MIXED, AIMS)
def test_a_set_put_in_order_answers_as_the_set_does(offered: RatioSet, bound: Fraction) -> None:
    ordered = Ordered(offered)
    assert ordered.at_most(bound) == offered.at_most(bound)
    assert ordered.at_least(bound) == offered.at_least(bound)
    assert [whole for whole in range(62) if whole in ordered] == [whole for whole in range(62) if whole in offered]


@given(SETS, st.integers(1, 8), AIMS, st.integers(1, 4))
def test_the_values_near_are_the_nearest_of_each_side(offered: RatioSet, parts: int, aim: Fraction, count: int) -> None:
    every = all_values(offered, parts)
    below = [each for each in reversed(every) if each <= aim][:count]
    above = [each for each in every if each > aim][:count]
    assert list(values_near(offered, parts, aim, count)) == below + above


@pytest.mark.parametrize(
    ("aim", "below", "above"),
    [
        ("5", ["5"], ["21/4"]),  # on a value: it counts as below
        ("1/2", [], ["2"]),  # before the first
        ("9", ["31/4"], []),  # past the last: 7 and three quarters
        ("3.9", ["11/4"], ["5"]),  # in a gap: the last part of 2, the first of 5
    ],
)
def test_values_with_gaps_and_ends_are_met(aim: str, below: list[str], above: list[str]) -> None:
    offered = read_ratios([2, 5, 7])
    assert [str(each) for each in islice(values_below(offered, 4, Fraction(aim)), 1)] == below
    assert [str(each) for each in islice(values_above(offered, 4, Fraction(aim)), 1)] == above
