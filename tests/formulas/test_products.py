"""Rules taken apart: the quotient gives what the rule gives, and what is no quotient is said to be none."""

from __future__ import annotations

from fractions import Fraction
from math import prod

import pytest

from wheelwork.formulas.products import Sum, take_apart
from wheelwork.formulas.rules import NoRule, Value, names_in, reckon_rule
from wheelwork.links.families import families

QUOTIENTS = {name: family.rule for name, family in families().items() if name not in ("i2c", "pwm")}


def reckoned(sums: tuple[Sum, ...], values: dict[str, Value]) -> Fraction:
    """The product of the sums."""
    return prod((sum((_value(each, values) for each in terms), Fraction(0)) for terms in sums), start=Fraction(1))


def _value(term: str, values: dict[str, Value]) -> Fraction:
    return values[term].value if term in values else Fraction(term)


@pytest.mark.parametrize("rule", QUOTIENTS.values(), ids=list(QUOTIENTS))
def test_the_quotient_gives_what_the_rule_gives(rule: str) -> None:
    """Each name stands for a prime of its own, so that no two slips cancel out."""
    values = {name: Value(Fraction(prime)) for name, prime in zip(names_in(rule), (101, 7, 11, 13, 17), strict=False)}
    quotient = take_apart(rule)
    assert reckoned(quotient.above, values) / reckoned(quotient.below, values) == reckon_rule(rule, values)


@pytest.mark.parametrize(
    "rule",
    ["rate = 1 / (low × high + rise)", "rate = clock − offset", "rate clock", "rate = clock / (2 − divisor)", "rate ="],
)
def test_what_is_no_quotient_of_products_is_said_to_be_none(rule: str) -> None:
    with pytest.raises(NoRule):
        take_apart(rule)
