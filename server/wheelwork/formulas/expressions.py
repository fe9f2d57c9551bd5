"""Formulas in letters, `g_crit = 4 × ESR × (2 × π × f)^2 × (C_0 + C_L)^2`: reckoned, laid out as MathML, and in a line.

What is shown is what is reckoned. The result is exact while the formula has only `+ − × /` and whole powers; `π`,
`sqrt` and `ln` make it a float. Formulas are our own text; letters and values go into MathML escaped.

>>> reckon("C_L = C_1 × C_2 / (C_1 + C_2) + C_s", {"C_1": Fraction(18), "C_2": Fraction(18), "C_s": Fraction(5)})
Fraction(14, 1)
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from html import escape

Number = Fraction | float
_TOKEN = re.compile(r"\s*(\d+(?:\.\d+)?|[A-Za-zτπΔ]+(?:_[A-Za-z0-9]+)?|[-+−×/^()])")
_SIGNS = (("+", "−"), ("×", "/"))
_CALLS: Mapping[str, Callable[[Number], float]] = {"sqrt": math.sqrt, "ln": math.log}


class NoFormula(ValueError):
    """A text that is no formula, or one with a letter that has no value."""


@dataclass(frozen=True, slots=True)
class _Leaf:
    """A number or a letter."""

    text: str


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two sides and the sign between them; `^` has a whole number on its right."""

    sign: str
    left: _Node
    right: _Node


@dataclass(frozen=True, slots=True)
class _Call:
    """`sqrt` or `ln` of something, or what is below zero."""

    name: str
    inner: _Node


_Node = _Leaf | _Pair | _Call


def reckon(formula: str, values: Mapping[str, Number]) -> Number:
    """What the formula gives. Raises NoFormula; ZeroDivisionError and ValueError where it has no value."""
    return _reckon(_read(formula)[1], values)


def letters_in(formula: str) -> tuple[str, ...]:
    """The letters of the formula, that of the result first, each once; `π` is no letter."""
    head, node = _read(formula)
    return tuple(dict.fromkeys((head, *_letters(node))))


def lay_out(formula: str, written: Mapping[str, str] | None = None, result: str = "") -> str:
    """The formula as MathML: in letters, then with the values as they are written, then the result.

    Each side is a piece of its own, for a line breaks between two and never inside one.
    """
    head, node = _read(formula)
    sides = [f"{letter(head)}<mo>=</mo>{_lay_out(node, None)}"]
    equals = '<mo form="infix" lspace="0">=</mo>'
    if written is not None and _letters(node):
        sides.append(equals + _lay_out(node, written))
    if result:
        sides.append(f"{equals}<mn>{escape(result)}</mn>")
    return " ".join(f"<math>{side}</math>" for side in sides)


def write(formula: str, written: Mapping[str, str] | None = None, result: str = "") -> str:
    """The formula in one line: in letters = with the values as they are written = the result.

    >>> write("C_s = C_b + C_p / 2", {"C_b": "2 pF", "C_p": "1 pF"}, "2.5 pF")
    'C_s = C_b + C_p / 2 = 2 pF + 1 pF / 2 = 2.5 pF'
    """
    head, node = _read(formula)
    numbers = _in_line(node, written) if written is not None and _letters(node) else ""
    return " = ".join(side for side in (head, _in_line(node, None), numbers, result) if side)


@lru_cache(maxsize=256)
def _read(formula: str) -> tuple[str, _Node]:
    head, equals, text = formula.partition("=")
    tokens, place = [], 0
    while equals and text[place:].strip():
        found = _TOKEN.match(text, place)
        if found is None:
            raise NoFormula(f"{text[place:]!r} cannot be read")
        tokens.append("−" if found[1] == "-" else found[1])
        place = found.end()
    node = _read_level(tokens, 0)
    if tokens:
        raise NoFormula(f"{formula!r} goes on after its end")
    return head.strip(), node


def _read_level(tokens: list[str], level: int) -> _Node:
    """Sums of products of powers; each level reads from the left."""
    if level == len(_SIGNS):
        return _read_power(tokens)
    if level == 0 and tokens[:1] == ["−"]:
        tokens.pop(0)
        node: _Node = _Call("−", _read_level(tokens, 1))
    else:
        node = _read_level(tokens, level + 1)
    while tokens and tokens[0] in _SIGNS[level]:
        node = _Pair(tokens.pop(0), node, _read_level(tokens, level + 1))
    return node


def _read_power(tokens: list[str]) -> _Node:
    base = _read_leaf(tokens)
    if tokens[:1] != ["^"]:
        return base
    tokens.pop(0)
    return _Pair("^", base, _read_leaf(tokens))


