"""The way of a running clock, from its oscillator down, as the plain chain that its formula is made of."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from wheelwork.clocks.propagate import factor_of, factors_of
from wheelwork.formulas import Chain, Factor, Link
from wheelwork.judge.judgement import Judgement
from wheelwork.part.nodes import Divider, Node, Pll, Scaler


def chain_of(judgement: Judgement, name: str) -> Chain:
    """The chain of a node that runs; a PLL's ends at its VCO. Raises KeyError for a node that does not run."""
    source, *below = _nodes_down_to(judgement, name)
    links = tuple(Link(_title(judgement, node), _factors(judgement, node)) for node in below)
    return Chain(source.title, judgement.clocks[source.id].nominal, links)


def detector_chain_of(judgement: Judgement, name: str) -> Chain:
    """The chain of a running PLL that ends at its phase detector."""
    chain = chain_of(judgement, name)
    link = Link(_of_pll(judgement, judgement.part.nodes[name], "phase detector"), chain.links[-1].factors[:1])
    return Chain(chain.source, chain.frequency, (*chain.links[:-1], link))


def _nodes_down_to(judgement: Judgement, name: str) -> list[Node]:
    """The oscillator, what its clock passes through, and the node itself."""
    up = [name]
    while up[-1] != judgement.clocks[name].source:
        up.append(judgement.way.feeder[up[-1]])
    return [judgement.part.nodes[each] for each in reversed(up)]


def _title(judgement: Judgement, node: Node) -> str:
    return _of_pll(judgement, node, "VCO") if isinstance(node, Pll) else node.title


def _of_pll(judgement: Judgement, pll: Node, what: str) -> str:
    """Something of a PLL in words, with the PLL's title before it where the part has several."""
    several = len(list(judgement.part.of_kind(Pll))) > 1
    return f"{pll.title} {what}" if several else what


def _factors(judgement: Judgement, node: Node) -> tuple[Factor, ...]:
    """The factors of a node under the plan; a selector and a load have none."""
    match node:
        case Divider():
            return (Factor("D", Fraction(judgement.settings[node.id]), node.title, node.id),)
        case Scaler():
            return (Factor("S", factor_of(node, judgement.settings), node.title),)
        case Pll():
            return tuple(_pll_factors(judgement, node))
    return ()


def _pll_factors(judgement: Judgement, pll: Pll) -> Iterator[Factor]:
    chosen = factors_of(pll, judgement.settings)
    reference_divider, feedback, fraction, steps = (
        _of_pll(judgement, pll, what)
        for what in ("reference divider", "feedback multiplier", "fraction", "steps of the fraction")
    )
    yield Factor("R", chosen.reference_divider, reference_divider, f"{pll.id}.reference_divider")
    yield Factor("N", chosen.feedback, feedback, f"{pll.id}.feedback")
    if pll.fraction_of > 1:
        yield Factor("k", chosen.fraction, fraction, f"{pll.id}.fraction")
        yield Factor("m", Fraction(pll.fraction_of), steps)
