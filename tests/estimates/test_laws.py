"""What holds of every estimate: order of the sums, one-sided errors, formulas that give the figures, ends of ranges."""

from __future__ import annotations

import doctest
import importlib
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.estimates.asks import Ask, read_values
from wheelwork.estimates.calculator import Calculator, Figure, Working
from wheelwork.estimates.calculators import calculators, estimate
from wheelwork.formulas.expressions import letters_in
from wheelwork.links.fields import Refused
from wheelwork.quantities.units import FREQUENCY, write_quantity

EVERY = [pytest.param(each, id=name) for name, each in calculators().items()]
TERMS = ("initial", "temperature", "load", "circuit", "ageing")


def figures(calculator: str, **raw: str | int) -> dict[str, Figure]:
    return {figure.key: figure for figure in estimate(calculators()[calculator], raw).figures}


def sides(figure: Figure) -> tuple[float, float]:
    assert figure.lowest is not None
    assert figure.highest is not None
    return float(figure.lowest), float(figure.highest)


def examples_of(calculator: Calculator) -> dict[str, str]:
    """Every key with its own example, but for those that stand in for another."""
    instead = {"motional_resistance", "critical_most", "resistance_most", "current"}
    if calculator.name == "start_up":
        instead = set()
    return {ask.key: ask.example for ask in calculator.asks if ask.key not in instead}


@pytest.mark.parametrize("calculator", EVERY)
def test_a_calculator_says_what_it_is(calculator: Calculator) -> None:
    assert calculator.title
    assert calculator.question.endswith("?")
    assert all(calculator.sources)
    assert calculator.cautions
    module = importlib.import_module(type(calculator).__module__)
    assert "Worked value:" in (module.__doc__ or "")
    assert "Source" in (module.__doc__ or "")
    [worked, *_] = doctest.DocTestFinder(recurse=False).find(module)
    assert [example for example in worked.examples if example.want]
    assert doctest.DocTestRunner(verbose=False).run(worked).failed == 0


@pytest.mark.parametrize("calculator", EVERY)
def test_every_letter_of_a_formula_is_named(calculator: Calculator) -> None:
    named = calculator.named_letters()
    assert {letter for formula in calculator.formulas for letter in letters_in(formula)} <= set(named)
    assert all(named.values())


@pytest.mark.parametrize("calculator", EVERY)
def test_examples_and_defaults_are_allowed_where_they_stand(calculator: Calculator) -> None:
    for ask in calculator.asks:
        assert ask.read(ask.example) is not None
        assert ask.needed != bool(ask.default) or not ask.needed
        if ask.default:
            assert ask.read(ask.default) is not None


@pytest.mark.parametrize("calculator", EVERY)
def test_each_example_is_answered_with_figures_formula_and_one_sentence(calculator: Calculator) -> None:
    outcome = estimate(calculator, examples_of(calculator))
    assert outcome.figures
    assert outcome.steps
    assert outcome.what.endswith(".")
    for step in outcome.steps:
        assert step.in_line().endswith(step.result)
        assert step.laid_out().count("<math>") in (2, 3)


@pytest.mark.parametrize("calculator", EVERY)
def test_the_last_step_of_a_letter_is_the_figure_that_bears_it(calculator: Calculator) -> None:
    """What is shown is what is reckoned."""
    outcome = estimate(calculator, examples_of(calculator))
    results = {step.formula.partition(" =")[0]: step.result for step in outcome.steps}
    shown = [each for each in outcome.figures if each.letter in results and each.value is not None]
    for figure in shown:
        assert figure.said().startswith(results[figure.letter])
    assert shown or calculator.name in ("rc_trim", "ppm_budget")


tolerance = st.integers(0, 500)


@given(st.lists(tolerance, min_size=5, max_size=5), st.integers(-100, 100), st.integers(0, 20))
def test_worst_case_holds_the_mixed_rule_which_holds_the_root(terms: list[int], offset: int, years: int) -> None:
    """All terms to both sides alike: |offset| ≤ root ≤ mixed ≤ worst, on the side of the offset and on the other."""
    raw: dict[str, str | int] = {key: f"±{ppm} ppm" for key, ppm in zip(TERMS, terms, strict=True)}
    found = figures("ppm_budget", **raw, offset=f"{offset} ppm", years=years)
    worst, mixed, root = (sides(found[key]) for key in ("worst", "mixed", "statistical"))
    nothing = 1e-15
    assert worst[1] + nothing >= mixed[1] >= root[1] - nothing
    assert root[1] >= offset / 10**6 - nothing
    assert worst[0] - nothing <= mixed[0] <= root[0] + nothing
    total = sum(terms[:4]) + years * terms[4]
    assert worst == pytest.approx(((offset - total) / 10**6, (offset + total) / 10**6), abs=1e-15)


@given(st.lists(st.tuples(tolerance, tolerance), min_size=5, max_size=5), st.integers(0, 20))
def test_unlike_sides_stay_unlike_and_the_worst_case_holds_all(terms: list[tuple[int, int]], years: int) -> None:
    raw: dict[str, str | int] = {
        key: f"-{low} ppm .. +{high} ppm" for key, (low, high) in zip(TERMS, terms, strict=True)
    }
    found = figures("ppm_budget", **raw, years=years)
    worst, mixed = sides(found["worst"]), sides(found["mixed"])
    assert worst[0] - 1e-15 <= mixed[0] <= 1e-15
    assert -1e-15 <= mixed[1] <= worst[1] + 1e-15
    for side in (0, 1):
        total = sum(term[side] for term in terms[:4]) + years * terms[4][side]
        assert abs(worst[side]) == pytest.approx(total / 10**6, abs=1e-15)


