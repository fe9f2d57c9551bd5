"""The algebra of a chain, in sympy: its formula, its value by substitution, the formula solved for one of its terms.

Symbols are one of our letters with a number. Titles and keys never become a symbol, and nothing is parsed.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import Any

from wheelwork.formulas.chains import Chain, Letter, pass_link

Shape = tuple[tuple[Letter, ...], ...]
"""The letters of each link: chains of one shape have one formula."""


def shape_of(chain: Chain) -> Shape:
    """The letters of each link that has any."""
    return tuple(tuple(factor.letter for factor in link.factors) for link in chain.links if link.factors)


@lru_cache(maxsize=256)
def formula(shape: Shape) -> tuple[Any, tuple[Any, ...]]:
    """The formula of all chains of a shape, and its symbols: the source's first, then one for each factor."""
    import sympy

    source = expression = sympy.Symbol("f")
    symbols = [source]
    for number, letters in enumerate(shape):
        terms = {letter: sympy.Symbol(f"{letter}_{number}") for letter in letters}
        symbols.extend(terms.values())
        expression = pass_link(expression, terms)
    return expression, tuple(symbols)


@lru_cache(maxsize=256)
def _turned(shape: Shape, position: int) -> Any:
    """The formula of a shape solved for the symbol at a position; `F` stands for the wanted clock."""
    import sympy

    expression, symbols = formula(shape)
    solutions = sympy.solve(sympy.Eq(expression, sympy.Symbol("F")), symbols[position])
    return solutions[0]


def evaluate(chain: Chain) -> Fraction:
    """The clock at the end of a chain (Hz), by substituting every value into the formula."""
    expression, symbols = formula(shape_of(chain))
    return _substitute(expression, symbols, _values(chain))


def solve_for_source(chain: Chain, wanted: Fraction) -> Fraction:
    """The source's frequency (Hz) that makes the clock exactly the wanted one with the same factors.

    Raises ValueError for a wanted clock of 0 Hz or less.
    """
    return _solve(chain, 0, wanted)


def solve_for_factor(chain: Chain, key: str, wanted: Fraction) -> Fraction:
    """The value of one setting that makes the clock exactly the wanted one, all else as it is, offered or not.

    Where no setting could (a feedback below its own fraction), the value is what the algebra gives: negative, or 0.
    Raises ValueError for a key the chain does not have, and for a wanted clock of 0 Hz or less.

    >>> from wheelwork.formulas import Factor, Link
    >>> tap = Link("Tap", (Factor("D", Fraction(8), "tap", "main_tap"),))
    >>> solve_for_factor(Chain("VCO", Fraction(232_000_000), (tap,)), "main_tap", Fraction(27_000_000))
    Fraction(232, 27)
    """
    keys = [factor.key for factor in chain.factors]
    if not key or key not in keys:
        raise ValueError(f"{key!r} is no setting of this chain")
    return _solve(chain, 1 + keys.index(key), wanted)


def _solve(chain: Chain, position: int, wanted: Fraction) -> Fraction:
    import sympy

    if wanted <= 0:
        raise ValueError(f"a clock of {wanted} Hz cannot be wanted")
    shape = shape_of(chain)
    symbols = (*formula(shape)[1], sympy.Symbol("F"))
    return _substitute(_turned(shape, position), symbols, [*_values(chain), wanted])


def _values(chain: Chain) -> list[Fraction]:
    """The values of the symbols, in the order in which `formula` gives them."""
    return [chain.frequency, *(factor.value for factor in chain.factors)]


def _substitute(expression: Any, symbols: tuple[Any, ...], values: list[Fraction]) -> Fraction:
    import sympy

    rational: Callable[[int, int], Any] = sympy.Rational
    pairs = {s: rational(v.numerator, v.denominator) for s, v in zip(symbols, values, strict=True)}
    found = expression.subs(pairs)
    return Fraction(int(found.p), int(found.q))
