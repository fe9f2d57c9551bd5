"""Mends of a link: the nearest change of one setting with which it keeps its rate, and nothing else comes to harm.

Every ratio, factor and input that could move the link's clock is tried, the nearest values of each first. Harm is a
window, rule, wait state or supply that stops and did not before, or another link that kept its rate and does not any
more. Nearest: least change of the core clock, then of all clocks (the product of each clock's change as a ratio above
1).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from heapq import merge
from itertools import islice

from wheelwork.clocks.propagate import Clock, unfitted
from wheelwork.find.mends import apply_mend
from wheelwork.findings import Mend
from wheelwork.judge import Judgement, judge
from wheelwork.judge.judgement import reckon
from wheelwork.judge.rates import judge_links
from wheelwork.part.graph import upstream
from wheelwork.part.nodes import Divider, Node, Oscillator, Part, Pll, Selector, Value
from wheelwork.quantities.ratios import RatioSet

MOST_VALUES = 4096
"""So many values of one setting are tried, those nearest to where it stands."""

StillTime = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class LinkMend:
    """The nearest mend of a link (None where there is none), and whether all was tried within the time."""

    mend: Mend | None
    finished: bool


def seek_link_mend(judgement: Judgement, place: int, still_time: StillTime) -> LinkMend:
    """The nearest mend of one of a plan's links that does not keep its rate."""
    best: tuple[tuple[Fraction, Fraction], Mend] | None = None
    for key, offered in _settings_above(judgement.part, judgement.plan.links[place].load, judgement):
        for value in islice(offered, MOST_VALUES):
            if not still_time():
                return LinkMend(None if best is None else best[1], False)
            mend = Mend({key: value})
            after = _after(judgement, mend, place)
            if after is not None:
                found = (_change(judgement, after), mend)
                best = found if best is None or found[0] < best[0] else best
                break
    return LinkMend(None if best is None else best[1], True)


def _settings_above(part: Part, load: str, judgement: Judgement) -> Iterator[tuple[str, Iterator[Value]]]:
    """The settings that can move a load's clock, in the sheet's order, each with its other values, nearest first."""
    above = set(upstream(part.nodes, load))
    for name in part.nodes:
        if name in above:
            yield from _values_of(part.nodes[name], judgement)


def _values_of(node: Node, judgement: Judgement) -> Iterator[tuple[str, Iterator[Value]]]:
    settings = judgement.settings
    match node:
        case Divider() if node.id in settings:
            yield node.id, _others(node.ratios, Fraction(settings[node.id]))
        case Selector() if node.id in settings:
            yield node.id, (each for each in node.feeders if each != settings[node.id])
        case Oscillator() if node.id in settings and len(node.choices) > 1:
            yield node.id, (each for each in node.choices if each != settings[node.id])
        case Pll():
            for role, offered in (("reference_divider", node.reference_divider), ("feedback", node.feedback)):
                key = f"{node.id}.{role}"
                yield key, _others(offered, Fraction(settings[key]))


def _others(offered: RatioSet, now: Fraction) -> Iterator[Value]:
    """The other values of a set by the size of the step to them as a ratio, without listing the set."""
    below = ((now / value, value) for value in _walk(offered.below, now))
    above = ((value / now, value) for value in _walk(offered.above, now))
    return (value for _, value in merge(below, above))


def _walk(step: Callable[[Fraction], Fraction | None], start: Fraction) -> Iterator[Fraction]:
    value = step(start)
    while value is not None:
        yield value
        value = step(value)


def _after(judgement: Judgement, mend: Mend, place: int) -> Judgement | None:
    """The judgement with a mend, where the link keeps its rate then and nothing else comes to harm."""
    part, plan = judgement.part, apply_mend(judgement.plan, mend)
    if unfitted(part, plan):
        return None
    alone = judge_links(reckon(part, replace(plan, links=plan.links[place : place + 1])))[0]
    if alone.clock is None or not alone.keeps:
        return None
    after = judge(part, plan)
    links = judge_links(after)
    kept = all(then.keeps for now, then in zip(judge_links(judgement), links, strict=True) if now.keeps)
    return after if kept and _stops(after) <= _stops(judgement) else None


def _stops(judgement: Judgement) -> set[tuple[str, bool]]:
    """Where the part's own limits are passed."""
    stops = (finding for finding in judgement.findings if finding.severity == "stop" and not finding.link)
    return {(finding.node, finding.detector) for finding in stops}


def _change(before: Judgement, after: Judgement) -> tuple[Fraction, Fraction]:
    """How far a change moves the core clock, and all clocks that run before and after."""
    core = before.part.core_clock
    total = Fraction(1)
    for name in before.clocks.keys() & after.clocks.keys():
        total *= _ratio(before.clocks[name], after.clocks[name])
    return _ratio(before.clocks[core], after.clocks[core]), total


def _ratio(one: Clock, other: Clock) -> Fraction:
    ratio = one.nominal / other.nominal
    return max(ratio, 1 / ratio)
