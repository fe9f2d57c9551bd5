"""Ratio sets: forms of model.md; every law checked against the set written out in Python's own sets."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.findings import Unreadable
from wheelwork.quantities.ratios import RatioSet, Run, read_ratio, read_ratios


@pytest.mark.parametrize(
    ("given_set", "ratios"),
    [
        ("1..8", list(range(1, 9))),
        ("2..512 step 2", list(range(2, 513, 2))),
        ([1, 2, 4], [1, 2, 4]),
        ([1, "3/2", "2..16 step 2"], [1, Fraction(3, 2), *range(2, 17, 2)]),
        ([4, 1, 2], [4, 1, 2]),
        (3, [3]),
        ("2..9 step 3", [2, 5, 8]),
        (["1.5"], [Fraction(3, 2)]),
    ],
)
def test_a_ratio_set_is_read_in_its_order(given_set: object, ratios: list[Fraction | int]) -> None:
    assert list(read_ratios(given_set)) == ratios


@pytest.mark.parametrize(
    ("given_set", "what"),
    [
        ([], "empty"),
        ("8..2", "downwards"),
        ([0], "holds 0"),
        (["-3"], "holds -3"),
        ([1, 2, 1], "twice"),
        (["1..9", 4], "twice"),
        (["1..9 step 2", "2..8 step 3"], "overlap"),
        ("1..8 step 0", "never gets on"),
        ("one", "no ratio"),
        (1.5, "no ratio"),
        (True, "no ratio"),
        (["1..99999999999"], "too large"),
        (list(range(1, 2000)), "too long"),
        ({"a": 1}, "no ratio"),
    ],
)
def test_what_is_no_ratio_set_is_refused(given_set: object, what: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read_ratios(given_set)
    assert what in refused.value.what


def test_a_set_of_a_thousand_million_is_never_written_out() -> None:
    ratios = read_ratios("1..1000000000")
    assert ratios.size == 10**9
    assert ratios.position(Fraction(10**9)) == 10**9 - 1
    assert ratios.at_most(Fraction(123_456_789, 2)) == 61_728_394


runs = st.builds(
    lambda first, count, step: Run(Fraction(first), Fraction(first + (count - 1) * step), step if count > 1 else 1),
    st.integers(1, 60),
    st.integers(1, 12),
    st.integers(1, 9),
)


@given(runs, runs)
def test_two_runs_overlap_where_their_values_do(one: Run, other: Run) -> None:
    values = [set(RatioSet((run,))) for run in (one, other)]
    assert one.overlaps(other) == bool(values[0] & values[1])


@given(st.lists(runs, min_size=1, max_size=3), st.fractions(min_value=0, max_value=200, max_denominator=4))
def test_neighbours_are_those_of_the_written_out_set(parts: list[Run], value: Fraction) -> None:
    ratios = RatioSet(tuple(parts))
    written = set(ratios)
    assert ratios.at_most(value) == max((r for r in written if r <= value), default=None)
    assert ratios.at_least(value) == min((r for r in written if r >= value), default=None)
    assert ratios.above(value) == min((r for r in written if r > value), default=None)
    assert ratios.below(value) == max((r for r in written if r < value), default=None)
    assert (value in ratios) == (value in written)


@given(runs)
def test_a_position_leads_back_to_its_ratio(run: Run) -> None:
    ratios = RatioSet((run,))
    for place, ratio in enumerate(ratios):
        assert ratios.position(ratio) == place


@pytest.mark.parametrize(
    ("text", "ratio"), [("4", 4), (4, 4), ("3/2", Fraction(3, 2)), (" 12 ", 12), ("1.5", Fraction(3, 2))]
)
def test_a_ratio_is_read(text: object, ratio: Fraction | int) -> None:
    assert read_ratio(text) == ratio
