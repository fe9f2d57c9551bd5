"""The Links page as a whole: what its template gets, built from a judgement and the form as read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from wheelwork.charts.errors import ErrorPicture
from wheelwork.clocks.propagate import Clock
from wheelwork.find.mends import apply_mend
from wheelwork.findings import Finding, Mend, lower_first
from wheelwork.judge import Judgement
from wheelwork.judge.judgement import reckon
from wheelwork.judge.link_words import say_allowed, say_error, say_errors, say_kind, say_run, say_wanted
from wheelwork.judge.rate_words import say_allowance
from wheelwork.judge.rates import JudgedLink, judge_links
from wheelwork.judge.remarks import amount
from wheelwork.links.families import families, standards_of
from wheelwork.links.family import Choice, Setting, Told
from wheelwork.pages.controls import NO_FAULTS, Faults, Field, Option
from wheelwork.pages.links_form import NEAREST, NEW, Keys, Raw, keys_of, offered_on, split_link
from wheelwork.pages.links_source import COMMON, OWN, STANDARD, source_of
from wheelwork.pages.links_sums import Equation, show_sums
from wheelwork.pages.links_words import label_of, name_settings
from wheelwork.pages.mend_words import MendView, mend_label, name_acts, write_act
from wheelwork.pages.plan_view import SumView, say_temperatures, view_sum
from wheelwork.part.nodes import Load, Part, Selector
from wheelwork.part.outline import outline_of
from wheelwork.plan.links import Link, write_link
from wheelwork.plan.plan import Plan
from wheelwork.quantities.numbers import NO_BREAK_SPACE
from wheelwork.quantities.spans import say_tolerance, write_temperatures
from wheelwork.quantities.units import say_frequency

Mends = Mapping[int, Mend]
"""The mends of links that do not keep their rate, by their places."""
MOST_NEAREST = 5
"""So many of the choices that come nearest stand in an open row."""


@dataclass(frozen=True, slots=True)
class SettingsView:
    """A choice's settings for the template of its family: what it sets, what follows, what the hardware offers."""

    family: str
    settings: Mapping[str, Setting]
    told: Mapping[str, Told]
    offers: Any


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """One of the choices that come nearest: a radio row with its own verdict."""

    value: str
    ticked: bool
    settings: SettingsView | None
    rate: str
    error: str
    glyph: str
    words: str


@dataclass(frozen=True, slots=True)
class OpenLink:
    """What stands under a row that is open: its fields, the choices that come nearest, how its error comes about."""

    fields: tuple[Field, ...]
    source: str
    choices: tuple[ChoiceView, ...]
    choice_fault: Field
    sums: tuple[Equation, ...]
    rule: str
    line: str


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A link as its row shows it."""

    place: int
    title: str
    kind: str
    wanted: str
    settings: SettingsView | None
    fixed: bool
    rate: str
    error: str
    with_tolerance: str
    picture: ErrorPicture | None
    mark: str
    verdict: str
    glyph: str
    words: str
    allowed: str
    spoken: str
    opened: OpenLink | None = None


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
class NewLink:
    """The fields of a link that is being added, and what is still missing."""

    fields: tuple[Field, ...]
    missing: str


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
        new=None if wanted.draft is None else _new_link(part, plan, wanted.draft, wanted.faults),
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
        rows = tuple(_row(judgement, link, wanted) for link in hung)
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


def _row(judgement: Judgement, link: JudgedLink, wanted: Wanted) -> LinkRow:
    choice = link.choice
    said = say_errors(link, choice)
    allowed = say_allowed(link)
    return LinkRow(
        place=link.place,
        title=link.title,
        kind=say_kind(link),
        wanted=say_wanted(link),
        settings=settings_view(link, choice),
        fixed=bool(link.link.chosen),
        rate=say_run(link, choice),
        error=said.error,
        with_tolerance=said.with_tolerance,
        picture=said.picture,
        mark=said.mark,
        verdict=said.verdict,
        glyph=said.glyph,
        words=said.words,
        allowed=allowed,
        spoken=", ".join(filter(None, (f"{link.title}: error {said.error}", allowed, said.words))),
        opened=_open(judgement, link, wanted) if link.place in wanted.open else None,
    )


def settings_view(link: JudgedLink, choice: Choice | None) -> SettingsView | None:
    """A choice's settings for the template of its family; None where nothing is offered."""
    if choice is None:
        return None
    return SettingsView(link.family.name, choice.settings, choice.told, link.load.generators.get(link.family.name))


