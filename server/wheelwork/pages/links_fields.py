"""The fields of the Links page: of an open link, and of one that is being added."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from wheelwork.judge.rate_words import say_allowance
from wheelwork.judge.rates import JudgedLink
from wheelwork.links.families import families, standards_of
from wheelwork.links.family import Family
from wheelwork.pages.controls import Faults, Field, Option
from wheelwork.pages.links_form import NEW, Keys, Raw, keys_of, offered_on, split_link
from wheelwork.pages.links_source import COMMON, OWN, STANDARD, fixed_by, source_of
from wheelwork.pages.links_words import label_of
from wheelwork.part.nodes import Part
from wheelwork.plan.links import Link, write_link
from wheelwork.plan.plan import Plan


@dataclass(frozen=True, slots=True)
class NewLink:
    """The fields of a link that is being added, and what is still missing."""

    fields: tuple[Field, ...]
    missing: str


def link_fields(part: Part, plan: Plan, link: JudgedLink) -> Iterator[Field]:
    """The fields of a link: what is asked of it first, then the allowance, then its name and what it hangs on."""
    head, keys = f"link.{link.place}.", keys_of(link.family, link.link.ask)
    asked = list(_asked_fields(head, link.family, link.link.ask, keys))
    source = _source_field(head, link, keys)
    yield from asked[:1]
    yield from () if source is None else (source,)
    if "allowance" in link.link.ask:
        own = str(link.link.ask["allowance"])
        yield Field(f"{head}allowance", "text", "Own allowance", own, placeholder="like ±2 %")
    yield from asked[1:]
    yield Field(f"{head}name", "text", "Name", link.link.name, placeholder=link.load.title)
    yield _on_field(head, part, plan, write_link(link.link))


def _asked_fields(head: str, family: Family[Any, Any], ask: Mapping[str, Any], keys: Keys) -> Iterator[Field]:
    """A field for each key that can be asked; one that is empty shows what its standard fixes, else an example."""
    fixed = fixed_by(family, str(ask.get("standard", "")))
    for key in keys.typed:
        value = str(ask.get(key, ""))
        if key in keys.words:
            words = keys.words[key]
            options = (*(() if value else (Option("", "not asked", True),)), *(Option(w, w, w == value) for w in words))
            yield Field(f"{head}{key}", "choice", label_of(key), value, options=options)
        else:
            example = fixed.get(key) or EXAMPLES.get(key, "")
            yield Field(f"{head}{key}", "text", label_of(key), value, placeholder=example)


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


def _on_field(head: str, part: Part, plan: Plan, raw: Mapping[str, Any]) -> Field:
    chosen = f"{raw.get('load', '')}/{raw.get('family', '')}"
    options = tuple(Option(value, label, value == chosen) for value, label, _ in offered_on(part, plan))
    return Field(f"{head}on", "choice", "Hangs on", chosen, options=options)


def new_link(part: Part, plan: Plan, draft: Raw, faults: Faults) -> NewLink:
    """The fields of a link that is being added, as they were typed."""
    head = f"link.{NEW}."
    ask, own = split_link(draft)
    family = families().get(str(own.get("family", "")))
    fields = [_on_field(head, part, plan, draft)]
    missing = ""
    if family is not None:
        keys = keys_of(family, ask)
        fields += _asked_fields(head, family, ask, keys)
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
