"""Load capacitors: published examples of tests/reference/electrical.toml, the search against every pair there is."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations_with_replacement
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.published import REFERENCE, exact, examples, label
from wheelwork.estimates.calculators import estimate
from wheelwork.estimates.load_capacitors import CALCULATOR, PICOFARAD, load_of, nearest_pairs
from wheelwork.estimates.preferred import E24, decades, neighbours
from wheelwork.quantities.spans import read_tolerance

FORMULA = next(each for each in REFERENCE["formula"] if each["id"] == "XTAL-CL")


def picofarads(value: Any) -> Fraction:
    return exact(value) * PICOFARAD


def test_the_series_is_that_of_the_standard() -> None:
    """IEC 60063, series E24, as tests/reference/electrical.toml has it."""
    assert [*E24] == [exact(value) for value in FORMULA["e24"]]
    assert decades(Fraction(1), 2)[24:] == tuple(10 * value for value in E24)


@pytest.mark.parametrize("case", [each for each in examples("XTAL-CL") if "c1_pf" in each["given"]], ids=label)
def test_a_pair_loads_as_published(case: Any) -> None:
    raw = case["given"]
    pair = (picofarads(raw["c1_pf"]), picofarads(raw["c2_pf"]))
    assert load_of(pair, picofarads(raw["c_stray_pf"])) == picofarads(case["expect"]["cl_pf"])


@pytest.mark.parametrize("case", [each for each in examples("XTAL-CL") if "cl_pf" in each["given"]], ids=label)
def test_the_pair_is_the_published_one(case: Any) -> None:
    """Pairs are exact; the loads of the file have fifteen figures."""
    raw, expect = case["given"], case["expect"]
    asked = {"load_capacitance": f"{raw['cl_pf']} pF", "board_capacitance": f"{raw['c_stray_pf']} pF"}
    found = {each.key: each.value for each in estimate(CALCULATOR, asked).figures}
    assert found["ideal"] == picofarads(expect["c_ideal"])
    assert found["equal"] == picofarads(expect["c_equal_e24"])
    assert found["equal_load"] == picofarads(expect["cl_equal"])
    assert [found["first"], found["second"]] == [picofarads(value) for value in expect["pair_e24"]]
    assert float(found["load"] or 0) == pytest.approx(float(expect["cl_pair"]) * 1e-12, rel=1e-12)


def test_a_pins_capacitance_counts_half() -> None:
    """Twice 8 pF to ground in series are 4 pF across the crystal, as if the board had them."""
    ends = {"load_capacitance": "9 pF"}
    pins = estimate(CALCULATOR, {**ends, "board_capacitance": "0 pF", "pin_capacitance": "8 pF"})
    board = estimate(CALCULATOR, {**ends, "board_capacitance": "4 pF"})
    assert pins.figures == board.figures


@given(st.integers(10, 600), st.integers(0, 80), st.integers(0, 4))
def test_no_pair_that_may_be_used_comes_nearer(tenths: int, stray_tenths: int, apart: int) -> None:
    """Against every pair of the whole series, those too far apart left out."""
    series = decades(PICOFARAD, 3)
    wanted, stray = tenths * PICOFARAD / 10, stray_tenths * PICOFARAD / 10
    every = [
        (first, second)
        for first, second in combinations_with_replacement(series, 2)
        if series.index(second) - series.index(first) <= apart
    ]
    best = min(abs(load_of(pair, stray) - wanted) for pair in every)
    ranked = nearest_pairs(wanted, stray, apart)
    assert sorted(ranked) == sorted(every)
    assert abs(load_of(ranked[0], stray) - wanted) == best
    assert ranked[0] == min(pair for pair in every if abs(load_of(pair, stray) - wanted) == best)


def test_neighbours_are_counted_in_steps_of_the_series() -> None:
    assert [*neighbours((Fraction(1), Fraction(2), Fraction(4)), 1)] == [(1, 1), (1, 2), (2, 2), (2, 4), (4, 4)]


@pytest.mark.parametrize(("board", "more"), [("7 pF", "as much as"), ("7.5 pF", "more than")])
def test_a_board_that_loads_enough_by_itself_does_not_suit_the_crystal(board: str, more: str) -> None:
    outcome = estimate(CALCULATOR, {"load_capacitance": "7 pF", "board_capacitance": board})
    assert outcome.verdict == "unsuitable"
    assert f"{more} the 7\u00a0pF it is made for" in outcome.what
    assert not outcome.choices


def test_the_tolerance_of_the_capacitors_makes_a_span() -> None:
    """Twice 10 pF ± 5 % are 4.75 to 5.25 pF across the crystal, beside 4 pF of the board."""
    outcome = estimate(CALCULATOR, {"load_capacitance": "9 pF", "board_capacitance": "4 pF"})
    load = next(each for each in outcome.figures if each.key == "load")
    assert (load.lowest, load.highest) == (picofarads("8.75"), picofarads("9.25"))


def test_the_load_goes_on_to_the_pulling_with_its_span_held() -> None:
    outcome = estimate(CALCULATOR, {"load_capacitance": "7 pF", "board_capacitance": "2.5 pF"})
    load = next(each for each in outcome.figures if each.key == "load")
    [onward] = outcome.onward
    assert load.lowest is not None
    assert load.highest is not None
    assert isinstance(load.value, Fraction)
    taken = read_tolerance(onward.keys["load_tolerance"])
    assert taken.lowest <= load.lowest / load.value - 1 <= load.highest / load.value - 1 <= taken.highest
    assert (onward.keys["nominal_load"], onward.keys["real_load"]) == ("7 pF", "7.005 pF")
