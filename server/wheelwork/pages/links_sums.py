"""The steps by which a link's error comes about, as equations."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from wheelwork.formulas.rules import lay_out_rule
from wheelwork.judge.link_sums import sums_of
from wheelwork.judge.rates import JudgedLink


@dataclass(frozen=True, slots=True)
class Equation:
    """One step as an equation, and what it is."""

    label: str
    math: Markup


def show_sums(link: JudgedLink) -> tuple[Equation, ...]:
    """The steps from a link's clock to its share of the allowance; none where its rule alone does not give the rate."""
    return tuple(
        Equation(line.label, Markup(lay_out_rule(line.rule, line.values, line.result))) for line in sums_of(link)
    )
