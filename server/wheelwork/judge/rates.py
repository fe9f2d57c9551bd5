"""Links of a plan judged: each wanted rate on the clock that feeds its load, with what the family says of it.

A link that does not keep its rate is a finding that stops and yet leaves the plan legal: `legal` speaks of the part's
own limits (windows, wait states, rules, supply), and a part that runs within them is not at fault for a rate.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from wheelwork.clocks.propagate import Clock
from wheelwork.findings import Finding, Problem
from wheelwork.links.families import families
from wheelwork.links.family import Allowance, Choice, Family, Feed, LinkAnswer, Verdict
from wheelwork.links.fields import Fields, Refused
from wheelwork.part.nodes import Load
from wheelwork.plan.links import Link, say_asked
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_cut, write_exact
from wheelwork.quantities.spans import Span, say_tolerance
from wheelwork.quantities.units import SHARE, TIME, pick_unit, say_frequency, say_quantity

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
        """How far the rate may be off; None where it may be anything, or is not judged."""
        return None if self.answer is None else self.answer.allowance

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
    if judged.clock is None:
        yield _finding(judged, "note", f"{judged.title} is not judged: {judged.load.title} is not in use.", "")
        return
    yield from _refusals(judged)
    choice = judged.choice
    feed = f"{clock_title} {say_frequency(judged.clock.nominal)}"
    if judged.verdict in ("over", "under", "none fits") and judged.answer is not None:
        yield _finding(judged, "stop", _say_miss(judged, choice), _detail(judged, choice, feed))
    elif judged.verdict == "tight" and choice is not None:
        yield _finding(judged, "caution", _say_tight(judged, choice), _detail(judged, choice, feed))
    for remark in judged.answer.remarks if judged.answer is not None else ():
        yield _finding(judged, remark.severity, f"{judged.title}: {remark.what}", remark.detail)


def _finding(judged: JudgedLink, severity: Any, what: str, detail: str) -> Finding:
    return Finding(judged.link.load, severity, what, detail, link=judged.title)


def _refusals(judged: JudgedLink) -> Iterator[Finding]:
    for problem in judged.problems:
        key = problem.where.removeprefix("ask.").removeprefix("chosen.").replace("_", " ")
        yield _finding(judged, "stop", f"{judged.title} cannot be met: {key}: {problem.what}.", f"{problem.allowed}.")


def _say_miss(judged: JudgedLink, choice: Choice | None) -> str:
    if choice is None:
        return f"{judged.title} cannot be met: the generator offers nothing near it."
    if choice.error is None:
        return f"{judged.title} cannot keep what is asked: {judged.wanted}."
    if judged.chosen is None:
        return f"{judged.title} cannot be met: the nearest is {say_off(choice.error, judged.family)}."
    return f"{judged.title} is {say_off(choice.error, judged.family)}."


def _say_tight(judged: JudgedLink, choice: Choice) -> str:
    worst = max((choice.error_lowest, choice.error_highest), key=lambda each: abs(each or 0)) or Fraction(0)
    reach = say_off(worst, judged.family).replace(" by ", " by up to ")
    return f"{judged.title}: with its clock's tolerance {reach}, past what is allowed."


def say_off(error: Fraction, family: Family[Any, Any]) -> str:
    """An error in words: `slow by 3.33 %`, of times `long by 200 ppm`; `exact`."""
    if error == 0:
        return "exact"
    fast, slow = ("long", "short") if family.rate_unit == "s" else ("fast", "slow")
    return f"{fast if error > 0 else slow} by {say_quantity(abs(error), SHARE)}"


def _detail(judged: JudgedLink, choice: Choice | None, feed: str) -> str:
    """The quiet line: what it runs at, what is wanted from which clock, the allowance and its source, what is better."""
    runs = "" if choice is None or choice.rate is None else f"{say_rate(choice.rate, judged.family)} "
    told = f"{runs}where {judged.wanted} is wanted, from {feed}"
    if judged.allowance is not None:
        told += f"; allowed {say_allowance(judged.allowance)} ({judged.allowance.source})"
    return f"{told}.{_better(judged)}"


def _better(judged: JudgedLink) -> str:
    """The best choice, where the plan has chosen one that does not keep its rate and the best does."""
    if judged.chosen is None or judged.answer is None or judged.answer.verdict not in ("inside", "tight"):
        return ""
    if judged.chosen.verdict == "tight" and judged.answer.verdict == "tight":
        return ""
    return f" The best keeps it: {say_settings(judged.answer.choices[0])}."


def say_settings(choice: Choice) -> str:
    """A choice's settings in words: `oversampling 16, divisor 251/16`."""
    return ", ".join(f"{key.replace('_', ' ')} {_say_value(value)}" for key, value in choice.settings.items())


def _say_value(value: Any) -> str:
    if isinstance(value, Fraction):
        return write_exact(value)
    return "–" if value is None else str(value)


def say_rate(rate: Fraction, family: Family[Any, Any]) -> str:
    """A rate in its family's unit with three decimals, cut with `…`; a time in the unit that suits it."""
    if family.rate_unit != "s":
        return f"{write_cut(rate, 3)}{NO_BREAK_SPACE}{family.rate_unit}"
    unit = pick_unit(rate, TIME)
    return f"{write_cut(rate / TIME.units[unit], 3)}{NO_BREAK_SPACE}{unit}"


def say_allowance(allowance: Allowance) -> str:
    """An allowance in words: `±2 %`, `at most what is asked`, `up to +50 ppm`."""
    low, high = allowance.lowest, allowance.highest
    if low is not None and high is not None:
        return say_tolerance(Span(low, high))
    if low is None and high is None:
        return "anything"
    if high is not None:
        return "at most what is asked" if high == 0 else f"up to {_signed(high)}"
    return "at least what is asked" if low == 0 else f"from {_signed(low or Fraction(0))}"


def _signed(share: Fraction) -> str:
    return ("+" if share > 0 else "") + say_quantity(share, SHARE)
