"""Every value of every setting of a part, for tests that try all."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from wheelwork.part.nodes import Divider, Oscillator, Part, Pll, Selector


def all_values(part: Part) -> dict[str, list[Any]]:
    """Every setting with every value it may have, the core-voltage step among them."""
    values: dict[str, list[Any]] = {"core_voltage": [step.id for step in part.steps]}
    for node in part.nodes.values():
        match node:
            case Selector():
                values[node.id] = list(node.feeders)
            case Divider():
                values[node.id] = list(node.ratios)
            case Pll():
                values[f"{node.id}.reference_divider"] = list(node.reference_divider)
                values[f"{node.id}.feedback"] = list(node.feedback)
                values[f"{node.id}.fraction"] = [Fraction(k) for k in range(node.fraction_of)]
            case Oscillator() if len(node.choices) > 1:
                values[node.id] = list(node.choices)
    return values
