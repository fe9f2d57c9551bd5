"""Checks in whole numbers: they hold for what is so, for nothing else, and never pass 64 bits."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.handover.plans import NAMES, judged
from wheelwork.handover.checks import ROOM, Sides, round_check
from wheelwork.handover.constants import Balance, Pinned, Rounding, Term, Written
from wheelwork.handover.values import take_values

WIDE = 2**64


def product_of(terms: tuple[Term, ...], values: dict[str, int]) -> int | None:
    """The product as a compiler reckons it, None where a division leaves a rest; past 64 bits it fails the test."""
    total = 1
    for term in terms:
        whole = sum(part.number * (values[part.name] if part.name else 1) for part in term.parts)
        if whole % term.divisor:
            return None
        total *= whole // term.divisor
        assert max(total, whole) < WIDE
    return total


def holds(check: Balance, values: dict[str, int]) -> bool:
    left, right = product_of(check.left, values), product_of(check.right, values)
    return left is not None and left == right


FREQUENCIES = st.fractions(min_value=Fraction(1, 1000), max_value=10**9, max_denominator=10**9)
RATIOS = st.fractions(min_value=Fraction(1, 4096), max_value=4096, max_denominator=4096)


@given(FREQUENCIES, RATIOS, st.data())
def test_a_changed_digit_is_always_seen(clock: Fraction, ratio: Fraction, data: st.DataObject) -> None:
    """f = f_in / R, whatever the fractions: any digit of the six numbers may change; nothing passes 64 bits."""
    result = clock / ratio
    given_values = {"F": result, "IN": clock, "R": ratio}
    values, sides = {}, Sides()
    for name, value in given_values.items():
        values[f"{name}_N"], values[f"{name}_D"] = value.numerator, value.denominator
    assume(all(value < ROOM for value in values.values()))
    sides.put_left(Written(result, "F_N", "F_D"))
    sides.put_right(Written(clock, "IN_N", "IN_D"))
    sides.put_left(Written(ratio, "R_N", "R_D"))
    check = sides.balance("F_N", "says", values)
    assert check is not None
    assert holds(check, values)
    name = data.draw(st.sampled_from(sorted(values)))
    digits = str(values[name])
    place, digit = data.draw(st.integers(0, len(digits) - 1)), data.draw(st.sampled_from("0123456789"))
    changed = {**values, name: int(digits[:place] + digit + digits[place + 1 :])}
    assert holds(check, changed) == (changed == values)


def test_what_is_not_so_makes_no_check() -> None:
    sides = Sides()
    sides.put_left(Written(Fraction(3), "A"))
    sides.put_right(Written(Fraction(4), "B"))
    assert sides.balance("A", "says", {"A": 3, "B": 4}) is None


def test_two_numbers_that_divide_by_nothing_in_common_and_do_not_fit_make_no_check() -> None:
    """2^61 is above 2^64 / 10 and is its own other side; divided by itself it is 1, but its digits have no room."""
    sides = Sides()
    sides.put_left(Written(Fraction(2**61), "A"))
    sides.put_right(Written(Fraction(2**61), "B"))
    assert sides.balance("A", "says", {"A": 2**61, "B": 2**61}) is None


@given(st.integers(1, ROOM // 2), st.integers(1, 10**6))
def test_rounding_is_half_up(above: int, below: int) -> None:
    value = Fraction(above, below)
    nearest = (2 * above + below) // (2 * below)
    values = {"A": above, "B": below, "R": nearest}
    assert abs(value - nearest) <= Fraction(1, 2)
    assert round_check(Written(value, "A", "B"), "R", "says", values) == Rounding("R", "says", "A", "B")
    assert (above + below // 2) // below == nearest


@pytest.mark.parametrize("name", NAMES)
def test_every_frequency_of_a_clock_that_is_fed_is_checked(name: str) -> None:
    """Each node below an oscillator has one check that names its frequency, that of its feeder, and its settings."""
    judgement = judged(name)
    handed = take_values(judgement)
    for block in handed.blocks:
        if block.kind in ("selector", "divider", "scaler", "pll", "load"):
            [balance] = [check for check in block.checks if isinstance(check, Balance)]
            named = {part.name for term in (*balance.left, *balance.right) for part in term.parts}
            ratios = {each.name for each in block.constants if each.kind == "ratio"}
            assert named >= ratios
            assert any(each.startswith(judgement.way.feeder[block.of].upper()) for each in named)
        assert block.left_out == () or block.kind == "link"


@pytest.mark.parametrize("name", NAMES)
def test_all_checks_hold_of_the_values_beside_them(name: str) -> None:
    handed = take_values(judged(name))
    values = {constant.name: constant.value for constant in handed.constants}
    for check in handed.checks:
        match check:
            case Balance():
                assert holds(check, values)
            case Rounding(rounded, _, above, below):
                assert (values[above] + values[below] // 2) // values[below] == values[rounded]
            case Pinned(_, _, pairs):
                assert all(values[each] == value for each, value in pairs)


@pytest.mark.parametrize("name", NAMES)
def test_no_two_constants_have_one_name(name: str) -> None:
    names = [constant.name for constant in take_values(judged(name)).constants]
    assert len(set(names)) == len(names)
