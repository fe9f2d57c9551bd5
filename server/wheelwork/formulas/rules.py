"""A rule in words, `rate = clock / (oversampling × divisor)`, reckoned with its values and laid out as MathML.

A rule is what is reckoned, an equals sign, and names, numbers, `+ − × /` and brackets; the product goes before the sum.
Rules are our own text; names and values stand only as escaped text, so that the result may go into a page as it is.

>>> values = {"clock": Value(Fraction(1_843_200)), "divisor": Value(Fraction(12)), "oversampling": Value(Fraction(16))}
>>> reckon_rule("rate = clock / (oversampling × divisor)", values)
Fraction(9600, 1)
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from html import escape

from wheelwork.quantities.numbers import MINUS, group, write_exact

_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d+(?:\.\d+)?)|(?P<name>[a-z][a-z0-9_]*(?: [a-z0-9][a-z0-9_]*)*)|(?P<sign>[-−+×·*/÷()]))"
)
_APART = re.compile(rf"[-{MINUS}]|\d+/")
"""What stands in brackets beside a sign: what is below zero, and a fraction."""
EQUALS, NEXT_EQUALS = "<mo>=</mo>", '<mo form="infix" lspace="0">=</mo>'
"""Inside a piece of an equation, and at the head of one; a space stands before that."""
_SAME = {"-": MINUS, "*": "×", "·": "×", "÷": "/"}
_PRODUCTS, _SUMS = ("×", "/"), ("+", MINUS)


@dataclass(frozen=True, slots=True)
class Value:
    """The value of a name in a rule, and how it is written where not as the exact number."""

    value: Fraction
    written: str = ""


@dataclass(frozen=True, slots=True)
class _Leaf:
    """A name or a number of a rule."""

    text: str

    @property
    def key(self) -> str:
        """The name as a setting is named."""
        return self.text.replace(" ", "_")


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two sides of a rule and the sign between them."""

    sign: str
    left: _Node
    right: _Node


_Node = _Leaf | _Pair
Values = Mapping[str, Value]


class NoRule(ValueError):
    """A text that is no rule, or one that names something without a value."""


def reckon_rule(rule: str, values: Values) -> Fraction:
    """What a rule gives, exactly. Raises NoRule."""
    return _reckon(_read(rule)[1], values)


def lay_out_rule(rule: str, values: Values, result: str = "") -> str:
    """A rule as MathML: what is reckoned = in words = in numbers = the result as it is written. Raises NoRule.

    Each side is a piece of its own, for a line breaks between two and never inside one.
    """
    head, node = _read(rule)
    given = {key: _number(value.written) if value.written else _write(value.value) for key, value in values.items()}
    _reckon(node, values)
    sides = [f"{name(head)}{EQUALS}{_lay_out(node, None)}", NEXT_EQUALS + _lay_out(node, given)]
    sides += [NEXT_EQUALS + _number(result)] if result else []
    return " ".join(f"<math>{side}</math>" for side in sides)


def write_rule(rule: str, values: Values, result: str = "") -> str:
    """A rule in one line of text: what is reckoned = in words = in numbers = the result as it is written.

    Raises NoRule.

    >>> values = {"clock": Value(Fraction(8), "8 MHz"), "divisor": Value(Fraction(17, 2))}
    >>> write_rule("rate = clock / divisor", values, "0.941 MHz")
    'rate = clock / divisor = 8 MHz / 8.5 = 0.941 MHz'
    """
    head, node = _read(rule)
    given = {key: value.written or write_exact(value.value) for key, value in values.items()}
    _reckon(node, values)
    return " = ".join(side for side in (head, _in_line(node, None), _in_line(node, given), result) if side)


def _in_line(node: _Node, given: Mapping[str, str] | None) -> str:
    """A side of the equation in one line: in words where nothing is given, else in numbers."""
    if isinstance(node, _Leaf):
        text = node.text if given is None or node.text[0].isdigit() else given[node.key]
        return f"({text})" if _APART.match(text) else text
    left, right = _in_line(node.left, given), _in_line(node.right, given)
    product = node.sign in _PRODUCTS
    left = f"({left})" if product and _is_sum(node.left) else left
    compound = isinstance(node.right, _Pair) and (node.sign == "/" or (product and _is_sum(node.right)))
    right = f"({right})" if compound or (node.sign == MINUS and _is_sum(node.right)) else right
    return f"{left} {node.sign} {right}"


