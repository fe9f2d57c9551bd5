"""The way of a running clock, from its oscillator down, as the plain chain that its formula is made of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from wheelwork.clocks.propagate import factor_of, factors_of
from wheelwork.formulas import Chain, Factor, Link
from wheelwork.judge.judgement import Judgement
from wheelwork.part.nodes import Divider, Node, Part, Pll, Scaler


def chain_of(judgement: Judgement, name: str) -> Chain:
    """The chain of a node that runs; a PLL's ends at its VCO. Raises KeyError for a node that does not run.

    What only passes its clock on, a selector, is left out above the node itself.
    """
    source, *below = _nodes_down_to(judgement, name)
    links = (Link(_title(judgement, node), tuple(_factors(judgement, node, below))) for node in below)
    kept = [link for node, link in zip(below, links, strict=True) if link.factors or node.id == name]
    return Chain(source.title, judgement.clocks[source.id].nominal, tuple(kept))


def detector_chain_of(judgement: Judgement, name: str) -> Chain:
    """The chain of a running PLL that ends at its phase detector."""
    chain = chain_of(judgement, name)
    link = Link(_name(judgement.part, name, "phase detector"), chain.links[-1].factors[:1])
    return Chain(chain.source, chain.frequency, (*chain.links[:-1], link))


def _nodes_down_to(judgement: Judgement, name: str) -> list[Node]:
    """The oscillator, what its clock passes through, and the node itself."""
    up = [name]
    while up[-1] != judgement.clocks[name].source:
        up.append(judgement.way.feeder[up[-1]])
    return [judgement.part.nodes[each] for each in reversed(up)]


def _title(judgement: Judgement, node: Node) -> str:
    return _name(judgement.part, node.id, "VCO") if isinstance(node, Pll) else node.title


def _name(part: Part, pll: str, what: str) -> str:
    """Something of a PLL in words, with the PLL's title before it where the part has several."""
    several = len(list(part.of_kind(Pll))) > 1
    return f"{part.nodes[pll].title} {what}" if several else what


def _factors(judgement: Judgement, node: Node, below: Sequence[Node]) -> Iterator[Factor]:
    """The factors of a node under the plan; a selector and a load have none."""
    match node:
        case Divider():
            yield Factor("D", Fraction(judgement.settings[node.id]), node.title, node.id)
        case Scaler():
            yield Factor("S", factor_of(node, judgement.settings), node.title)
        case Pll():
            several = sum(isinstance(each, Pll) for each in below) > 1
            yield from _pll_factors(judgement, node, f"{node.title} " if several else "")


def _pll_factors(judgement: Judgement, pll: Pll, whose: str) -> Iterator[Factor]:
    chosen = factors_of(pll, judgement.settings)
    yield Factor("R", chosen.reference_divider, f"{whose}reference divider", f"{pll.id}.reference_divider")
    yield Factor("N", chosen.feedback, f"{whose}feedback multiplier", f"{pll.id}.feedback")
    if pll.fraction_of > 1:
        yield Factor("k", chosen.fraction, f"{whose}fraction", f"{pll.id}.fraction")
        yield Factor("m", Fraction(pll.fraction_of), f"{whose}fraction steps")
