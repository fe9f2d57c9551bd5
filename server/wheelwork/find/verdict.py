"""Whether any setting at all is legal and meets its targets: the question of which the search for blame asks dozens."""

from __future__ import annotations

from collections.abc import Iterable

from wheelwork.find.problem import NO_LIMITS, Limits
from wheelwork.find.question import StillTime
from wheelwork.find.seeking import Seeker
from wheelwork.find.tables import Undecided
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan, Target


def does_one_fit(
    part: Part,
    plan: Plan,
    still_time: StillTime,
    targets: Iterable[Target] = (),
    pinned: Iterable[str] = (),
    limits: Limits = NO_LIMITS,
) -> bool | None:
    """Whether a setting fits; None where that is not decided within the time."""
    try:
        return find_one(part, plan, still_time, targets, pinned, limits) is not None
    except Undecided:
        return None


def find_one(
    part: Part,
    plan: Plan,
    still_time: StillTime,
    targets: Iterable[Target] = (),
    pinned: Iterable[str] = (),
    limits: Limits = NO_LIMITS,
) -> Plan | None:
    """A plan that fits, wait states following the table; None where there is none.

    Raises Undecided where the time ends, or where the part holds what is not searched.
    """
    found = Seeker(part, plan, tuple(targets), frozenset(pinned), still_time).any(limits)
    return None if found is None else found.plan