def _open(judgement: Judgement, link: JudgedLink, wanted: Wanted) -> OpenLink:
    raw = write_link(link.link)
    keys = keys_of(link.family, link.link.ask)
    marked = tuple(wanted.faults.mark(field) for field in _fields(judgement, link, raw, keys))
    sums = show_sums(link)
    choice = Field(f"link.{link.place}.choice", "choice", f"Divisors of {link.title}")
    return OpenLink(
        fields=marked,
        source=_say_source(link),
        choices=tuple(_choices(link)),
        choice_fault=replace(choice, fault=wanted.faults.told.get(choice.name, "")),
        sums=sums,
        rule="" if sums else link.family.rule,
        line=_source_line(link),
    )


def _fields(judgement: Judgement, link: JudgedLink, raw: Raw, keys: Keys) -> Iterator[Field]:
    """The fields of a link: what is asked of it first, then the allowance, then its name and what it hangs on."""
    head = f"link.{link.place}."
    asked = list(_asked_fields(head, link.link.ask, keys))
    source = _source_field(head, link, keys)
    yield from asked[:1]
    yield from () if source is None else (source,)
    if "allowance" in link.link.ask:
        own = str(link.link.ask["allowance"])
        yield Field(f"{head}allowance", "text", "Own allowance", own, placeholder="like ±2 %")
    yield from asked[1:]
    yield Field(f"{head}name", "text", "Name", link.link.name, placeholder=link.load.title)
    yield _on_field(head, judgement.part, judgement.plan, raw)


def _asked_fields(head: str, ask: Mapping[str, Any], keys: Keys) -> Iterator[Field]:
    for key in keys.typed:
        value = str(ask.get(key, ""))
        if key in keys.words:
            words = keys.words[key]
            options = (*(() if value else (Option("", "not asked", True),)), *(Option(w, w, w == value) for w in words))
            yield Field(f"{head}{key}", "choice", label_of(key), value, options=options)
        else:
            yield Field(f"{head}{key}", "text", label_of(key), value, placeholder=EXAMPLES.get(key, ""))


EXAMPLES = {
    "rate": "like 115200 Bd",
    "sample_rate": "like 48 kHz",
    "at_most": "like 8 MHz",
    "period": "like 1 ms",
    "frame": "8N1",
    "time_out": "like 2 s",
    "sample_point": "like 87.5 %",
    "data_rate": "like 2 Mbit/s",
    "data_sample_point": "like 75 %",
    "source_resistance": "like 10 kΩ",
}
"""What may stand in a field, by what is asked there."""


def _source_field(head: str, link: JudgedLink, keys: Keys) -> Field | None:
    """Where the allowance comes from: what is usual, a standard of the family, the link's own."""
    chosen = source_of(link.link.ask)
    options = [Option(value, label, value == chosen) for value, label in _sources(link, keys)]
    if len(options) < 2:
        return None
    return Field(f"{head}from", "choice", "Allowance and standard", chosen, options=tuple(options))


def _sources(link: JudgedLink, keys: Keys) -> Iterator[tuple[str, str]]:
    present = "" if link.allowance is None else say_allowance(link.allowance)
    chosen, ask = source_of(link.link.ask), dict(link.link.ask)
    plain = {key: value for key, value in ask.items() if key not in ("standard", "allowance")}
    if chosen == COMMON or "rate" in keys.names or not keys_of(link.family, plain).problems:
        yield COMMON, f"{present}, usual" if chosen == COMMON and present else "what is usual"
    known = standards_of(link.family.name)
    for name in link.family.standards if "standard" in keys.names else ():
        standard = known.get(name)
        allowance = None if standard is None or standard.allowance is None else say_allowance(standard.allowance)
        title = name if standard is None else standard.title
        yield f"{STANDARD}{name}", f"{allowance}, {title}" if allowance else title
    if "allowance" in keys.names:
        yield OWN, f"{present}, its own" if chosen == OWN and present else "an allowance of its own"


