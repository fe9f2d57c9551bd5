"""The posted form of the Links page: what is typed of each open link, and of one to be added, to a plan."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from wheelwork.findings import Problem
from wheelwork.judge.link_words import APART
from wheelwork.links.families import families
from wheelwork.links.family import Family
from wheelwork.links.fields import Fields, Refused
from wheelwork.pages.controls import Faults
from wheelwork.pages.links_source import say_gave_way, take_source
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan

NEAREST = "nearest"
"""The choice of no divisors: always the nearest."""
NEW = "new"
"""The place of a link that is being added, in the names of its fields."""

Raw = dict[str, Any]


@dataclass(frozen=True, slots=True)
class LinksRead:
    """A form that was read: the plan with the links that could be taken, what could not, and a link half typed."""

    plan: Plan
    faults: Faults
    problems: tuple[Problem, ...] = ()
    draft: Raw | None = None
    """What was typed of a link that is not in the plan yet."""
    added: int | None = None
    """The place of a link that has just become one of the plan's."""
    gave_way: str = ""
    """What of a link gave way to what was changed, in words."""


@dataclass(frozen=True, slots=True)
class Keys:
    """What a family can be asked: its keys in their order, the words where only some may stand, what is still wrong."""

    names: tuple[str, ...]
    words: Mapping[str, tuple[str, ...]]
    problems: tuple[Problem, ...] = ()

    @property
    def typed(self) -> tuple[str, ...]:
        """The keys that have a field of their own."""
        return tuple(name for name in self.names if name not in APART)


def keys_of(family: Family[Any, Any], ask: Mapping[str, Any]) -> Keys:
    """What a family can be asked beside what it is asked; it tells by reading."""
    fields = Fields(ask, "ask")
    try:
        family.read_ask(fields)
    except Refused as refused:
        return Keys(tuple(dict.fromkeys(fields.known)), fields.offered, tuple(refused.problems))
    return Keys(tuple(dict.fromkeys(fields.known)), fields.offered)


def split_link(raw: Mapping[str, Any]) -> tuple[Raw, Raw]:
    """A link as it is written: what is asked of it, and the rest."""
    own = {key: raw[key] for key in ("name", "load", "family", "chosen") if key in raw}
    return {key: value for key, value in raw.items() if key not in own}, own


def read_links_form(part: Part, before: Plan, fields: Mapping[str, str]) -> LinksRead:
    """The form against the plan it started from. A link that cannot be taken stays as it was; typed text is kept."""
    shown = write_plan(before, part)
    links = list(shown.get("link", []))
    typed, told, problems, gave_way = dict[str, str](), dict[str, str](), list[Problem](), list[str]()
    for place in range(len(links)):
        given = _typed_at(fields, str(place))
        if not given:
            continue
        link, found = _try(part, shown, links, place, given)
        gave_way.append(say_gave_way(links[place], link, given))
        links[place] = link
        problems += found
        for problem in found:
            told[field_at(problem, place, given)] = f"{problem.what}; {problem.allowed}"
        if found:
            typed |= {f"link.{place}.{key}": text for key, text in given.items()}
    plan = _read(part, shown, links) or before
    read = LinksRead(plan, Faults(typed, told), tuple(problems), gave_way=" ".join(filter(None, gave_way)))
    return _add(part, shown, links, read, _typed_at(fields, NEW))


def _typed_at(fields: Mapping[str, str], place: str) -> dict[str, str]:
    """The fields of one link, by what they ask."""
    head = f"link.{place}."
    return {name.removeprefix(head): text for name, text in fields.items() if name.startswith(head)}


def _read(part: Part, shown: Mapping[str, Any], links: list[Raw]) -> Plan | None:
    return read_plan({**shown, "link": links}, part)[0]


def _try(part: Part, shown: Raw, links: list[Raw], place: int, given: Mapping[str, str]) -> tuple[Raw, list[Problem]]:
    """A link as it is typed, where the plan can be read with it; else as it was, with what is wrong.

    A number without a unit is read as a count where its text cannot be taken.
    """
    first: list[Problem] = []
    for counts in (False, True):
        link = overlay(links[place], given, counts)
        if link == links[place]:
            break
        plan, found = read_plan({**shown, "link": [*links[:place], link, *links[place + 1 :]]}, part)
        if plan is not None:
            return link, []
        first = first or [problem for problem in found if problem.where.startswith(f"link.{place}.")] or found
    return links[place], first


