"""Formulas in letters: reckoned, laid out and written; against Python's own sums, which are another's."""

from __future__ import annotations

import math
from fractions import Fraction
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.formulas.expressions import NoFormula, lay_out, letter, letters_in, reckon, write

GIVEN = {"a": Fraction(7), "b": Fraction(3), "C_0": Fraction(5, 2)}


@pytest.mark.parametrize(
    ("formula", "python"),
    [
        ("x = a − b − C_0", "a - b - C_0"),
        ("x = a / b / C_0", "a / b / C_0"),
        ("x = a / (b / C_0)", "a / (b / C_0)"),
        ("x = a + b × C_0^2", "a + b * C_0**2"),
        ("x = (a + b)^3 / 2.5", "(a + b)**3 / Fraction('2.5')"),
        ("x = −a + b", "-a + b"),
        ("x = −a^2", "-a**2"),
        ("x = a × (−b)", "a * (-b)"),
        ("x = a − (b − C_0)", "a - (b - C_0)"),
        ("x = 2 × π × a", "2 * math.pi * a"),
        ("x = sqrt(a^2 + b^2) − ln(a / b)", "math.sqrt(a**2 + b**2) - math.log(a / b)"),
        ("x = −sqrt(a)", "-math.sqrt(a)"),
    ],
)
def test_a_formula_gives_what_python_gives(formula: str, python: str) -> None:
    wanted = eval(python, {"math": math, "Fraction": Fraction}, dict(GIVEN))
    found = reckon(formula, GIVEN)
    assert found == wanted
    assert isinstance(found, type(wanted))


@given(st.lists(st.sampled_from("+−×/"), min_size=1, max_size=6), st.integers(0, 5))
def test_what_is_written_in_one_line_is_reckoned_the_same(signs: list[str], bracket: int) -> None:
    """Letters in turn, two of them in brackets; the line reads back as a formula with the same value."""
    terms = ["a" if place % 2 else "b" for place in range(len(signs) + 1)]
    at = bracket % len(signs)
    terms[at], terms[at + 1] = f"({terms[at]}", f"{terms[at + 1]})"
    text = "x = " + terms[0] + "".join(f" {sign} {term}" for sign, term in zip(signs, terms[1:], strict=True))
    again = write(text)
    try:
        value = reckon(text, GIVEN)
    except ZeroDivisionError:
        with pytest.raises(ZeroDivisionError):
            reckon(again, GIVEN)
        return
    assert reckon(again, GIVEN) == value
    numbers = write(text, {"a": "7", "b": "3"}).split(" = ")[2]
    assert reckon(f"x = {numbers}", {}) == value


@pytest.mark.parametrize("formula", ["a", "x = a +", "x = (a", "x = a b", "x = a ! b", "x = × a", "x = y"])
def test_what_is_no_formula_is_told(formula: str) -> None:
    with pytest.raises(NoFormula):
        reckon(formula, GIVEN)


def test_letters_come_in_the_order_in_which_they_are_met() -> None:
    assert letters_in("g_crit = 4 × ESR × (2 × π × f)^2 × ESR") == ("g_crit", "ESR", "f")


@pytest.mark.parametrize(
    ("formula", "written"),
    [
        ("d = B × (T − T_0)^2", {"B": "−0.03 ppm/K²", "T": "45 °C", "T_0": "25 °C"}),
        ("R = −sqrt(i^2 + (y × a)^2)", {"i": "−1 ppm", "y": "5", "a": "<3"}),
        ("x = a / (b + c)", {}),
        ("x = −a × b", {"a": "−2", "b": "1"}),
    ],
)
def test_mathml_is_whole_and_holds_every_value(formula: str, written: dict[str, str]) -> None:
    laid = lay_out(formula, written, "12 & more")
    pieces = ElementTree.fromstring(f"<all>{laid}</all>")
    text = "".join(pieces.itertext())
    assert len(pieces) == 3
    assert all(value in text for value in written.values())
    assert text.endswith("12 & more")


def test_a_value_below_zero_stands_in_brackets_beside_a_sign() -> None:
    assert write("x = a − b", {"a": "−1", "b": "−2"}) == "x = a − b = (−1) − (−2)"
    assert '(</mo><mn>−2</mn><mo stretchy="false">)' in lay_out("x = a × b", {"a": "1", "b": "−2"})


def test_what_stands_below_a_letter_is_set_below_it() -> None:
    assert letter("C_0") == "<msub><mi>C</mi><mi>0</mi></msub>"
    assert letter("f") == "<mi>f</mi>"
