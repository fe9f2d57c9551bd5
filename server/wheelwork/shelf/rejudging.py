"""What another revision of a part sheet changes for the plans kept on it: judged again, those that stand otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from wheelwork.clocks.propagate import unfitted
from wheelwork.findings import Problem
from wheelwork.judge.judgement import reckon
from wheelwork.part.nodes import Part
from wheelwork.plan.reading import read_plan
from wheelwork.shelf.plans import Revision


@dataclass(frozen=True, slots=True)
class Stand:
    """Whether a plan is legal, and how many of its windows hold; one that cannot be read has problems instead."""

    legal: bool = False
    inside: int = 0
    windows: int = 0
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """A kept plan that stands otherwise, with its latest revision; `before` is how it stood when that was kept."""

    plan: Revision
    before: Stand
    after: Stand


def judge_again(plans: Iterable[Revision], part: Part, still_time: Callable[[], bool]) -> tuple[list[Change], int]:
    """The plans that stand otherwise on that part, and how many were looked at before the time was up.

    At least one is looked at, so that whoever asks for the rest comes to an end.
    """
    changes: list[Change] = []
    looked_at = 0
    for plan in plans:
        looked_at += 1
        before, after = Stand(plan.legal, plan.inside, plan.windows), stand_on(plan, part)
        if before != after:
            changes.append(Change(plan, before, after))
        if not still_time():
            break
    return changes, looked_at


def stand_on(kept: Revision, part: Part) -> Stand:
    """How a kept plan stands on that part."""
    plan, problems = read_plan(dict(kept.raw), part)
    if plan is not None and not problems:
        problems = unfitted(part, plan)
    if plan is None or problems:
        return Stand(problems=tuple(problems))
    judgement = reckon(part, plan)
    return Stand(judgement.legal, judgement.inside, len(judgement.windows))
