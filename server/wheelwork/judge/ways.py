"""The way of a clock in a judgement, as plain steps for its formula."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from wheelwork.clocks.propagate import factor_of, factors_of
from wheelwork.formulas.ways import Step, Way
from wheelwork.judge.judgement import Judgement
from wheelwork.part.nodes import Divider, Node, Pll, Scaler


def way_of(judgement: Judgement, name: str, detector: bool = False) -> Way:
    """The way from the oscillator down to a running node; a PLL's VCO, or its phase detector."""
    chain = [name]
    while (feeder := judgement.way.feeder.get(chain[-1])) is not None:
        chain.append(feeder)
    chain.reverse()
    nodes = [judgement.part.nodes[each] for each in chain]
    steps = [step for node in nodes for step in _steps(judgement, node)]
    if detector:
        steps = [s for s in steps if s.node != name] + [s for s in steps if s.node == name and s.letter == "R"]
    source = judgement.clocks[chain[0]].nominal
    target = judgement.part.nodes[name].title
    return Way(nodes[0].title, source, tuple(steps), f"{target} phase detector" if detector else target)


def _steps(judgement: Judgement, node: Node) -> Iterator[Step]:
    match node:
        case Divider():
            yield Step("D", factor(judgement, node.id), node.title, node=node.id)
        case Scaler():
            yield Step("M", factor_of(node, judgement.settings), node.title, node=node.id)
        case Pll():
            factors = factors_of(node, judgement.settings)
            yield Step("R", factors.reference_divider, f"{node.title} reference divider", node=node.id)
            yield Step("N", factors.feedback, f"{node.title} feedback multiplier", node=node.id)
            if node.fraction_of > 1:
                yield Step("k", factors.fraction, f"{node.title} fraction", node.fraction_of, node.id)


def factor(judgement: Judgement, key: str) -> Fraction:
    """A ratio setting's value."""
    return Fraction(judgement.settings[key])
