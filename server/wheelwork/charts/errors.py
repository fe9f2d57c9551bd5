"""A rate's error against its allowance: a mark between two walls, in percent of the picture's width.

The share `v` of the allowance that an error uses, with its sign, is clamped to ±1.36 and stands at 50 + v / 1.5 * 50:
the walls of v = ±1 stand at 16.67 and 83.33. A rule that only says `at most` has no left wall, one that only says
`at least` no right one.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

FARTHEST = Fraction(136, 100)
LEFT_WALL, RIGHT_WALL = 16.67, 83.33


@dataclass(frozen=True, slots=True)
class ErrorPicture:
    """Places in percent of the width. `whisker` is what the clock's tolerance adds, None where it is not drawn.

    `overrun` is the stretch from the wall to a mark beyond it. `band` is the room between the walls.
    """

    mark: float
    whisker: tuple[float, float] | None
    overrun: tuple[float, float] | None
    band: tuple[float, float]
    left_wall: bool = True
    right_wall: bool = True


LEAST_WHISKER = 3.0
"""Percent of the width: a shorter whisker would hide under the mark."""


def draw_error(
    used: Fraction,
    lowest: Fraction | None = None,
    highest: Fraction | None = None,
    left_wall: bool = True,
    right_wall: bool = True,
) -> ErrorPicture:
    """The picture of an error that uses a share of its allowance, with the shares at the ends of the tolerance.

    >>> draw_error(Fraction(3, 4)).mark
    75.0
    >>> draw_error(Fraction(-2), Fraction(-2), Fraction(-2)).overrun
    (4.67, 16.67)
    """
    band = (LEFT_WALL if left_wall else 0.0, RIGHT_WALL if right_wall else 100.0)
    mark = _place(used)
    return ErrorPicture(
        mark=mark,
        whisker=_whisker(used if lowest is None else lowest, used if highest is None else highest),
        overrun=_overrun(used, mark, left_wall, right_wall),
        band=band,
        left_wall=left_wall,
        right_wall=right_wall,
    )


def _whisker(lowest: Fraction, highest: Fraction) -> tuple[float, float] | None:
    ends = _place(min(lowest, highest)), _place(max(lowest, highest))
    return ends if ends[1] - ends[0] >= LEAST_WHISKER else None


def _overrun(used: Fraction, mark: float, left_wall: bool, right_wall: bool) -> tuple[float, float] | None:
    if used > 1 and right_wall:
        return (RIGHT_WALL, mark)
    if used < -1 and left_wall:
        return (mark, LEFT_WALL)
    return None


def _place(share: Fraction) -> float:
    clamped = max(-FARTHEST, min(FARTHEST, share))
    return round(float(50 + clamped / Fraction(3, 2) * 50), 2)
