"""Whether any setting at all is legal and meets its targets: the question of which the search for blame asks dozens."""

from __future__ import annotations

from collections.abc import Iterable

from wheelwork.find.counting import count_settings
from wheelwork.find.question import StillTime
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan, Target


def does_one_fit(
    part: Part, plan: Plan, still_time: StillTime, targets: Iterable[Target] = (), pinned: Iterable[str] = ()
) -> bool | None:
    """Whether a setting fits; None where that is not decided within the time."""
    counted = count_settings(part, plan, still_time, targets, pinned)
    return None if counted is None else counted > 0
