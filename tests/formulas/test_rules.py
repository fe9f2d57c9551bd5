"""Rules in words: what they give, and what stands on the page, read back by a reader made apart from the writer."""

from __future__ import annotations

from fractions import Fraction
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.formulas.rules import NoRule, Value, lay_out_rule, names_in, reckon_rule, write_rule

SERIAL = "rate = clock / (oversampling × divisor)"
TL16 = {"clock": Value(Fraction(1_843_200)), "oversampling": Value(Fraction(16)), "divisor": Value(Fraction(12))}
"""1.8432 MHz, 16 samples a bit, divisor 12: 9600 Bd (TL16C550C data sheet SLLS177I, Table 7-9)."""
NUMBERS = st.fractions(min_value=1, max_value=1000, max_denominator=20)


def plain(element: Element) -> str:
    """An equation's MathML as a plain sum: fractions as `(a)/(b)`."""
    if element.tag == "mfrac":
        return f"({plain(element[0])})/({plain(element[1])})"
    return (element.text or "") + "".join(plain(each) for each in element)


def sides(text: str) -> list[str]:
    told = ElementTree.fromstring(f"<p>{text}</p>")
    return "".join(plain(math) for math in told).replace("\u2009", " ").split("=")


def test_a_published_divisor_gives_its_published_rate() -> None:
    assert reckon_rule(SERIAL, TL16) == 9600


def test_a_rule_stands_in_words_in_numbers_and_with_its_result() -> None:
    assert sides(lay_out_rule(SERIAL, TL16, "9600 Bd")) == [
        "rate",
        "(clock)/(oversampling×divisor)",
        "(1 843 200)/(16×12)",
        "9600 Bd",
    ]


def test_a_line_can_break_before_each_equals_sign_but_the_first() -> None:
    told = ElementTree.fromstring(f"<p>{lay_out_rule(SERIAL, TL16, '9600 Bd')}</p>")
    assert [plain(math).count("=") for math in told] == [1, 1, 1]
    assert [math.tail for math in told] == [" ", " ", None]


def test_a_value_that_is_no_whole_number_stands_exactly_or_as_it_is_written() -> None:
    values = TL16 | {"divisor": Value(Fraction(47, 3)), "clock": Value(Fraction(8_000_000), "8 MHz")}
    assert sides(lay_out_rule(SERIAL, values))[2] == "(8 MHz)/(16×(47)/(3))"


@pytest.mark.parametrize(
    ("rule", "result", "numbers"),
    [
        ("r = a − b − c", 4, "9−3−2"),
        ("r = a − (b − c)", 8, "9−(3−2)"),
        ("r = a × (b + c)", 45, "9×(3+2)"),
        ("r = a × b + c", 29, "9×3+2"),
        ("r = a / b / c", Fraction(3, 2), "((9)/(3))/(2)"),
        ("r = a / b × c", 6, "(9)/(3)×2"),
        ("r = a · b * 2", 54, "9×3×2"),
        ("r = (a + b) / (2 * c)", 3, "(9+3)/(2×2)"),
    ],
)
def test_products_go_before_sums_and_both_from_the_left(rule: str, result: Fraction, numbers: str) -> None:
    values = {"a": Value(Fraction(9)), "b": Value(Fraction(3)), "c": Value(Fraction(2))}
    assert reckon_rule(rule, values) == result
    assert sides(lay_out_rule(rule, values))[2] == numbers


def test_a_name_of_several_words_is_a_setting() -> None:
    rule = "rate = clock / (sample cycles + segment 1)"
    assert names_in(rule) == ("clock", "sample_cycles", "segment_1")
    values = {name: Value(Fraction(n)) for name, n in zip(names_in(rule), (30, 3, 12), strict=True)}
    assert reckon_rule(rule, values) == 2


@given(NUMBERS, NUMBERS, NUMBERS)
def test_what_stands_on_the_page_comes_to_what_is_reckoned(a: Fraction, b: Fraction, c: Fraction) -> None:
    values = {"a": Value(a), "b": Value(b), "c": Value(c)}
    rule = "r = (a + b) × c / (a + 2 × b) − c"
    shown = sides(lay_out_rule(rule, values))[2].replace("×", "*").replace("−", "-").replace(" ", "")
    assert shown
    assert abs(float(eval(shown)) - float(reckon_rule(rule, values))) < 1e-6 * float(a + b + c)


@pytest.mark.parametrize(
    "rule", ["rate", "r = ", "r = (a", "r = a b )", "r = a × × b", "r = ln(a)", "r = a ^ b", "r = z"]
)
def test_what_is_no_rule_or_has_no_value_is_refused(rule: str) -> None:
    with pytest.raises(NoRule):
        lay_out_rule(rule, {"a": Value(Fraction(1)), "b": Value(Fraction(1))})


def test_nothing_is_divided_by_nothing() -> None:
    with pytest.raises(NoRule, match="divides by nothing"):
        reckon_rule("r = a / b", {"a": Value(Fraction(1)), "b": Value(Fraction(0))})


def test_a_value_below_zero_stands_in_brackets_after_a_sign() -> None:
    values = {"a": Value(Fraction(-1, 50), "−2 %"), "b": Value(Fraction(-3))}
    assert sides(lay_out_rule("r = (1 + a) × b", values))[2] == "(1+(−2 %))×(−3)"
    assert sides(lay_out_rule("r = a / b", values))[2] == "(−2 %)/(−3)"


def test_words_are_escaped() -> None:
    assert "<script>" not in lay_out_rule("r = a", {"a": Value(Fraction(1), "<script>")}, "<script>")


@pytest.mark.parametrize(
    ("rule", "line"),
    [
        ("r = a / (b * c)", "r = a / (b × c) = 8 bit/s / ((1/3) × (-5)) = 1"),
        ("r = (a + b) * c - 1", "r = (a + b) × c − 1 = (8 bit/s + (1/3)) × (-5) − 1 = 1"),
        ("r = a - (b + c)", "r = a − (b + c) = 8 bit/s − ((1/3) + (-5)) = 1"),
    ],
)
def test_a_rule_in_one_line_keeps_its_brackets(rule: str, line: str) -> None:
    values = {"a": Value(Fraction(8), "8 bit/s"), "b": Value(Fraction(1, 3)), "c": Value(Fraction(-5))}
    assert write_rule(rule, values, "1") == line
