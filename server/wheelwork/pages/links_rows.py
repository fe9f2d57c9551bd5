"""A link as its row shows it, and what stands under a row that is open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from wheelwork.charts.errors import ErrorPicture
from wheelwork.judge import Judgement
from wheelwork.judge.link_words import say_allowed, say_error, say_errors, say_kind, say_run, say_wanted
from wheelwork.judge.rate_words import say_allowance
from wheelwork.judge.rates import JudgedLink
from wheelwork.links.families import standards_of
from wheelwork.links.family import Choice, Setting, Told
from wheelwork.pages.controls import Faults, Field
from wheelwork.pages.links_fields import link_fields
from wheelwork.pages.links_form import NEAREST
from wheelwork.pages.links_sums import Equation, show_sums
from wheelwork.pages.links_words import name_settings
from wheelwork.quantities.numbers import NO_BREAK_SPACE

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


def link_row(judgement: Judgement, link: JudgedLink, faults: Faults | None) -> LinkRow:
    """A link's row; what stands under it with what cannot be taken of its fields, where it is open (`faults`)."""
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
        opened=None if faults is None else _open(judgement, link, faults),
    )


def settings_view(link: JudgedLink, choice: Choice | None) -> SettingsView | None:
    """A choice's settings for the template of its family; None where nothing is offered."""
    if choice is None:
        return None
    return SettingsView(link.family.name, choice.settings, choice.told, link.load.generators.get(link.family.name))


def _open(judgement: Judgement, link: JudgedLink, faults: Faults) -> OpenLink:
    marked = tuple(faults.mark(field) for field in link_fields(judgement.part, judgement.plan, link))
    sums = show_sums(link)
    choice = Field(f"link.{link.place}.choice", "choice", f"Divisors of {link.title}")
    return OpenLink(
        fields=marked,
        source=_say_source(link),
        choices=tuple(_choices(link)),
        choice_fault=replace(choice, fault=faults.told.get(choice.name, "")),
        sums=sums,
        rule="" if sums else link.family.rule,
        line=_source_line(link),
    )


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
