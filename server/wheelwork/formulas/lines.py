"""A chain in one line of text, from its source down: `8 MHz / 1 × 29 / 4 = 58 MHz`."""

from __future__ import annotations

from collections.abc import Iterator

from wheelwork.formulas.chains import BELOW, Chain, Link
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.units import FREQUENCY, say_frequency, write_quantity


def write_chain(chain: Chain) -> str:
    """The chain with its values, every number exact; a clock whose digits do not end is cut, with its fraction after.

    >>> from fractions import Fraction
    >>> from wheelwork.formulas.chains import Factor
    >>> vco = Link("VCO", (Factor("R", Fraction(1), "reference divider"), Factor("N", Fraction(29), "feedback")))
    >>> tap = Link("Tap", (Factor("D", Fraction(9), "tap"),))
    >>> write_chain(Chain("Crystal", Fraction(8_000_000), (vco, tap))).replace("\\u00a0", " ")
    '8 MHz / 1 × 29 / 9 = 25.777777… MHz = 232/9 MHz'
    """
    steps = [text for link in chain.links for text in _steps(link)]
    clock = write_clock(chain)
    return " ".join([write_quantity(chain.frequency, FREQUENCY), *steps, "=", clock]) if steps else clock


def write_clock(chain: Chain) -> str:
    """The clock at the end of a chain, with its fraction where six decimals do not show it."""
    said = say_frequency(chain.clock)
    return f"{said} = {write_quantity(chain.clock, FREQUENCY)}" if "…" in said else said


def _steps(link: Link) -> Iterator[str]:
    """What a link divides and multiplies by."""
    values = {factor.letter: factor.value for factor in link.factors}
    yield from (f"/ {_number(write_exact(values[letter]))}" for letter in BELOW if letter in values)
    if values.get("k"):
        yield f"× ({write_exact(values['N'])} + {write_exact(values['k'])}/{write_exact(values['m'])})"
    elif "N" in values:
        yield f"× {_number(write_exact(values['N']))}"
    if "S" in values:
        yield f"× {_number(write_exact(values['S']))}"


def _number(written: str) -> str:
    """A number that stands beside a sign; a fraction in brackets."""
    return f"({written})" if "/" in written else written
