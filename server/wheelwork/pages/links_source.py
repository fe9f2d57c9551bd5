"""Where a link's allowance comes from: what is usual, a standard, an allowance of its own; and what then gives way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from wheelwork.judge.link_words import APART, say_amount, spell
from wheelwork.links.families import families, standards_of
from wheelwork.links.family import Family
from wheelwork.links.fields import Fields, Refused
from wheelwork.pages.links_words import label_of
from wheelwork.quantities.spans import Span, write_tolerance

OWN, COMMON, STANDARD = "own", "common", "standard:"
"""Where an allowance comes from, as the values of its choice; a standard's name follows its word."""
FIRST_OWN = "±1 %"

Raw = dict[str, Any]


def source_of(ask: Mapping[str, Any]) -> str:
    """Where a link's allowance comes from, as the value of its choice."""
    if "allowance" in ask:
        return OWN
    return f"{STANDARD}{ask['standard']}" if "standard" in ask else COMMON


def take_source(family: Family[Any, Any], before: Mapping[str, Any], ask: Raw, given: Mapping[str, str]) -> Raw:
    """What is asked with its allowance from where the choice says; `before` is what was asked until now.

    What a standard that is chosen now does not go with takes that standard's value or goes, unless it was typed now.
    """
    present = source_of(before)
    source = given.get("from", present)
    if source == OWN:
        text = given.get("allowance", "").strip()
        ask["allowance"] = text or ask.get("allowance") or _own_from(family, ask)
    elif source.startswith(STANDARD):
        ask.pop("allowance", None)
        ask["standard"] = source.removeprefix(STANDARD)
        if source != present:
            return _give_way(family, ask, {key for key in ask if ask[key] == before.get(key)})
    elif source == COMMON and source != present:
        ask.pop("allowance", None)
        fixed = fixed_by(family, str(ask.pop("standard", "")))
        ask.update({key: fixed[key] for key in ("rate", "mode") if key in fixed and not ask.get(key)})
    return ask


def _give_way(family: Family[Any, Any], ask: Raw, untouched: set[str]) -> Raw:
    """What is asked without what the standard in it does not take, where that is all that stands in its way."""
    clash = _clashing(family, ask) & untouched
    rest = {key: value for key, value in ask.items() if key not in clash}
    if not clash or _clashing(family, rest):
        return ask
    fixed = fixed_by(family, str(ask["standard"]))
    return {key: fixed.get(key, "") if key in clash else value for key, value in ask.items()}


def _clashing(family: Family[Any, Any], ask: Mapping[str, Any]) -> set[str]:
    """The keys at which a family finds fault with what is asked."""
    fields = Fields({key: value for key, value in ask.items() if value != ""}, "ask")
    try:
        family.read_ask(fields)
    except Refused as refused:
        return {problem.where.partition(".")[2] for problem in refused.problems}
    return set()


def fixed_by(family: Family[Any, Any], name: str) -> Mapping[str, str]:
    """What a standard fixes, as it is typed: its rate, its frame, its mode."""
    standard = standards_of(family.name).get(name)
    if standard is None:
        return {}
    rate = "" if standard.rate is None else say_amount(standard.rate, family.rate_unit)
    fixed = {"rate": rate.replace("\u2009", "").replace("\u00a0", " "), "frame": standard.frame, "mode": standard.mode}
    return {key: text for key, text in fixed.items() if text}


def say_gave_way(before: Mapping[str, Any], after: Mapping[str, Any], given: Mapping[str, str]) -> str:
    """What stood in a link and was not changed by hand, yet gave way to what was: each with what stands there now."""
    gone = [
        key
        for key, value in before.items()
        if key not in ("name", "load", "family", "chosen", *APART)
        and given.get(key, str(value)).strip() == str(value)
        and after.get(key) != value
    ]
    standard = standards_of(str(after.get("family", ""))).get(str(after.get("standard", "")))
    by = "" if standard is None else f", by {standard.title}"
    return " ".join(_say_gone(before, after, gone, by))


def _say_gone(before: Mapping[str, Any], after: Mapping[str, Any], gone: list[str], by: str) -> Iterator[str]:
    for key in gone:
        if key in after:
            yield f"{label_of(key)} is now {spell(after[key])}{by}, and no longer {spell(before[key])}."
        else:
            family = families().get(str(after.get("family", "")))
            here = f" of a {family.title}" if family is not None and family.name != before.get("family") else by
            yield f"{label_of(key)} {spell(before[key])} is no longer asked{here}."


def _own_from(family: Family[Any, Any], ask: Mapping[str, Any]) -> str:
    """An allowance of one's own, to begin with: that of the standard that counted."""
    standard = standards_of(family.name).get(str(ask.get("standard", "")))
    allowance = None if standard is None else standard.allowance
    if allowance is None or allowance.lowest is None or allowance.highest is None:
        return FIRST_OWN
    return write_tolerance(Span(allowance.lowest, allowance.highest))
