"""Every formula of every plan, of the demo and of the handed-in cases, against propagation: the same rational, exactly.

Propagation itself is held to sums made without this code in `tests/scenarios`.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from tests.formulas.mathml import read_numbers, read_result
from wheelwork.formulas import Chain, draw, evaluate, solve_for_factor, solve_for_source
from wheelwork.judge import Judgement, judge
from wheelwork.judge.chains import chain_of, detector_chain_of
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan, read_plan_text

ROOT = Path(__file__).resolve().parents[2]
PLANS = sorted([*(ROOT / "scenarios" / "plans").glob("*.toml"), *(ROOT / "tests" / "cases" / "plans").glob("*.toml")])
each_plan = pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)


@cache
def judged(path: Path) -> Judgement:
    raw, problems = read_plan_text(path.read_text("utf-8"))
    assert raw is not None, problems
    part, problems = read_sheet((path.parents[1] / "parts" / f"{raw['part']}.toml").read_text("utf-8"))
    assert part is not None, problems
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    return judge(part, plan)


def clocks(path: Path) -> Iterator[tuple[str, Chain, Fraction]]:
    """Every running clock of a plan: its name, its chain, and its frequency by propagation."""
    judgement = judged(path)
    for name, clock in judgement.clocks.items():
        yield name, chain_of(judgement, name), clock.nominal
    for name, detector in judgement.phase_detectors.items():
        assert detector.clock is not None
        yield f"{name}, phase detector", detector_chain_of(judgement, name), detector.clock.nominal


def test_there_are_plans_to_hold_the_formulas_to() -> None:
    assert {path.parents[1].name for path in PLANS} == {"scenarios", "cases"}


@each_plan
def test_a_formula_gives_what_propagation_gives(path: Path) -> None:
    for name, chain, frequency in clocks(path):
        assert evaluate(chain) == frequency, name


@each_plan
def test_what_the_drawer_shows_comes_to_what_propagation_gives(path: Path) -> None:
    for name, chain, frequency in clocks(path):
        drawer = draw(chain)
        for text in (drawer.local, drawer.whole or drawer.local):
            assert read_numbers(text) in (frequency, None), name
            assert 0 <= frequency - read_result(text) < 1, name  # hertz: six decimals of 1 MHz
        reckoned = read_numbers(drawer.whole or drawer.local)
        assert (reckoned is None) == (frequency == chain.frequency and not chain.factors), name


@each_plan
def test_the_source_that_makes_a_clock_what_it_is_is_the_one_fitted(path: Path) -> None:
    for name, chain, frequency in clocks(path):
        assert solve_for_source(chain, frequency) == chain.frequency, name


@each_plan
def test_the_setting_that_makes_a_clock_what_it_is_is_the_one_chosen(path: Path) -> None:
    settings = judged(path).settings
    for name, chain, frequency in clocks(path):
        for factor in chain.factors:
            if factor.key:
                assert solve_for_factor(chain, factor.key, frequency) == settings[factor.key], (name, factor.key)