def names_in(rule: str) -> tuple[str, ...]:
    """The names in a rule, each once, as settings are named. Raises NoRule."""
    return tuple(dict.fromkeys(_names(_read(rule)[1])))


def _names(node: _Node) -> list[str]:
    if isinstance(node, _Leaf):
        return [] if node.text[0].isdigit() else [node.key]
    return [*_names(node.left), *_names(node.right)]


@lru_cache(maxsize=256)
def _read(rule: str) -> tuple[str, _Node]:
    head, equals, text = rule.partition("=")
    if not equals:
        raise NoRule(f"{rule!r} has no equals sign")
    tokens = _split(text)
    node = _read_level(tokens, 0)
    if tokens:
        raise NoRule(f"{rule!r} goes on after its end")
    return head.strip(), node


def _split(text: str) -> list[str]:
    tokens, place = [], 0
    while text[place:].strip():
        found = _TOKEN.match(text, place)
        if found is None:
            raise NoRule(f"{text[place:]!r} cannot be read")
        token = found["number"] or found["name"] or found["sign"]
        tokens.append(_SAME.get(token, token))
        place = found.end()
    return tokens


def _read_level(tokens: list[str], level: int) -> _Node:
    """Sums of products of leaves; each level reads from the left."""
    if level == 2:
        return _read_leaf(tokens)
    node = _read_level(tokens, level + 1)
    while tokens and tokens[0] in (_SUMS, _PRODUCTS)[level]:
        node = _Pair(tokens.pop(0), node, _read_level(tokens, level + 1))
    return node


def _read_leaf(tokens: list[str]) -> _Node:
    token = tokens.pop(0) if tokens else ""
    if token == "(":
        node = _read_level(tokens, 0)
        if not tokens or tokens.pop(0) != ")":
            raise NoRule("a bracket is not closed")
        return node
    if not token[:1].isalnum():
        raise NoRule(f"{token!r} stands where a name should")
    return _Leaf(token)


def _reckon(node: _Node, values: Values) -> Fraction:
    if isinstance(node, _Leaf):
        return _value(node, values)
    left, right = _reckon(node.left, values), _reckon(node.right, values)
    if node.sign == "/":
        if right == 0:
            raise NoRule("it divides by nothing")
        return left / right
    return {"×": left * right, "+": left + right, MINUS: left - right}[node.sign]


def _value(leaf: _Leaf, values: Values) -> Fraction:
    if leaf.text[0].isdigit():
        return Fraction(leaf.text)
    if leaf.key not in values:
        raise NoRule(f"{leaf.text!r} has no value")
    return values[leaf.key].value


def _lay_out(node: _Node, given: Mapping[str, str] | None) -> str:
    """A side of the equation: in words where nothing is given, else in numbers."""
    if isinstance(node, _Leaf):
        if node.text[0].isdigit():
            return f"<mn>{node.text}</mn>"
        return name(node.text) if given is None else given[node.key]
    left, right = _lay_out(node.left, given), _lay_out(node.right, given)
    if node.sign == "/":
        return f"<mfrac>{_row(left)}{_row(right)}</mfrac>"
    times = node.sign == "×"
    left = _bracket(left) if times and _is_sum(node.left) else left
    below_zero = right.startswith(f"<mn>{MINUS}")
    right = _bracket(right) if below_zero or ((times or node.sign == MINUS) and _is_sum(node.right)) else right
    return f"{left}<mo>{node.sign}</mo>{right}"


def _is_sum(node: _Node) -> bool:
    return isinstance(node, _Pair) and node.sign in _SUMS


def _bracket(text: str) -> str:
    return f'<mrow><mo stretchy="false">(</mo>{text}<mo stretchy="false">)</mo></mrow>'


def _row(text: str) -> str:
    return f"<mrow>{text}</mrow>"


def name(words: str) -> str:
    """A name as MathML."""
    return f"<mi>{escape(words)}</mi>"


def _number(words: str) -> str:
    """A value as it is to be written, as MathML."""
    return f"<mn>{escape(words)}</mn>"


def _write(value: Fraction) -> str:
    """A number exactly: in digits where they end, else as a fraction."""
    digits = write_exact(abs(value))
    sign = MINUS if value < 0 else ""
    if "/" not in digits:
        whole, point, part = digits.partition(".")
        return f"<mn>{sign}{group(whole)}{point}{part}</mn>"
    above, _, below = digits.partition("/")
    return f"<mfrac><mn>{sign}{group(above)}</mn><mn>{group(below)}</mn></mfrac>"
