"""How near a wanted frequency can come while everything else holds: the next possible clock below it and above it.

Each is the highest clock at or below what is wanted, or the lowest at or above it, found as an optimum of the search
and so proven: no setting that fits stands nearer on that side. Judged on the nominal frequency.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from wheelwork.clocks.propagate import roots, tolerance_of
from wheelwork.find.conflicts import pins_of
from wheelwork.find.prices import NOTHING, Prices, prices_of
from wheelwork.find.problem import NO_LIMITS, Limits, Problem
from wheelwork.find.question import Blame, Preference, PreferenceKind, Question, StillTime
from wheelwork.find.seeking import Seeker, fits
from wheelwork.find.tables import Undecided
from wheelwork.find.tolerances import leaves_room
from wheelwork.find.verdict import does_one_fit
from wheelwork.judge.judgement import Judgement
from wheelwork.part.graph import upstream
from wheelwork.part.nodes import Oscillator, Part
from wheelwork.plan.plan import Target
from wheelwork.quantities.spans import EXACT


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """The nearest on one side of what is wanted: a judged setting that has it; `decided` False: not in time."""

    judged: Judgement | None = None
    decided: bool = True


NOBODY = Side()


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """How near a target's node can come to what the target (by number) asks.

    `opens`: whether something fits without this target (None: not decided). Where it does, all other targets hold on
    both sides; where not, only the others that are blamed. `idle`: the node cannot run, whatever is set, since nothing
    in use hangs on it. `window_aside`: with the sheet's own window of the node it could not come near at all, so that
    was left aside.
    """

    target: int
    wanted: Target
    opens: bool | None
    below: Side = NOBODY
    above: Side = NOBODY
    idle: bool = False
    window_aside: bool = False

    @property
    def settings(self) -> tuple[Judgement, ...]:
        """The judged settings on both sides, the nearer one first, the lower one where both are as near."""
        found = [side.judged for side in (self.below, self.above) if side.judged is not None]
        return tuple(sorted(found, key=self.distance))

    def frequency(self, judged: Judgement) -> Fraction:
        """The node's nominal frequency under a setting."""
        return judged.clocks[self.wanted.node].nominal

    def distance(self, judged: Judgement) -> Fraction:
        """How far a setting is from what is wanted, as a share of it."""
        low, high = edges_of(self.wanted)
        frequency = self.frequency(judged)
        if low is not None and frequency <= low:
            return 1 - frequency / low
        return frequency / high - 1 if high is not None and frequency >= high else Fraction(0)

    @property
    def is_proven(self) -> bool:
        """Whether nothing stands nearer on either side."""
        return self.below.decided and self.above.decided


def edges_of(target: Target) -> tuple[Fraction | None, Fraction | None]:
    """The lowest and the highest frequency that a target wants, its allowed error left aside."""
    if target.frequency is not None:
        return target.frequency, target.frequency
    return target.at_least, target.at_most


def find_nearest(question: Question, conflict: Iterable[Blame], still_time: StillTime) -> tuple[Nearest, ...]:
    """For each blamed target, in order, how near it can come while the others hold."""
    blamed = [blame.target for blame in conflict if blame.target is not None]
    return tuple(_nearest_of(question, number, blamed, still_time) for number in blamed)


def _nearest_of(question: Question, number: int, blamed: list[int], still_time: StillTime) -> Nearest:
    wanted = question.targets[number]
    others = tuple(target for n, target in enumerate(question.targets) if n != number)
    opens = does_one_fit(question.part, question.plan, still_time, others, pins_of(question))
    if is_idle(question, wanted.node):
        return Nearest(target=number, wanted=wanted, opens=opens, idle=True)
    if opens is False:
        others = tuple(question.targets[n] for n in blamed if n != number)
    left = replace(question, targets=others)
    below, above = sides_of(left, wanted, still_time)
    nearest = Nearest(target=number, wanted=wanted, opens=opens, below=below, above=above)
    if nearest.settings or not nearest.is_proven:
        return nearest
    below, above = sides_of(replace(left, part=without_window(left.part, wanted.node)), wanted, still_time)
    return replace(nearest, below=below, above=above, window_aside=True)


