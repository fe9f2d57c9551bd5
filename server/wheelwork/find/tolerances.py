"""What a source's tolerance alone rules out: a target whose allowed error is narrower than what the source brings."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from wheelwork.clocks.propagate import tolerance_of
from wheelwork.part.graph import upstream
from wheelwork.part.nodes import Oscillator, Part
from wheelwork.plan.plan import Plan, Target
from wheelwork.quantities.spans import Span


@dataclass(frozen=True, slots=True)
class RuledOut:
    """An oscillator that could feed a target's node and can never meet it, with the tolerance that forbids it."""

    oscillator: str
    tolerance: Span
    target: int


def find_ruled_out(part: Part, plan: Plan, targets: tuple[Target, ...]) -> tuple[RuledOut, ...]:
    """The oscillators that a target's allowed error rules out whatever the settings, one target for each."""
    found: dict[str, RuledOut] = {}
    oscillators = [node for node in part.nodes.values() if isinstance(node, Oscillator)]
    for index, target in enumerate(targets):
        above = set(upstream(part.nodes, target.node))
        for node in (node for node in oscillators if node.id in above):
            tolerance = tolerance_of(node, plan)
            if tolerance is not None and target.within is not None and not leaves_room(tolerance, target.within):
                found.setdefault(node.id, RuledOut(node.id, tolerance, index))
    return tuple(found.values())


def leaves_room(tolerance: Span, within: Fraction) -> bool:
    """Whether some nominal frequency f keeps f (1 + low) and f (1 + high) within a share of what is wanted.

    That is so where (1 + high) / (1 + low) is at most (1 + within) / (1 - within).

    >>> percent = Fraction(1, 100)
    >>> leaves_room(Span(-percent, percent), percent), leaves_room(Span(-percent, 2 * percent), percent)
    (True, False)
    """
    return (1 + tolerance.highest) * (1 - within) <= (1 + within) * (1 + tolerance.lowest)
