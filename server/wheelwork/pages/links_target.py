"""Handing a link's wanted clock to the search: the plan with a target on the clock that the link's load needs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from wheelwork.judge import Judgement
from wheelwork.judge.rate_words import is_time
from wheelwork.judge.rates import JudgedLink, judge_links
from wheelwork.links.family import Allowance
from wheelwork.plan.plan import Plan, Target


def with_target(judgement: Judgement, place: int) -> Plan | None:
    """The plan with a target on the load's clock, in place of one it had there; None where nothing can be aimed at."""
    links = judge_links(judgement)
    link = links[place] if 0 <= place < len(links) else None
    target = None if link is None else target_of(link)
    if target is None:
        return None
    others = tuple(each for each in judgement.plan.targets if each.node != target.node)
    return replace(judgement.plan, targets=(*others, target))


def target_of(link: JudgedLink) -> Target | None:
    """The clock at which a link's settings would give its rate exactly, within what the rate may be off.

    A rate rises with its clock, a time falls. The clock's own tolerance is taken off the allowance.
    """
    choice = link.choice
    if link.clock is None or choice is None or choice.error is None or choice.error == -1:
        return None
    off = 1 + choice.error
    wanted = link.clock.nominal * off if is_time(link.link.ask) else link.clock.nominal / off
    within = None if link.allowance is None else _share(link, link.allowance)
    if link.allowance is not None and link.allowance.lowest is None and link.allowance.highest is not None:
        most = wanted * (1 + link.allowance.highest)
        return Target(link.link.load, at_most=most / (1 + link.clock.tolerance.highest))
    return Target(link.link.load, frequency=wanted, within=within)


def _share(link: JudgedLink, allowance: Allowance) -> Fraction | None:
    """How far the clock may be off to either side, its own tolerance taken off; None where only the exact one does."""
    assert link.clock is not None
    sides = [abs(side) for side in (allowance.lowest, allowance.highest) if side is not None]
    tolerance = max(abs(link.clock.tolerance.lowest), abs(link.clock.tolerance.highest))
    share = (min(sides) - tolerance) / (1 + tolerance) if sides else Fraction(0)
    return share if 0 < share < 1 else None