def _say_source(link: JudgedLink) -> str:
    return "" if link.allowance is None else link.allowance.source


def _source_line(link: JudgedLink) -> str:
    """Who says how far the rate may be off, and the standard's line; a figure that the line tells is not told again."""
    standard = standards_of(link.family.name).get(str(link.link.ask.get("standard", "")))
    line = "" if standard is None or not standard.line else f"{standard.title}: {standard.line}."
    if link.allowance is None:
        return line
    allowed = say_allowance(link.allowance)
    if allowed.removeprefix("±") in line.replace(" ", NO_BREAK_SPACE):
        return f"{line} Source: {link.allowance.source}."
    return f"{line} Allowance {allowed}: {link.allowance.source}.".strip()


def _on_field(head: str, part: Part, plan: Plan, raw: Mapping[str, Any]) -> Field:
    chosen = f"{raw.get('load', '')}/{raw.get('family', '')}"
    options = tuple(Option(value, label, value == chosen) for value, label, _ in offered_on(part, plan))
    return Field(f"{head}on", "choice", "Hangs on", chosen, options=options)


def _choices(link: JudgedLink) -> Iterator[ChoiceView]:
    """The choices that come nearest, that of the plan among them; before them, that the nearest always counts.

    None where there is nothing to set.
    """
    if link.answer is None or not any(choice.settings for choice in link.answer.choices):
        return
    ours = None if link.chosen is None else name_settings(link.chosen.settings)
    yield ChoiceView(NEAREST, ours is None, None, "", "", "", "")
    shown = list(link.answer.choices[:MOST_NEAREST])
    if link.chosen is not None and ours not in [name_settings(choice.settings) for choice in shown]:
        shown.append(link.chosen)
    for choice in shown:
        value, said = name_settings(choice.settings), say_errors(link, choice)
        error = "–" if choice.error is None else say_error(choice.error)
        runs = say_run(link, choice)
        yield ChoiceView(value, value == ours, settings_view(link, choice), runs, error, said.glyph, said.short)


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


def _new_link(part: Part, plan: Plan, draft: Raw, faults: Faults) -> NewLink:
    """The fields of a link that is being added, as they were typed."""
    head = f"link.{NEW}."
    ask, own = split_link(draft)
    family = families().get(str(own.get("family", "")))
    fields = [_on_field(head, part, plan, draft)]
    missing = ""
    if family is not None:
        keys = keys_of(family, ask)
        fields += _asked_fields(head, ask, keys)
        if family.standards and "standard" in keys.names:
            fields.insert(1, _standard_field(head, family.standards, family.name, str(ask.get("standard", ""))))
        missing = next((problem.allowed for problem in keys.problems if problem.what == "is missing"), "")
    fields.append(Field(f"{head}name", "text", "Name", str(own.get("name", "")), placeholder="name of the link"))
    return NewLink(tuple(faults.mark(field) for field in fields), missing)


def _standard_field(head: str, names: tuple[str, ...], family: str, chosen: str) -> Field:
    known = standards_of(family)
    named = [(f"{STANDARD}{name}", known[name].title if name in known else name) for name in names]
    value = f"{STANDARD}{chosen}" if chosen else COMMON
    options = tuple(Option(each, label, each == value) for each, label in ((COMMON, "none"), *named))
    return Field(f"{head}from", "choice", "Standard", value, options=options)


def first_on(part: Part, plan: Plan) -> str:
    """What a link that is being added hangs on at first: a generator in use that bears no link yet, else any."""
    offered = [value for value, _, _ in offered_on(part, plan)]
    taken = {_on(link) for link in plan.links}
    return next((value for value in offered if value not in taken), offered[0] if offered else "")


def _on(link: Link) -> str:
    return f"{link.load}/{link.family}"
