"""The algebra of a way, in sympy: its formula, its value by substitution, and the formula solved for one of its terms."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from wheelwork.formulas.ways import Way


def formula(way: Way) -> tuple[Any, dict[Any, Fraction]]:
    """The way as a sympy expression with the value of each of its symbols; symbols have our letters and a number."""
    import sympy

    source = sympy.Symbol("f", positive=True)
    values = {source: way.frequency}
    expression = source
    pending: Any = None
    for number, step in enumerate(way.steps):
        symbol = sympy.Symbol(f"{step.letter}_{number}", nonnegative=True)
        values[symbol] = step.value
        if pending is not None:
            expression, pending = expression * (pending + symbol / step.of), None
        elif step.letter in ("R", "D"):
            expression = expression / symbol
        elif number + 1 < len(way.steps) and way.steps[number + 1].letter == "k":
            pending = symbol
        else:
            expression = expression * symbol
    return expression, values


def evaluate(way: Way) -> Fraction:
    """The clock at the end of a way (Hz), by substituting every value into the formula."""
    expression, values = formula(way)
    return _exact(expression.subs(_rationals(values)))


def solve_for_source(way: Way, wanted: Fraction) -> Fraction:
    """The source's frequency (Hz) that makes the clock exactly the wanted one with the same factors."""
    return _solve(way, 0, wanted)


def solve_for_step(way: Way, number: int, wanted: Fraction) -> Fraction | None:
    """The value of one step that makes the clock exactly the wanted one, whether offered or not; None where none does."""
    value = _solve(way, number + 1, wanted)
    return value if value > 0 or (value == 0 and way.steps[number].letter == "k") else None


def _solve(way: Way, position: int, wanted: Fraction) -> Fraction:
    import sympy

    expression, values = formula(way)
    asked = list(values)[position]
    free = sympy.Dummy("x")
    known = _rationals({symbol: value for symbol, value in values.items() if symbol is not asked})
    equation = sympy.Eq(expression.subs(known).subs(asked, free), _rational(wanted))
    return _exact(sympy.solve(equation, free)[0])


def _rationals(values: Mapping[Any, Fraction]) -> dict[Any, Any]:
    return {symbol: _rational(value) for symbol, value in values.items()}


def _rational(value: Fraction) -> Any:
    import sympy

    return sympy.Rational(value.numerator, value.denominator)


def _exact(value: Any) -> Fraction:
    return Fraction(int(value.p), int(value.q))