def overlay(raw: Mapping[str, Any], given: Mapping[str, str], counts: bool = False) -> Raw:
    """A link with what was typed laid over it. Of another family it keeps what that can be asked too."""
    ask, own = split_link(raw)
    _set(own, "name", given.get("name", own.get("name", "")))
    load, _, name = given.get("on", f"{own.get('load', '')}/{own.get('family', '')}").partition("/")
    if (load, name) != (own.get("load"), own.get("family")):
        own.pop("chosen", None)
    family = families().get(name)
    if family is not None and name != own.get("family"):
        known = keys_of(family, {}).names
        ask = {key: value for key, value in ask.items() if key in known and key != "standard"}
    elif family is not None:
        ask = dict(_ask(family, ask, given, counts))
    own |= {"load": load, "family": name}
    _choose(own, given.get("choice"))
    return {**{key: own[key] for key in ("name", "load", "family") if key in own}, **ask, **_chosen(own)}


def _chosen(own: Mapping[str, Any]) -> Raw:
    return {"chosen": own["chosen"]} if own.get("chosen") else {}


def _set(table: Raw, key: str, text: str) -> None:
    table.pop(key, None)
    if text.strip():
        table[key] = text.strip()


def _ask(family: Family[Any, Any], ask: Raw, given: Mapping[str, str], counts: bool) -> Iterator[tuple[str, Any]]:
    """What is asked, with what was typed and where the allowance is to come from."""
    asked = dict(ask)
    for key in given:
        if key not in ("name", "on", "choice", "from", *APART) and given[key].strip() != str(ask.get(key, "")):
            text = given[key].strip()
            asked[key] = int(text) if counts and text.isdecimal() and len(text) < 10 else text
    asked = take_source(family, ask, asked, given)
    return ((key, value) for key, value in asked.items() if value != "")


def _choose(own: Raw, choice: str | None) -> None:
    """The divisors of the radio row that is ticked; none where the nearest shall always count."""
    if choice is None:
        return
    own.pop("chosen", None)
    if choice != NEAREST:
        own["chosen"] = read_choice(choice)


def read_choice(text: str) -> Any:
    """The settings that a choice's value names; what is none is left for the reader of the plan to tell."""
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return text[:200]


def field_at(problem: Problem, place: int | str, given: Mapping[str, str]) -> str:
    """The field at which a link's problem stands."""
    head = f"link.{place}."
    key = problem.where.removeprefix(head) if problem.where.startswith(head) else problem.where.rpartition(".")[2]
    key = key.partition(".")[0]
    key = {"load": "on", "family": "on", "chosen": "choice", "standard": "from"}.get(key, key)
    if key == "from" or key in given:
        return head + key
    return head + next((each for each in given if each not in ("name", "on")), "on")


def _add(part: Part, shown: Raw, links: list[Raw], read: LinksRead, given: Mapping[str, str]) -> LinksRead:
    """The link that is being added joins the plan once it can be read with it."""
    if not given:
        return read
    draft = {key: value for key, value in overlay(start_link(given.get("on", "")), given).items() if value != ""}
    first: list[Problem] = []
    for counts in (False, True):
        link = overlay(start_link(given.get("on", "")), given, counts)
        plan, found = read_plan({**shown, "link": [*links, link]}, part)
        if plan is not None:
            return replace(read, plan=plan, added=len(links))
        first = first or found
    told = dict(_told_of_new(first, len(links), given))
    typed = {f"link.{NEW}.{key}": text for key, text in given.items()}
    faults = Faults({**read.faults.typed, **typed}, {**read.faults.told, **told})
    return replace(read, draft=draft, faults=faults)


def _told_of_new(found: list[Problem], place: int, given: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """What is wrong with a link that is being added; what was not typed yet is not wrong."""
    for problem in found:
        key = field_at(problem, place, given).removeprefix(f"link.{place}.")
        if given.get(key, "").strip():
            yield f"link.{NEW}.{key}", f"{problem.what}; {problem.allowed}"


def start_link(on: str) -> Raw:
    """A link of which only its load and family are known."""
    load, _, family = on.partition("/")
    return {"load": load, "family": family}


def offered_on(part: Part, plan: Plan) -> list[tuple[str, str, Family[Any, Any]]]:
    """Every generator of the part as the value of a choice, with its words and family; those in use first."""
    loads = sorted(part.loads, key=lambda load: load.id not in plan.in_use)
    return [
        (f"{load.id}/{name}", _say_on(load.title, families()[name], load.id in plan.in_use), families()[name])
        for load in loads
        for name in load.generators
        if name in families()
    ]


def _say_on(title: str, family: Family[Any, Any], used: bool) -> str:
    return f"{title}: {family.title}" + ("" if used else ", not in use")


def without_link(part: Part, plan: Plan, place: int) -> Plan:
    """The plan without one of its links."""
    return replace(plan, links=(*plan.links[:place], *plan.links[place + 1 :]))
