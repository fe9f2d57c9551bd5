"""The Links page as a whole: what its template gets, built from a judgement and the form as read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from wheelwork.clocks.propagate import Clock
from wheelwork.find.mends import apply_mend
from wheelwork.findings import Finding, Mend, Problem, lower_first
from wheelwork.judge import Judgement
from wheelwork.judge.judgement import reckon
from wheelwork.judge.link_words import say_errors, say_run
from wheelwork.judge.rates import JudgedLink, judge_links
from wheelwork.judge.remarks import amount
from wheelwork.pages.controls import NO_FAULTS, Faults
from wheelwork.pages.links_fields import NewLink, new_link
from wheelwork.pages.links_form import Raw
from wheelwork.pages.links_rows import LinkRow, link_row
from wheelwork.pages.mend_words import MendView, mend_label, name_acts, write_act
from wheelwork.pages.plan_view import SumView, say_temperatures, view_sum
from wheelwork.part.nodes import Load, Part, Selector
from wheelwork.part.outline import outline_of
from wheelwork.plan.plan import Plan
from wheelwork.quantities.spans import say_tolerance, write_temperatures
from wheelwork.quantities.units import say_frequency

Mends = Mapping[int, Mend]
"""The mends of links that do not keep their rate, by their places."""


@dataclass(frozen=True, slots=True)
class LinkGroup:
    """The links that hang on one clock."""

    title: str
    rows: tuple[LinkRow, ...]


@dataclass(frozen=True, slots=True)
class LinkFinding:
    """A finding of a link, with its mend where one is known, and whether its clock can be made a target."""

    severity: str
    glyph: str
    what: str
    detail: str
    place: int
    nearest: bool
    target: bool
    mend: MendView | None = None


@dataclass(frozen=True, slots=True)
class LinksPage:
    """What the Links page's template gets."""

    plan: Plan
    part: Part
    permalink: str
    opened: str
    before: str
    changes: int
    head: str
    line: str
    groups: tuple[LinkGroup, ...]
    findings: tuple[LinkFinding, ...]
    sum: SumView
    open: tuple[int, ...]
    new: NewLink | None
    offers: bool
    """Whether the part has anything that links could hang on."""
    said: str = ""
    focus: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a request asks of the page besides the plan: open rows, faults, a link half typed, where to go."""

    open: tuple[int, ...] = ()
    faults: Faults = NO_FAULTS
    draft: Raw | None = None
    opened: str = ""
    before: str = ""
    changes: int = 0
    said: str = ""
    focus: str = ""
    worker: tuple[str, bool] = ("", False)
    shelf_fault: Problem | None = None


def build_links(judgement: Judgement, permalink: str, wanted: Wanted, mends: Mends) -> LinksPage:
    """The page of a judgement (with its mends), with the mends of its links by their places."""
    part, plan = judgement.part, judgement.plan
    links = judge_links(judgement)
    head = _head(links)
    return LinksPage(
        plan=plan,
        part=part,
        permalink=permalink,
        opened=wanted.opened or permalink,
        before=wanted.before,
        changes=wanted.changes,
        head=head,
        line=_line(judgement, links),
        groups=tuple(_groups(judgement, links, wanted)),
        findings=tuple(_findings(judgement, links, mends)),
        sum=view_sum(judgement, permalink),
        open=wanted.open,
        new=None if wanted.draft is None else new_link(part, plan, wanted.draft, wanted.faults),
        offers=any(load.generators for load in part.loads),
        said=wanted.said,
        focus=wanted.focus,
    )


def _head(links: tuple[JudgedLink, ...]) -> str:
    """The page in a sentence: how many links keep their rate."""
    judged = [link for link in links if link.clock is not None]
    keep = sum(link.keeps for link in judged)
    if not judged:
        return "No link is judged" if links else "No link yet"
    if len(judged) == 1:
        return "The one link keeps its rate" if keep else "The one link does not keep its rate"
    return f"{'All' if keep == len(judged) else f'{keep} of'} {len(judged)} links keep their rate"


def _line(judgement: Judgement, links: tuple[JudgedLink, ...]) -> str:
    """What is counted in an error, and what is not judged."""
    if not links:
        return ""
    span = judgement.plan.temperature
    over = "" if span is None else f", over {say_temperatures(write_temperatures(span))}"
    stopped = sum(link.clock is None for link in links)
    idle = {0: "", 1: " One is not judged: its load is not in use."}.get(
        stopped, f" {stopped} are not judged: their loads are not in use."
    )
    return f"Each error counts the divisor’s own rounding plus the oscillator’s tolerance{over}.{idle}"


def say_sum(judgement: Judgement) -> str:
    """The sentence of sum for those who hear the page."""
    return f"{_head(judge_links(judgement))}."


def _groups(judgement: Judgement, links: tuple[JudgedLink, ...], wanted: Wanted) -> Iterator[LinkGroup]:
    """The links by the clock they hang on, in the order in which the plan first names each clock."""
    by_clock: dict[str, list[JudgedLink]] = {}
    for link in links:
        by_clock.setdefault(clock_of(judgement, link), []).append(link)
    for node, hung in by_clock.items():
        rows = tuple(link_row(judgement, link, wanted.faults if link.place in wanted.open else None) for link in hung)
        yield LinkGroup(_group_title(judgement, node, hung[0].clock), rows)


def clock_of(judgement: Judgement, link: JudgedLink) -> str:
    """The node whose clock a link hangs on: the nearest above its load that is more than a choice; empty: stopped."""
    if link.clock is None:
        return ""
    node = link.link.load
    while isinstance(judgement.part.nodes[node], Load | Selector):
        node = judgement.way.feeder[node]
    return node


def _group_title(judgement: Judgement, node: str, clock: Clock | None) -> str:
    """The head of a group: `From slow bus, 29 MHz ±30 ppm`, and by how much its clock is outside."""
    if clock is None:
        return "Not running"
    judged = judgement.nodes[node]
    outside = f", {amount(judged)}" if judged.outside else ""
    tolerance = "" if clock.lowest == clock.highest else f" {say_tolerance(clock.tolerance)}"
    title = lower_first(judgement.part.nodes[node].title)
    return f"From {title}, {say_frequency(clock.nominal)}{tolerance}{outside}"


def _findings(judgement: Judgement, links: tuple[JudgedLink, ...], mends: Mends) -> Iterator[LinkFinding]:
    """The findings of all links, what stops first."""
    found = [(link, finding) for link in links for finding in link.findings]
    for severity in ("stop", "caution", "note"):
        for link, finding in found:
            if finding.severity == severity:
                told = _finding(link, finding)
                mend = mends.get(link.place) if severity == "stop" and not told.nearest else None
                yield told if mend is None else replace(told, mend=_view_mend(judgement, mend, link.place))


def _view_mend(judgement: Judgement, mend: Mend, place: int) -> MendView:
    """A link's mend in words: the act, what it makes of the link, its button."""
    part, named = judgement.part, name_acts(judgement.part, mend)
    link = judge_links(reckon(part, apply_mend(judgement.plan, mend)))[place]
    said = say_errors(link, link.choice)
    sentence = f"{named} gives {say_run(link, link.choice)}, {said.words}."
    return MendView(named, sentence, mend_label(part, outline_of(part), mend, ""), write_act(mend))


def _finding(link: JudgedLink, finding: Finding) -> LinkFinding:
    stops = finding.severity == "stop"
    glyph = say_errors(link, link.choice).glyph if finding.severity != "note" else "note"
    return LinkFinding(
        severity=finding.severity,
        glyph=glyph,
        what=finding.what,
        detail=finding.detail,
        place=link.place,
        nearest=finding.severity != "note" and nearest_mends(link),
        target=stops and bool(link.choice and link.choice.error),
    )


def nearest_mends(link: JudgedLink) -> bool:
    """Whether the nearest choice keeps the rate where the plan's own does not."""
    order = ("inside", "tight")
    if link.chosen is None or link.answer is None or link.answer.verdict not in order:
        return False
    return link.chosen.verdict not in order or order.index(link.answer.verdict) < order.index(link.chosen.verdict)
