"""A way laid out as MathML (MathML Core, W3C): in letters, with the plan's values, and the letters named.

Titles stand only inside `mtext`, escaped. The fraction bar collects every ratio below it, the factors stand beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from html import escape

from wheelwork.formulas.ways import Step, Way, pass_step
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.units import FREQUENCY, say_frequency, write_quantity


@dataclass(frozen=True, slots=True)
class Drawer:
    """What a formula's drawer shows: from the feeder, and from the oscillator down (MathML); the letters; the exact value."""

    local: str
    whole: str | None
    letters: str
    exact: str | None


@lru_cache(maxsize=1024)
def draw(way: Way) -> Drawer:
    """The drawer of a way.

    >>> draw(Way("Crystal", Fraction(8), (Step("D", Fraction(3), "tap"),), "Tap")).letters
    'D tap 3.'
    """
    local = way.local
    whole = None if local == way else _math(way)
    return Drawer(_math(local), whole, name_letters(way), say_exact(value_of(way)))


def value_of(way: Way) -> Fraction:
    """The clock at the end of a way (Hz)."""
    frequency = way.frequency
    following = [*way.steps[1:], None]
    for step, after in zip(way.steps, following, strict=True):
        frequency = pass_step(frequency, step, after)
    return frequency


def say_exact(value: Fraction) -> str | None:
    """The exact value where six decimals do not show it: `Exactly 232/9 MHz.`"""
    said = say_frequency(value)
    return f"Exactly {write_quantity(value, FREQUENCY)}." if "…" in said else None


def name_letters(way: Way) -> str:
    """The letters of a way with what they stand for: `R reference divider 1, N feedback multiplier 29.`"""
    named = [f"{_letter(way, i)} {step.title} {_value(step)}" for i, step in enumerate(way.steps)]
    return ", ".join(named) + "." if named else "This clock comes straight from its source."


def _letter(way: Way, number: int) -> str:
    """A step's letter, numbered where it stands more than once."""
    same = [i for i, step in enumerate(way.steps) if step.letter == way.steps[number].letter]
    return way.steps[number].letter + (_sub(same.index(number) + 1) if len(same) > 1 else "")


def _sub(number: int) -> str:
    return "".join(chr(0x2080 + int(digit)) for digit in str(number))


def _value(step: Step) -> str:
    return f"{write_exact(step.value)} of {step.of}" if step.letter == "k" else write_exact(step.value)


def _math(way: Way) -> str:
    source = f"<msub><mi>f</mi><mtext>{escape(way.source or 'in')}</mtext></msub>"
    target = f"<msub><mi>f</mi><mtext>{escape(way.target)}</mtext></msub>" if way.target else "<mi>f</mi>"
    letters = _expression(source, [(step, _letter_math(way, i)) for i, step in enumerate(way.steps)])
    values = _expression(_frequency(way.frequency), [(step, _number(step.value)) for step in way.steps])
    parts = [target, letters, values, _frequency(value_of(way))]
    if not way.steps:
        parts = [target, source, _frequency(way.frequency)]
    return '<math display="block">' + "<mo>=</mo>".join(parts) + "</math>"


def _expression(source: str, steps: list[tuple[Step, str]]) -> str:
    below = [text for step, text in steps if step.letter in ("R", "D")]
    beside: list[str] = []
    for number, (step, text) in enumerate(steps):
        follows = steps[number + 1][0].letter if number + 1 < len(steps) else ""
        if step.letter == "N" and follows == "k":
            fraction = f"<mfrac>{steps[number + 1][1]}<mn>{steps[number + 1][0].of}</mn></mfrac>"
            beside.append(f"<mrow><mo>(</mo>{text}<mo>+</mo>{fraction}<mo>)</mo></mrow>")
        elif step.letter in ("N", "M"):
            beside.append(text)
    dot = "<mo>·</mo>"
    head = f"<mfrac><mrow>{source}</mrow><mrow>{dot.join(below)}</mrow></mfrac>" if below else source
    return "<mrow>" + dot.join([head, *beside]) + "</mrow>"


def _letter_math(way: Way, number: int) -> str:
    same = [i for i, step in enumerate(way.steps) if step.letter == way.steps[number].letter]
    letter = f"<mi>{way.steps[number].letter}</mi>"
    return letter if len(same) == 1 else f"<msub>{letter}<mn>{same.index(number) + 1}</mn></msub>"


def _number(value: Fraction) -> str:
    if value.denominator == 1:
        return f"<mn>{value.numerator}</mn>"
    return f"<mfrac><mn>{value.numerator}</mn><mn>{value.denominator}</mn></mfrac>"


def _frequency(value: Fraction) -> str:
    number, _, unit = say_frequency(value).partition("\u00a0")
    return f"<mrow><mn>{number}</mn><mspace width='0.2em'></mspace><mtext>{unit}</mtext></mrow>"