def test_what_errs_to_one_side_never_becomes_a_plus_or_minus() -> None:
    """A fork of 0 to −100 ppm and ±20 ppm: −120 to +20 ppm, by both rules, as a single term under a root is itself."""
    found = figures("ppm_budget", initial="±20 ppm", temperature="-100 ppm .. +0 ppm")
    assert sides(found["worst"]) == sides(found["mixed"]) == (-120e-6, 20e-6)


def test_what_is_not_given_is_said_and_not_taken_for_nothing_in_silence() -> None:
    notes = estimate(calculators()["ppm_budget"], {"initial": "±10 ppm"}).notes
    assert notes == (
        "Not given, and so not counted: over temperature, load, oscillator circuit, ageing in a year.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("limit", "rule", "verdict"),
    [
        ("±50 ppm", "worst", "inside"),  # the edges belong to it
        ("±49 ppm", "worst", "over"),
        ("±38 ppm", "mixed", "inside"),
        ("±37 ppm", "mixed", "over"),
        ("-49 ppm .. +60 ppm", "worst", "under"),
    ],
)
def test_a_budget_is_judged_by_the_rule_that_is_chosen(limit: str, rule: str, verdict: str) -> None:
    """XTAL-PPM-2: worst 50 ppm, mixed 37.9 ppm."""
    terms = {"initial": "±10 ppm", "temperature": "±20 ppm", "ageing": "±3 ppm", "years": 5, "load": "±5 ppm"}
    assert estimate(calculators()["ppm_budget"], {**terms, "limit": limit, "judged_by": rule}).verdict == verdict


@given(st.integers(-55, 125), st.integers(0, 100), st.integers(1, 60), st.integers(0, 10))
def test_a_fork_is_never_fast(low: int, wide: int, steep: int, spread: int) -> None:
    found = figures(
        "tuning_fork",
        temperatures=f"{low} °C .. {low + wide} °C",
        coefficient=f"-{steep}/1000 ppm/K²",
        coefficient_spread=f"{min(steep, spread)}/1000 ppm/K²",
    )
    for figure in found.values():
        lowest, highest = sides(figure)
        assert lowest <= float(figure.value or 0) <= highest <= 0


@given(st.integers(20, 400), st.integers(20, 400), st.integers(1, 70))
def test_more_load_is_a_lower_frequency(nominal: int, real: int, shunt: int) -> None:
    raw = {"motional_capacitance": "10 fF", "shunt_capacitance": f"{shunt}/10 pF", "nominal_load": f"{nominal}/10 pF"}
    off = figures("pulling", **raw, real_load=f"{real}/10 pF")["pulling"].value
    assert off is not None
    assert (off > 0) == (real < nominal)
    assert (off == 0) == (real == nominal)


def test_a_tolerance_of_the_load_makes_a_span_round_the_pulling() -> None:
    raw = {"motional_capacitance": "10 fF", "shunt_capacitance": "3 pF", "nominal_load": "18 pF", "real_load": "20 pF"}
    found = figures("pulling", **raw, load_tolerance="±5 %")["pulling"]
    ends = [figures("pulling", **{**raw, "real_load": load})["pulling"].value for load in ("21 pF", "19 pF")]
    assert [found.lowest, found.highest] == ends


@pytest.mark.parametrize("calculator", EVERY)
def test_the_ends_of_each_range_are_reckoned_without_a_fault(calculator: Calculator) -> None:
    """Every value at its least and at its most in turn, and all pairs of two of them."""
    base = examples_of(calculator)
    bounded = [ask for ask in calculator.asks if ask.least is not None and ask.most is not None and ask.key in base]
    answered = 0
    for first, second in product(bounded, repeat=2):
        for one, other in product((first.least, first.most), (second.least, second.most)):
            raw = {**base, first.key: _written(first, one), second.key: _written(second, other)}
            try:
                outcome = estimate(calculator, raw)
            except Refused:
                continue
            answered += 1
            assert all(figure.said() for figure in outcome.figures)
            assert all(step.in_line() for step in outcome.steps)
    assert answered > len(bounded)


def _written(ask: Ask, value: Fraction | None) -> str:
    assert value is not None
    return f"±{abs(value) * 100} %" if ask.form == "tolerance" else ask.write(value)


def test_working_keeps_what_it_reckons_under_its_letter() -> None:
    work = Working()
    work.put("f", Fraction(8_000_000), FREQUENCY)
    work.reckon("g = f / 2", FREQUENCY)
    assert work.steps[0].in_line() == "g = f / 2 = 8\u00a0MHz / 2 = 4\u00a0MHz"
    assert write_quantity(Fraction(work.values["g"]), FREQUENCY) == "4 MHz"


def test_values_are_read_together_with_every_problem() -> None:
    asks = calculators()["load_capacitors"].asks
    with pytest.raises(Refused) as refused:
        read_values(asks, {"load_capacitance": "7", "steps_apart": 9, "board": "2 pF"})
    assert [each.sentence() for each in refused.value.problems] == [
        "load_capacitance: '7' has no unit; write it as 7 pF",
        'board_capacitance: is missing; write "2 pF"',
        "steps_apart: '9' is outside what is asked for; write one from 0 to 6",
        "board: 'board' is no key here; load_capacitance, board_capacitance, pin_capacitance, "
        "steps_apart and capacitor_tolerance are",
    ]
