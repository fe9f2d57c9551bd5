"""Judging a plan, against substituting it into the sympy formulas; mends of a plan with three findings."""

from __future__ import annotations

from collections.abc import Iterator

from tests.bench.measure import median_ms
from tests.demo import load_demo
from wheelwork.clocks.propagate import find_way, propagate
from wheelwork.find.mends import find_mends
from wheelwork.formulas.equations import evaluate, formula
from wheelwork.judge import Judgement, judge
from wheelwork.judge.chains import chain_of

Line = tuple[str, str, str]


def measure() -> Iterator[Line]:
    """The lines of this part of the table."""
    for name, goal in (("01-skerry-3-steady-running", 0.5), ("03-fog-signal-44k1", 0.8), ("05-pier-head-logging", 1.5)):
        yield from _judging(name, goal)
    part, plan = load_demo("06-pier-head-storm-watch")
    took = median_ms(lambda: find_mends(part, plan, lambda: True), rounds=7, inner=1)
    yield "mends of a plan with three findings, large part", f"{took:.0f} ms", "250 ms"


def _judging(name: str, goal: float) -> Iterator[Line]:
    part, plan = load_demo(name)
    took = median_ms(lambda: judge(part, plan))
    yield f"judging, {part.name}, {len(part.nodes)} nodes", f"{took:.2f} ms", f"{goal} ms"
    judgement = judge(part, plan)
    settings = plan.complete(part)
    alone = median_ms(lambda: propagate(part, plan, settings, find_way(part, plan, settings)))
    kept = median_ms(lambda: substitute(judgement), rounds=5, inner=1)
    built = median_ms(lambda: build_and_substitute(judgement), rounds=5, inner=1)
    yield "  its frequencies alone", f"{alone:.2f} ms", ""
    yield "  building and substituting its formulas, as a multiple of judging", f"{built / took:.0f}", "100"
    yield "  the same, as a multiple of its frequencies alone", f"{built / alone:.0f}", ""
    yield "  substituting into formulas kept, as a multiple of its frequencies alone", f"{kept / alone:.0f}", ""


def substitute(judgement: Judgement) -> None:
    """Every running clock by substitution into its sympy formula."""
    for name in judgement.clocks:
        evaluate(chain_of(judgement, name))


def build_and_substitute(judgement: Judgement) -> None:
    """The same with nothing kept from the call before, as one would without this program's own propagation."""
    from sympy.core.cache import clear_cache

    clear_cache()
    formula.cache_clear()
    substitute(judgement)
