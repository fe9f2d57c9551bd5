"""Pairs of factors: against trying every pair, and the examples TIM-PERIOD (exhaustive, own numbers)."""

from __future__ import annotations

import random
import time
from fractions import Fraction

import pytest

from wheelwork.links.products import nearest_products
from wheelwork.quantities.ratios import RatioSet, read_ratios

FIRST = ["1..12", "3..9", [1, 2, 4, 8], "2..20 step 3"]
SECOND = ["1..15", "5..11", [1, 3, 7, 20], "2..30 step 4"]


def tried(first: RatioSet, second: RatioSet, wanted: Fraction) -> list[tuple[int, int]]:
    """Every pair, the nearest first."""
    pairs = [(int(a), int(b)) for a in first for b in second]
    return sorted(pairs, key=lambda pair: (abs(pair[0] * pair[1] - wanted), -pair[1]))


@pytest.mark.parametrize("seed", range(60))
def test_the_nearest_pairs_are_those_of_trying_all(seed: int) -> None:
    dice = random.Random(seed)
    for _ in range(20):
        first, second = read_ratios(dice.choice(FIRST)), read_ratios(dice.choice(SECOND))
        wanted = Fraction(dice.randint(1, 400), dice.randint(1, 7))
        found, every = nearest_products(first, second, wanted, 3), tried(first, second, wanted)
        assert found[0] == every[0]
        assert [abs(a * b - wanted) for a, b in found[:3]] == [abs(a * b - wanted) for a, b in every[:3]]
        by_rate = min(abs(wanted / (a * b) - 1) for a, b in every)
        assert min(abs(wanted / (a * b) - 1) for a, b in found) == by_rate


@pytest.mark.parametrize("ends", ["1..90", "40..60", "2..200", "30..31", "50..150"])
@pytest.mark.parametrize("others", ["1..120", "45..55", "3..70"])
def test_two_factors_above_the_root_are_not_missed(ends: str, others: str) -> None:
    """Where small factors are few or none, the nearest products above are of two large ones: 40 * 45 for 10 already."""
    dice = random.Random(ends + others)
    first, second = read_ratios(ends), read_ratios(others)
    for _ in range(12):
        wanted = Fraction(dice.randint(1, dice.choice([50, 4000, 30000])), dice.randint(1, 3))
        found, every = nearest_products(first, second, wanted, 8)[:8], tried(first, second, wanted)[:8]
        assert found[0] == every[0]
        assert [abs(a * b - wanted) for a, b in found] == [abs(a * b - wanted) for a, b in every]


def shape(dice: random.Random) -> object:
    """A range, one with steps, single numbers out of order, or several of these in one list."""
    low = dice.randint(1, 30)
    high = low + dice.randint(1, 60)
    return dice.choice(
        [
            f"{low}..{high}",
            f"{low}..{high} step {dice.randint(1, 7)}",
            dice.sample(range(1, 80), dice.randint(1, 12)),
            [f"{low}..{high} step 3", f"{high + 5}..{high + 40} step {dice.randint(1, 3)}", high + 50, low + 200],
            [dice.randint(1, 200)],
        ]
    )


@pytest.mark.parametrize("seed", range(40))
def test_sets_of_every_shape_give_the_nearest_of_both_sides(seed: int) -> None:
    """Every pair that is given, in order, is that of trying all; so are those beside equal ones."""
    dice = random.Random(seed)
    for _ in range(8):
        first, second, count = read_ratios(shape(dice)), read_ratios(shape(dice)), dice.randint(1, 9)
        wanted = Fraction(dice.randint(1, dice.choice([20, 300, 9000])), dice.choice([1, 1, 2, 7, 30]))
        every = tried(first, second, wanted)
        below = [pair for pair in every if pair[0] * pair[1] <= wanted][:count]
        above = [pair for pair in every if pair[0] * pair[1] > wanted][:count]
        found = nearest_products(first, second, wanted, count)
        assert found == [pair for pair in every if pair in {*below, *above}]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("1..65536", list(range(3, 3072, 3))),
        (list(range(3, 3072, 3)), list(range(5, 5120, 5))),
        ("2..65536 step 2", "1..65536"),
        ([f"{4096 * k + 1}..{4096 * k + 4000}" for k in range(16)], ["1..100", "200..65536"]),
    ],
    ids=["range beside list", "two lists", "steps", "many ranges"],
)
def test_the_longest_sets_that_a_sheet_may_offer_take_no_time(first: object, second: object) -> None:
    """A second of the processor's is some fifty times what they take, and far less than walking them (over 20 s)."""
    offered, beside = read_ratios(first), read_ratios(second)
    started = time.process_time()
    nearest_products(offered, beside, Fraction(70_400_001), 8)
    assert time.process_time() - started < 1


@pytest.mark.parametrize(
    ("wanted", "pair"),
    [
        (Fraction(64_000_000), (1000, 64000)),
        (Fraction(72_000), (2, 36000)),
        (Fraction(16_000_000, 440), (1, 36364)),
        (Fraction(16_000_000), (250, 64000)),
        (Fraction(1_105_920_000, 777), (24, 59305)),
    ],
)
def test_sixteen_bits_each(wanted: Fraction, pair: tuple[int, int]) -> None:
    """TIM-PERIOD-1 to 5: prescaler and reload, the larger reload among equals."""
    sixteen = read_ratios("1..65536")
    assert nearest_products(sixteen, sixteen, wanted, 1)[0] == pair


def test_a_number_beyond_all_products_has_its_nearest_too() -> None:
    sixteen = read_ratios("1..65536")
    assert nearest_products(sixteen, sixteen, Fraction(2**40), 2) == [(65536, 65536), (65535, 65536)]
    assert nearest_products(sixteen, sixteen, Fraction(1, 3), 1) == [(1, 1)]
