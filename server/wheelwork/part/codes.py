"""Codes: what firmware writes for a ratio, as a list beside the ratios or as an expression in `ratio`.

>>> read_codes("ratio - 1").code_of(Fraction(4), 3)
3
"""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.findings import Unreadable, quote

FORMS = 'write a list of whole numbers, or an expression in ratio such as "ratio - 1", "ratio / 2" or "log2(ratio)"'
LONGEST = 80

_SIGNS = re.compile(r"(?:\s|ratio\b|log2\b|\d+(?!\w)|[-+*/()])+", re.ASCII)
"""Nothing else is given to the parser, which would warn of some of it on the server's own standard error."""


@dataclass(frozen=True, slots=True)
class Codes:
    """A list of codes in the order of the ratios, or an expression in `ratio`."""

    listed: tuple[int, ...] = ()
    expression: str = ""

    def code_of(self, ratio: Fraction, position: int) -> int:
        """The code for a ratio that stands at a position of its set. Raises Unreadable where it is no whole number."""
        if self.listed:
            return self.listed[position]
        value = _value(ast.parse(self.expression, mode="eval").body, ratio)
        if value.denominator != 1 or value < 0:
            raise Unreadable(
                f"{quote(self.expression)} gives {value} for {ratio}", "a code is a whole number from 0 up"
            )
        return int(value)


def read_codes(given: object) -> Codes:
    """Codes as a sheet writes them. Raises Unreadable for what is no list of whole numbers and no expression."""
    if isinstance(given, list):
        return Codes(listed=read_code_list(given))
    if not isinstance(given, str) or len(given) > LONGEST:
        raise Unreadable(f"{quote(given)} is no list and no expression", FORMS)
    if _SIGNS.fullmatch(given) is None:
        raise Unreadable(f"{quote(given)} holds something that is no sum of ratio", FORMS)
    try:
        body = ast.parse(given.strip(), mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        raise Unreadable(f"{quote(given)} cannot be read", FORMS) from None
    _value(body, Fraction(1))
    return Codes(expression=given.strip())


def read_code_list(given: object) -> tuple[int, ...]:
    """A list of codes, whole numbers from 0 up."""
    if not isinstance(given, list) or not 1 <= len(given) <= 1024:
        raise Unreadable(f"{quote(given)} is no list of codes", "write whole numbers from 0 up: [0, 1, 2]")
    for item in given:
        if isinstance(item, bool) or not isinstance(item, int) or not 0 <= item < 2**64:
            raise Unreadable(f"{quote(item)} is no code", "a code is a whole number from 0 up")
    return tuple(given)


def _value(tree: ast.expr, ratio: Fraction) -> Fraction:
    """The value of an expression: numbers, `ratio`, + - * /, brackets and log2 of a power of two; nothing else."""
    match tree:
        case ast.Name(id="ratio"):
            return ratio
        case ast.Constant(value=int(number)) if not isinstance(number, bool) and abs(number) < 2**64:
            return Fraction(number)
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand, ratio)
        case ast.BinOp(left=left, op=op, right=right):
            return _combine(op, _value(left, ratio), _value(right, ratio))
        case ast.Call(func=ast.Name(id="log2"), args=[argument], keywords=[]):
            return _power_of_two(_value(argument, ratio))
    raise Unreadable("the expression holds something that is no sum of ratio", FORMS)


def _combine(op: ast.operator, left: Fraction, right: Fraction) -> Fraction:
    match op:
        case ast.Add():
            return left + right
        case ast.Sub():
            return left - right
        case ast.Mult():
            return left * right
        case ast.Div() if right != 0:
            return left / right
    raise Unreadable("the expression holds a sign that is not read", FORMS)


def _power_of_two(value: Fraction) -> Fraction:
    if value.denominator != 1 or value < 1 or value.numerator & (value.numerator - 1):
        raise Unreadable(f"log2 of {value} is no whole number", "log2 suits ratios that are powers of two")
    return Fraction(value.numerator.bit_length() - 1)
