"""The codes that firmware writes for the settings of a plan, where the sheet has them."""

from __future__ import annotations

from fractions import Fraction

from wheelwork.findings import Unreadable
from wheelwork.judge import Judgement
from wheelwork.part.nodes import Divider, Oscillator, Pll, Selector


def code_of(judgement: Judgement, key: str) -> int | None:
    """The code of a setting by its key (`core`, `main.feedback`, `core_source`); None where the sheet has none.

    Raises Unreadable where the sheet's codes have no whole number for it.
    """
    name, _, factor = key.partition(".")
    node, value = judgement.part.nodes[name], judgement.settings.get(key)
    match node:
        case Selector() if node.codes and isinstance(value, str):
            return node.codes[node.inputs.index(value)]
        case Divider() if node.codes is not None and isinstance(value, Fraction):
            return node.codes.code_of(value, node.ratios.position(value))
        case Pll() if factor in node.codes and isinstance(value, Fraction):
            offered = {"reference_divider": node.reference_divider, "feedback": node.feedback}.get(factor)
            try:
                return node.codes[factor].code_of(value, offered.position(value) if offered else int(value))
            except IndexError:  # a fraction's list is not held against all that it may be
                raise Unreadable(f"{value} has no code", "the list of codes ends before it") from None
        case Oscillator():
            return None
    return None
