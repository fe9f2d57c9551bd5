"""Words for what is wrong: the nearest name is found by a plain rule, and soon, however long the names."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.findings import LIKE, nearest

names = st.text("abc", max_size=12)


def in_common(one: str, other: str) -> int:
    """The length of the longest common subsequence by the textbook table, row by row."""
    row = [0] * (len(other) + 1)
    for sign in one:
        before = 0
        for place, also in enumerate(other, 1):
            above = row[place]
            row[place] = before + 1 if sign == also else max(above, row[place - 1])
            before = above
    return row[-1]


@given(names, names)
def test_a_name_is_offered_where_enough_stands_in_the_same_order(name: str, other: str) -> None:
    alike = 2 * in_common(name, other) / max(1, len(name) + len(other)) >= LIKE
    assert (nearest(name, [other]) == other) is alike


@pytest.mark.parametrize(
    ("name", "offered"),
    [("cristal", "crystal"), ("nmae", "name"), ("fedback", "feedback"), ("clokc", "clock"), ("higher", None)],
)
def test_a_slip_finds_the_name_that_was_meant(name: str, offered: str | None) -> None:
    assert nearest(name, ["name", "clock", "crystal", "feedback", "fraction", "low", "full"]) == offered


@pytest.mark.timeout(2)  # a bound on what hangs: 0.1 s here; comparing block by block took 4.5
def test_hundreds_of_long_names_that_are_all_alike_are_compared_soon() -> None:
    alike = ["aab" * 18 + f"{number:04d}" for number in range(600)]
    for _ in range(20):
        assert nearest("aba" * 18 + "0077", alike) is not None
