"""A chain laid out as MathML (MathML Core, W3C): in letters, with the plan's values, and the letters named.

One fraction bar collects every ratio of a chain below its source, the factors stand beside it. A letter that occurs
more than once in a chain is numbered from the source down, alike in the local form, in the whole one and where it is
named. Titles stand only inside `mtext`, escaped, so that the text may go into a page as it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from html import escape

from wheelwork.formulas.chains import BELOW, Chain, Factor, Letter
from wheelwork.quantities.numbers import decimal_places, write_exact
from wheelwork.quantities.units import FREQUENCY, pick_unit, say_frequency, write_quantity

DOT, EQUALS, PLUS = "<mo>·</mo>", "<mo>=</mo>", "<mo>+</mo>"
Terms = Mapping[Letter, str]
"""The MathML of each term of a link, in letters or in numbers."""


@dataclass(frozen=True, slots=True)
class Drawer:
    """What a formula's drawer shows: MathML from the feeder, and from the source; the letters; the exact value.

    `whole` is None where the feeder is the source, `exact` where the formula's result already shows every digit.
    """

    local: str
    whole: str | None
    letters: str
    exact: str | None


def draw(chain: Chain) -> Drawer:
    """The drawer of a chain.

    >>> from wheelwork.formulas import Link
    >>> tap = Link("Tap", (Factor("D", Fraction(9), "tap"),))
    >>> drawn = draw(Chain("VCO", Fraction(232_000_000), (tap,)))
    >>> drawn.letters, drawn.exact, drawn.whole
    ('D tap 9.', 'Exactly 232/9 MHz.', None)
    """
    written = _number_letters(chain)
    local = chain.local
    whole = None if local == chain else lay_out(chain, written)
    return Drawer(lay_out(local, written[-1:]), whole, name_letters(chain), say_exact(chain.clock))


def name_letters(chain: Chain) -> str:
    """The letters with what they stand for: `R reference divider 1, N feedback multiplier 29.`"""
    names = [name for numbered in _number_letters(chain) for name in numbered.values()]
    named = [f"{name.plain} {factor.title} {factor.value}" for name, factor in zip(names, chain.factors, strict=True)]
    return ", ".join(named) + "." if named else f"Straight from {chain.source}, with no ratio on the way."


def say_exact(value: Fraction) -> str | None:
    """The exact frequency where six decimals do not show it: `Exactly 232/9 MHz.`"""
    return f"Exactly {write_quantity(value, FREQUENCY)}." if "…" in say_frequency(value) else None


@dataclass(frozen=True, slots=True)
class Name:
    """A letter as it is written in one chain; its number is 0 where the chain has it once."""

    letter: Letter
    number: int

    @property
    def plain(self) -> str:
        """The letter in running text, its number below the line: `D₂`."""
        return self.letter + ("".join(chr(0x2080 + int(digit)) for digit in str(self.number)) if self.number else "")

    @property
    def math(self) -> str:
        """The letter in MathML."""
        letter = f"<mi>{self.letter}</mi>"
        return f"<msub>{letter}<mn>{self.number}</mn></msub>" if self.number else letter


def _number_letters(chain: Chain) -> list[dict[Letter, Name]]:
    """The names of each link's letters."""
    often = Counter(factor.letter for factor in chain.factors)
    so_far: Counter[str] = Counter()
    numbered = []
    for link in chain.links:
        so_far.update(factor.letter for factor in link.factors)
        numbered.append({f.letter: _name(f, often, so_far) for f in link.factors})
    return numbered


def _name(factor: Factor, often: Counter[Letter], so_far: Counter[str]) -> Name:
    return Name(factor.letter, so_far[factor.letter] if often[factor.letter] > 1 else 0)


def lay_out(chain: Chain, written: Sequence[Mapping[Letter, Name]]) -> str:
    """The equation of a chain, its letters written as given: f = in letters = in numbers = the clock."""
    letters = [{letter: name.math for letter, name in names.items()} for names in written]
    numbers = [{factor.letter: _ratio(factor.value) for factor in link.factors} for link in chain.links]
    sides = [_titled(chain.title)]
    if chain.links:
        sides.append(_expression(_titled(chain.source), letters))
    if chain.factors:
        sides.append(_expression(_given(chain.frequency), numbers))
    sides.append(_said(chain.clock))
    return f'<math display="block">{EQUALS.join(sides)}</math>'


def _expression(source: str, links: Sequence[Terms]) -> str:
    """The source over all ratios, times all factors, from the source down."""
    below = [terms[letter] for terms in links for letter in BELOW if letter in terms]
    beside = [text for terms in links for text in _beside(terms)]
    head = f"<mfrac>{source}<mrow>{DOT.join(below)}</mrow></mfrac>" if below else source
    return f"<mrow>{DOT.join([head, *beside])}</mrow>"


def _beside(terms: Terms) -> list[str]:
    """What a link multiplies by: its feedback, with its fraction in brackets, or its factor."""
    if "k" in terms:
        fraction = f"<mfrac>{terms['k']}{terms['m']}</mfrac>"
        return [f"<mrow><mo>(</mo>{terms['N']}{PLUS}{fraction}<mo>)</mo></mrow>"]
    return [terms[letter] for letter in ("N", "S") if letter in terms]


def _titled(title: str) -> str:
    """A frequency by the title of its clock."""
    return f"<msub><mi>f</mi><mtext>{escape(title)}</mtext></msub>"


def _ratio(value: Fraction) -> str:
    """A number exactly, as a fraction where it is not whole."""
    if value.denominator == 1:
        return f"<mn>{value.numerator}</mn>"
    return f"<mfrac><mn>{value.numerator}</mn><mn>{value.denominator}</mn></mfrac>"


def _given(frequency: Fraction) -> str:
    """A frequency exactly: in digits where they end, else as a fraction."""
    unit = pick_unit(frequency, FREQUENCY)
    size = frequency / FREQUENCY.units[unit]
    return _measured(_ratio(size) if decimal_places(size) is None else f"<mn>{write_exact(size)}</mn>", unit)


def _said(frequency: Fraction) -> str:
    """A frequency as the page says it, cut where six decimals do not show it."""
    number, unit = say_frequency(frequency).split("\u00a0")
    return _measured(f"<mn>{number}</mn>", unit)


def _measured(number: str, unit: str) -> str:
    return f'<mrow>{number}<mspace width="0.2em"></mspace><mtext>{unit}</mtext></mrow>'
