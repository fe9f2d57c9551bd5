"""Links of a plan judged: each wanted rate on the clock that feeds its load, with what the family says of it.

A link that does not keep its rate is a finding that stops and yet leaves the plan legal: `legal` speaks of the part's
own limits (windows, wait states, rules, supply), and a part that runs within them is not at fault for a rate.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from wheelwork.clocks.propagate import Clock
from wheelwork.findings import Finding, Problem
from wheelwork.judge.rate_words import Case, say_case
from wheelwork.links.families import families
from wheelwork.links.family import Allowance, Choice, Family, Feed, LinkAnswer, Verdict
from wheelwork.links.fields import Fields, Refused
from wheelwork.part.nodes import Load
from wheelwork.plan.links import Link, say_asked
from wheelwork.quantities.spans import Window
from wheelwork.quantities.units import say_frequency

if TYPE_CHECKING:
    from wheelwork.judge.judgement import Judgement

LinkVerdict = Literal[Verdict, "stopped"]
MOST_KEPT = 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedLink:
    """A link of a plan with what there is to say about it.

    `place` is its place in the plan's list, `title` its name (its load's title where it has none), `node` the clock
    that feeds its load. `clock` and `answer` are None where the load is stopped; `answer` also where the family
    refuses the asking at this clock, for the reasons in `problems`. `chosen` is the plan's own choice, judged.
    """

    place: int
    link: Link
    title: str
    load: Load
    family: Family[Any, Any]
    node: str
    clock: Clock | None
    wanted: str
    answer: LinkAnswer | None = None
    chosen: Choice | None = None
    problems: tuple[Problem, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def choice(self) -> Choice | None:
        """What counts: the plan's own choice, else the best one."""
        if self.chosen is not None or self.answer is None:
            return self.chosen
        return next(iter(self.answer.choices), None)

    @property
    def verdict(self) -> LinkVerdict:
        """`stopped`, the verdict on the plan's own choice, else the family's."""
        if self.clock is None:
            return "stopped"
        if self.chosen is not None:
            return self.chosen.verdict
        return "none fits" if self.answer is None else self.answer.verdict

    @property
    def allowance(self) -> Allowance | None:
        """How far the rate may be off, as what counts is judged; None where it may be anything, or is not judged."""
        if self.answer is None:
            return None
        return (self.choice and self.choice.allowance) or self.answer.allowance

    @property
    def keeps(self) -> bool:
        """Whether the link keeps its rate; a stopped one is not judged and does not fail."""
        return self.verdict in ("inside", "tight", "stopped")


class Same:
    """A value by which it is looked up as itself: two that only look alike count as two."""

    __slots__ = ("value",)

    def __init__(self, value: Load) -> None:
        self.value = value

    def __hash__(self) -> int:
        return id(self.value)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and other.value is self.value


def judge_links(judgement: Judgement) -> tuple[JudgedLink, ...]:
    """Each link of the plan, in its order; one asked before of the same load at the same clock is not asked again."""
    return tuple(_judge(judgement, place, link) for place, link in enumerate(judgement.plan.links))


def _judge(judgement: Judgement, place: int, link: Link) -> JudgedLink:
    load = judgement.part.nodes[link.load]
    assert isinstance(load, Load)
    clock, title = judgement.clocks.get(link.load), judgement.part.nodes[load.input].title
    return judge_written(place, _write(link), Same(load), clock, title)


def _write(link: Link) -> str:
    return json.dumps([link.name, link.family, dict(link.ask), dict(link.chosen)], separators=(",", ":"))


@lru_cache(MOST_KEPT)
def judge_written(place: int, written: str, load: Same, clock: Clock | None, clock_title: str) -> JudgedLink:
    """A link, as JSON text, judged on the clock of its load; kept, for most changes of a plan move few links."""
    name, family, ask, chosen = json.loads(written)
    link = Link(name, load.value.id, family, ask, chosen)
    judged = JudgedLink(
        place=place,
        link=link,
        title=name or load.value.title,
        load=load.value,
        family=families()[family],
        node=load.value.input,
        clock=clock,
        wanted=say_asked(link),
    )
    if clock is not None:
        judged = _answered(judged, Feed(clock.nominal, clock.tolerance))
    return replace(judged, findings=tuple(findings_of(judged, clock_title)))


def _answered(judged: JudgedLink, feed: Feed) -> JudgedLink:
    """The link with its family's answer and the plan's own choice, or why the family refuses to answer."""
    family, link, generator = judged.family, judged.link, judged.load.generators[judged.family.name]
    try:
        asked = family.read_ask(Fields(link.ask, "ask"))
        answer = family.answer(feed, generator, asked)
        chosen = family.settle(feed, generator, asked, link.chosen, "chosen") if link.chosen else None
    except Refused as refused:
        return replace(judged, problems=tuple(refused.problems))
    return replace(judged, answer=answer, chosen=chosen)


def asks_the_same(judged: JudgedLink, window: Window | None) -> bool:
    """Whether a link holds the clock itself, with nothing set between, to the very edges of its load's window."""
    choice, allowance = judged.choice, judged.allowance
    if window is None or allowance is None or choice is None or choice.settings or judged.clock is None:
        return False
    if choice.error is None or choice.rate is None or choice.rate != judged.clock.nominal:
        return False
    wanted = choice.rate / (1 + choice.error)
    ends = (None if share is None else wanted * (1 + share) for share in (allowance.lowest, allowance.highest))
    return tuple(ends) == (window.lowest, window.highest)


def findings_of(judged: JudgedLink, clock_title: str) -> Iterator[Finding]:
    """What stops, is tight or worth knowing about a link, in words."""
    node, title = judged.link.load, judged.title
    if judged.clock is None:
        what = f"{title} is not judged: {judged.load.title} is not in use."
        yield Finding(node, "note", what, "A rate is judged on a clock that runs.", link=title)
        return
    for problem in judged.problems:
        key = problem.where.removeprefix("ask.").removeprefix("chosen.").replace("_", " ")
        what = f"{title} cannot be met: {key}: {problem.what}."
        yield Finding(node, "stop", what, f"{problem.allowed[:1].upper()}{problem.allowed[1:]}.", link=title)
    if judged.answer is not None:
        feed = f"{clock_title} {say_frequency(judged.clock.nominal)}"
        case = Case(title, node, judged.family, judged.link.ask, judged.wanted, feed, judged.answer, judged.chosen)
        yield from say_case(case)


def findings_of_answer(
    family: Family[Any, Any], feed: Feed, ask: Mapping[str, Any], answer: LinkAnswer
) -> list[Finding]:
    """The findings on a family's answer without a plan; they stand on no node."""
    wanted, title = say_asked(Link("", "", family.name, ask)), f"{family.title[:1].upper()}{family.title[1:]}"
    return list(say_case(Case(title, "", family, ask, wanted, say_frequency(feed.nominal), answer)))