def find_in_the_way(question: Question, conflict: Iterable[Blame], still_time: StillTime) -> str | None:
    """The load in use whose window keeps a target that is blamed alone from being met; None where there is none.

    With it out of use the target could be met, were it the only one.
    """
    blamed = [blame.target for blame in conflict]
    if len(blamed) != 1 or blamed[0] is None:
        return None
    wanted = question.targets[blamed[0]]
    for name in question.plan.in_use:
        node = question.part.nodes[name]
        if (node.limits or node.limits_at) and name != wanted.node:
            rest = replace(question.plan, in_use=tuple(other for other in question.plan.in_use if other != name))
            if does_one_fit(question.part, rest, still_time, (wanted,), pins_of(question)):
                return name
    return None


def is_idle(question: Question, name: str) -> bool:
    """Whether nothing that must run can hang on a node, whatever the selectors choose."""
    nodes, wanted = question.part.nodes, roots(question.part, question.plan)
    node = nodes[name]
    if isinstance(node, Oscillator) and node.always_on:
        return False
    return name not in wanted and not any(name in upstream(nodes, root) for root in wanted)


def sides_of(
    question: Question, wanted: Target, still_time: StillTime, limits: Limits = NO_LIMITS
) -> tuple[Side, Side]:
    """The nearest below and above what is wanted on a node, under a question that does not ask it."""
    low, high = edges_of(wanted)
    below = above = NOBODY
    if low is not None:
        below = _extreme(question, wanted.node, "highest", limits.below(wanted.node, low, True), still_time)
    if high is not None:
        above = _extreme(question, wanted.node, "lowest", limits.above(wanted.node, high, True), still_time)
    return below, above


def _extreme(question: Question, node: str, kind: PreferenceKind, limits: Limits, still_time: StillTime) -> Side:
    """The setting with the highest or lowest frequency of a node, which must run."""
    part, plan, preference = question.part, question.plan, Preference(kind, node)

    def prices(problem: Problem) -> Prices:
        return prices_of(preference, part, plan, problem.step) or NOTHING

    seeker = Seeker(part, plan, question.targets, frozenset(pins_of(question)), still_time)
    try:
        found = seeker.best(prices, limits.with_running(node))
    except Undecided:
        return Side(decided=False)
    return Side(judged=None if found is None else found.judgement)


def without_window(part: Part, name: str) -> Part:
    """The part with the sheet's window of one node left aside."""
    node = part.nodes[name]
    if isinstance(node, Oscillator):
        return part
    freed = replace(node, limits=None, limits_at={})
    return replace(part, nodes={**part.nodes, name: freed})


def moved_to(target: Target, frequency: Fraction) -> Target:
    """The target with what it wants moved to another frequency, its allowed error kept."""
    if target.frequency is not None:
        return replace(target, frequency=frequency)
    if target.at_least is not None and frequency < target.at_least:
        return replace(target, at_least=frequency)
    return replace(target, at_most=frequency)


def within_reach(question: Question, nearest: Nearest, still_time: StillTime) -> Fraction | None:
    """The nearest frequency at which the target's allowed error is kept too; None where none is known.

    A nearest clock may come from a source that is off by more than the allowed error: then one without such sources.
    """
    if nearest.window_aside:
        return None
    kept = _kept(nearest)
    loose = _loose_sources(question, nearest.wanted)
    if kept is not None or not loose:
        return kept
    limits = NO_LIMITS
    for source in loose:
        limits = limits.with_stopped(source)
    others = tuple(target for n, target in enumerate(question.targets) if n != nearest.target)
    below, above = sides_of(replace(question, targets=others), nearest.wanted, still_time, limits)
    return _kept(replace(nearest, below=below, above=above))


def _kept(nearest: Nearest) -> Fraction | None:
    """The nearest of both sides at which the allowed error, moved there, holds for the worst case."""
    found = ((nearest.frequency(judged), judged) for judged in nearest.settings)
    return next((f for f, judged in found if fits(judged, (moved_to(nearest.wanted, f),))), None)


def _loose_sources(question: Question, target: Target) -> list[str]:
    """The oscillators whose tolerance alone is more than a target allows, and that can be left standing."""
    if target.within is None:
        return []
    sources = (node for node in question.part.nodes.values() if isinstance(node, Oscillator) and not node.always_on)
    tolerances = {source.id: tolerance_of(source, question.plan) or EXACT for source in sources}
    return [name for name, tolerance in tolerances.items() if not leaves_room(tolerance, target.within)]
