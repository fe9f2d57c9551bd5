"""A rule taken apart into one product over another, for whoever checks it in whole numbers.

>>> take_apart("rate = clock / (prescaler × (1 + segment 1 + segment 2))")
Quotient(above=(('clock',),), below=(('prescaler',), ('1', 'segment_1', 'segment_2')))
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from wheelwork.formulas.rules import NoRule, _Leaf, _Node, _Pair, _read

Sum = tuple[str, ...]
"""What is added up: names as settings are named, and numbers."""


@dataclass(frozen=True, slots=True)
class Quotient:
    """A product of sums above the stroke, and one below."""

    above: tuple[Sum, ...]
    below: tuple[Sum, ...]


@lru_cache(maxsize=256)
def take_apart(rule: str) -> Quotient:
    """A rule as a quotient of products. Raises NoRule for a text that is none, and for a rule that is no quotient."""
    return _quotient(_read(rule)[1])


def _quotient(node: _Node) -> Quotient:
    if isinstance(node, _Leaf) or node.sign not in ("×", "/"):
        return Quotient((_sum(node),), ())
    left, right = _quotient(node.left), _quotient(node.right)
    if node.sign == "/":
        right = Quotient(right.below, right.above)
    return Quotient((*left.above, *right.above), (*left.below, *right.below))


def _sum(node: _Node) -> Sum:
    if isinstance(node, _Leaf):
        return (node.key,)
    if isinstance(node, _Pair) and node.sign == "+":
        return (*_sum(node.left), *_sum(node.right))
    raise NoRule("it is no quotient of products")
