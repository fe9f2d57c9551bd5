"""What differs between two plans on one part, place by place, in the words of the form's fields."""

from __future__ import annotations

from collections.abc import Iterator

from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Fitted, Plan

PLAIN = ("name", "owner", "board_name", "board_revision", "core_voltage", "wait_states", "supply", "temperature")
LISTS = (("use", "in_use"), ("keep", "keep_running"), ("held", "held"))
TABLES = ("targets", "links", "phases", "battery")


def differing(part: Part, one: Plan, other: Plan) -> list[str]:
    """The places in which two plans differ, settings first: `set.core`, `use.usb_link`, `board.crystal.tolerance`."""
    return [*_settings(part, one, other), *_lists(one, other), *_fitted(one, other), *_plain(one, other)]


def _settings(part: Part, one: Plan, other: Plan) -> Iterator[str]:
    for key in sorted(one.settings.keys() | other.settings.keys()):
        reset = part.resets.get(key)
        if one.settings.get(key, reset) != other.settings.get(key, reset):
            yield f"set.{key}"


def _lists(one: Plan, other: Plan) -> Iterator[str]:
    for head, name in LISTS:
        before, after = getattr(one, name), getattr(other, name)
        if before != after:
            yield from (f"{head}.{node}" for node in sorted(set(before) ^ set(after)))


def _fitted(one: Plan, other: Plan) -> Iterator[str]:
    for name in sorted(one.fitted.keys() | other.fitted.keys()):
        before, after = one.fitted.get(name, Fitted()), other.fitted.get(name, Fitted())
        if before.frequency != after.frequency:
            yield f"board.{name}.frequency"
        if before.tolerance != after.tolerance:
            yield f"board.{name}.tolerance"


def _plain(one: Plan, other: Plan) -> Iterator[str]:
    return (name for name in (*PLAIN, *TABLES) if getattr(one, name) != getattr(other, name))