def _read_leaf(tokens: list[str]) -> _Node:
    token = tokens.pop(0) if tokens else ""
    if token == "(" or (token in _CALLS and tokens[:1] == ["("]):
        if token != "(":
            tokens.pop(0)
        inner = _read_level(tokens, 0)
        if not tokens or tokens.pop(0) != ")":
            raise NoFormula("a bracket is not closed")
        return inner if token == "(" else _Call(token, inner)
    if not token[:1].isalnum():
        raise NoFormula(f"{token!r} stands where a letter should")
    return _Leaf(token)


def _letters(node: _Node) -> list[str]:
    match node:
        case _Leaf(text):
            return [] if text[0].isdigit() or text == "π" else [text]
        case _Pair():
            return [*_letters(node.left), *_letters(node.right)]
    return _letters(node.inner)


def _reckon(node: _Node, values: Mapping[str, Number]) -> Number:
    match node:
        case _Leaf("π"):
            return math.pi
        case _Leaf(text):
            if text[0].isdigit():
                return Fraction(text)
            if text not in values:
                raise NoFormula(f"{text!r} has no value")
            return values[text]
        case _Call():
            inner = _reckon(node.inner, values)
            return -inner if node.name == "−" else _CALLS[node.name](inner)
    left, right = _reckon(node.left, values), _reckon(node.right, values)
    match node.sign:
        case "+":
            return left + right
        case "−":
            return left - right
        case "×":
            return left * right
        case "/":
            return left / right
    power: Number = left ** int(right)
    return power


def _is_sum(node: _Node) -> bool:
    """Whether brackets stand round it beside a sign: a sum, or what begins with a minus."""
    return (isinstance(node, _Pair) and node.sign in _SIGNS[0]) or (isinstance(node, _Call) and node.name == "−")


def _lay_out(node: _Node, written: Mapping[str, str] | None) -> str:
    match node:
        case _Leaf(text):
            return _leaf(text, written)
        case _Call(name, inner):
            laid = _lay_out(inner, written)
            if name == "−":
                return f'<mo form="prefix">−</mo>{_bracket(laid) if laid.startswith("<mn>−") else laid}'
            return f"<msqrt>{laid}</msqrt>" if name == "sqrt" else f"<mi>ln</mi>{_bracket(laid)}"
    left, right = _lay_out(node.left, written), _lay_out(node.right, written)
    if node.sign == "/":
        return f"<mfrac><mrow>{left}</mrow><mrow>{right}</mrow></mfrac>"
    if node.sign == "^":
        plain = isinstance(node.left, _Leaf) and (written is None or node.left.text not in written)
        return f"<msup>{left if plain else _bracket(left)}{right}</msup>"
    times = node.sign == "×"
    left = _bracket(left) if times and _is_sum(node.left) else left
    below_zero = right.startswith("<mn>−")
    right = _bracket(right) if below_zero or (_is_sum(node.right) and node.sign != "+") else right
    return f"{left}<mo>{node.sign}</mo>{right}"


def _leaf(text: str, written: Mapping[str, str] | None) -> str:
    if text[0].isdigit():
        return f"<mn>{text}</mn>"
    if written is not None and text in written:
        return f"<mn>{escape(written[text])}</mn>"
    return letter(text)


def letter(text: str) -> str:
    """A letter as MathML, what stands below it smaller: `C_0`."""
    above, _, below = text.partition("_")
    return f"<msub><mi>{above}</mi><mi>{below}</mi></msub>" if below else f"<mi>{above}</mi>"


def _bracket(laid: str) -> str:
    return f'<mrow><mo stretchy="false">(</mo>{laid}<mo stretchy="false">)</mo></mrow>'


def _in_line(node: _Node, written: Mapping[str, str] | None) -> str:
    match node:
        case _Leaf(text):
            number = text if written is None else written.get(text, text)
            return f"({number})" if number.startswith("−") else number
        case _Call(name, inner):
            said = _in_line(inner, written)
            return f"−{said}" if name == "−" else f"{name}({said})"
    left, right = _in_line(node.left, written), _in_line(node.right, written)
    if node.sign == "^":
        plain = isinstance(node.left, _Leaf) and (written is None or node.left.text not in written)
        return f"{left if plain else f'({left})'}^{right}"
    product = node.sign in _SIGNS[1]
    left = f"({left})" if product and _is_sum(node.left) else left
    compound = isinstance(node.right, _Pair) and node.right.sign != "^"
    apart = _is_sum(node.right) or (compound and node.sign == "/")
    right = f"({right})" if apart and node.sign != "+" else right
    return f"{left} {node.sign} {right}"
