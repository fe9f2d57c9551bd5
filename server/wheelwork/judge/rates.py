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


def judge_links(judgement: Judgement) -> tuple[JudgedLink, ...]:
    """Each link of the plan, in its order."""
    return tuple(_judge(judgement, place, link) for place, link in enumerate(judgement.plan.links))


def _judge(judgement: Judgement, place: int, link: Link) -> JudgedLink:
    load = judgement.part.nodes[link.load]
    assert isinstance(load, Load)
    clock = judgement.clocks.get(link.load)
    judged = JudgedLink(
        place=place,
        link=link,
        title=link.name or load.title,
        load=load,
        family=families()[link.family],
        node=load.input,
        clock=clock,
        wanted=say_asked(link),
    )
    if clock is not None:
        feed = Feed(clock.nominal, clock.tolerance)
        told = answer_written(link.family, feed, load.generators[link.family], _text(link.ask), _text(link.chosen))
        judged = replace(judged, answer=told.answer, chosen=told.chosen, problems=told.problems)
    return replace(judged, findings=tuple(findings_of(judged, judgement.part.nodes[load.input].title)))


def _text(table: Any) -> str:
    return json.dumps(dict(table), separators=(",", ":"))


@dataclass(frozen=True, slots=True)
class Told:
    """A family's answer with the plan's own choice, or why it refuses to answer."""

    answer: LinkAnswer | None = None
    chosen: Choice | None = None
    problems: tuple[Problem, ...] = ()


@lru_cache(MOST_KEPT)
def answer_written(family: str, feed: Feed, generator: Any, ask: str, chosen: str) -> Told:
    """A family's answer to what is asked and chosen, both as JSON text; the same asking is answered once."""
    answering = families()[family]
    try:
        asked = answering.read_ask(Fields(json.loads(ask), "ask"))
        answer = answering.answer(feed, generator, asked)
        own = json.loads(chosen)
        return Told(answer, answering.settle(feed, generator, asked, own, "chosen") if own else None)
    except Refused as refused:
        return Told(problems=tuple(refused.problems))


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
        yield Finding(node, "stop", what, f"{problem.allowed}.", link=title)
    if judged.answer is not None:
        feed = f"{clock_title} {say_frequency(judged.clock.nominal)}"
        case = Case(title, node, judged.family, judged.wanted, feed, judged.answer, judged.chosen)
        yield from say_case(case)


def findings_of_answer(
    family: Family[Any, Any], feed: Feed, ask: Mapping[str, Any], answer: LinkAnswer
) -> list[Finding]:
    """The findings on a family's answer without a plan; they stand on no node."""
    wanted, title = say_asked(Link("", "", family.name, ask)), f"{family.title[:1].upper()}{family.title[1:]}"
    return list(say_case(Case(title, "", family, wanted, say_frequency(feed.nominal), answer)))
