"""Published PLL and ratio examples; the source of each stands in `tests/reference/electrical.toml` and in its id.

Where a source printed a rounded or a wrong figure the file says so, and the exact figure is the one compared.
"""

from __future__ import annotations

import tomllib
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from wheelwork.formulas import Chain, Factor, Letter, Link, evaluate, solve_for_factor, solve_for_source

REFERENCE = Path(__file__).resolve().parents[1] / "reference" / "electrical.toml"
EXAMPLES: list[dict[str, Any]] = tomllib.loads(REFERENCE.read_text("utf-8"), parse_float=Decimal)["example"]


def of_formula(formula: str) -> list[Any]:
    """The examples of one formula, each named by its id and its source."""
    found = [example for example in EXAMPLES if example["formula"] == formula]
    return [pytest.param(example, id=f"{example['id']} ({example['source']})") for example in found]


def example(name: str) -> tuple[dict[str, Fraction], dict[str, Fraction]]:
    """What one example gives and what it expects."""
    found = next(each for each in EXAMPLES if each["id"] == name)
    return numbers(found["given"]), numbers(found["expect"])


def numbers(table: dict[str, Any]) -> dict[str, Fraction]:
    return {name: Fraction(value) for name, value in table.items() if not isinstance(value, list)}


def factor(letter: Letter, value: Fraction) -> Factor:
    return Factor(letter, value, letter, letter)


def pll(reference: Fraction, *factors: Factor) -> Chain:
    return Chain("reference", reference, (Link("VCO", factors),))


def fractional(detector: Fraction, feedback: Fraction, fraction: Fraction, bits: Fraction) -> Chain:
    """A VCO by its phase detector's clock, and a feedback with a fraction of so many bits."""
    return pll(detector, factor("N", feedback), factor("k", fraction), factor("m", Fraction(2**bits)))


@pytest.mark.parametrize("case", of_formula("PLL-INT"))
def test_an_integer_pll_comes_to_the_published_clocks(case: dict[str, Any]) -> None:
    given, expect = numbers(case["given"]), numbers(case["expect"])
    reference_divider, feedback = factor("R", given["R"]), factor("N", given["N"])
    vco = pll(given["f_ref"], reference_divider, feedback)
    tap = Chain(vco.source, vco.frequency, (*vco.links, Link("tap", (factor("D", given["P"]),))))
    assert evaluate(pll(given["f_ref"], reference_divider)) == expect["f_pd"]
    assert evaluate(vco) == expect["f_vco"]
    assert evaluate(tap) == expect["f_out"]


@pytest.mark.parametrize("case", of_formula("PLL-INT"))
def test_an_integer_pll_turned_round_gives_the_published_settings(case: dict[str, Any]) -> None:
    given, output = numbers(case["given"]), Fraction(case["expect"]["f_out"])
    factors = (factor("R", given["R"]), factor("N", given["N"]))
    tap = Chain("reference", given["f_ref"], (Link("VCO", factors), Link("tap", (factor("D", given["P"]),))))
    assert solve_for_source(tap, output) == given["f_ref"]
    assert [solve_for_factor(tap, letter, output) for letter in ("R", "N", "D")] == [given[each] for each in "RNP"]


def test_the_nearest_fraction_to_an_audio_clock() -> None:
    """PLL-FRAC-1, own numbers: 8 MHz · (24 + k/8192) nearest to 196.608 MHz."""
    given, expect = example("PLL-FRAC-1")
    vco = fractional(given["f_pd"], expect["N"], Fraction(0), given["m"])
    nearest = round(solve_for_factor(vco, "k", given["f_target"]))
    assert nearest == expect["k"]
    reached = evaluate(fractional(given["f_pd"], expect["N"], Fraction(nearest), given["m"]))
    assert reached == expect["f_vco"]
    assert abs(reached - given["f_target"]) == expect["error_hz"]


def test_a_fraction_that_rounds_up_to_a_whole_carries_into_the_feedback() -> None:
    """PLL-FRAC-2, own numbers: 31.99975 rounds to 31 + 256/256, which is 32 + 0/256."""
    given, expect = example("PLL-FRAC-2")
    below = fractional(given["f_pd"], expect["N"] - 1, Fraction(0), given["m"])
    assert round(solve_for_factor(below, "k", given["f_target"])) == 2 ** given["m"]
    reached = evaluate(fractional(given["f_pd"], expect["N"], expect["k"], given["m"]))
    assert reached == expect["f_vco"]
    assert abs(reached - given["f_target"]) == expect["error_hz"]


def test_one_step_of_a_fraction_is_as_wide_as_published() -> None:
    """PLL-FRAC-3, public note on synthesis: about 0.023 Hz for 32 bits at 100 MHz."""
    given, expect = example("PLL-FRAC-3")
    low, high = (fractional(given["f_clk"], Fraction(1), Fraction(k), given["m"]) for k in (0, 1))
    step = evaluate(high) - evaluate(low)
    assert round(float(step), 3) == 0.023
    assert float(step) == pytest.approx(float(expect["step_hz"]), rel=1e-9)


def test_a_tuning_word_comes_to_the_exact_clock_where_two_published_answers_are_wrong() -> None:
    """PLL-FRAC-4, public homework question: 196608/2^32 of 120 kHz is 5625/1024 Hz."""
    given, expect = example("PLL-FRAC-4")
    assert evaluate(fractional(given["f_clk"], Fraction(0), given["word"], given["m"])) == expect["f_out"]


def test_an_audio_clock_is_an_exact_ratio_of_its_crystal() -> None:
    """RATIO-BEST-7, own numbers: 11.2896 MHz is 588/625 of 12 MHz."""
    given, expect = example("RATIO-BEST-7")
    scaled = Chain("crystal", given["f_ref"], (Link("clock", (factor("S", Fraction(1)),)),))
    assert solve_for_factor(scaled, "S", given["f_target"]) == Fraction(expect["ratio"])
