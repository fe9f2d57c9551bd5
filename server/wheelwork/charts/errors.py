"""A rate's error against its allowance: a mark between two walls, in percent of the picture's width.

The share `v` of the allowance that an error uses, with its sign, is clamped to ±1.36 and stands at 50 + v / 1.5 * 50:
the walls of v = ±1 stand at 16.67 and 83.33. A rule that only says `at most` has no left wall.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

FARTHEST = Fraction(136, 100)
LEFT_WALL, RIGHT_WALL = 16.67, 83.33
MIDDLE = 50.0


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


LEAST_WHISKER = 3.0
"""Percent of the width: a shorter whisker would hide under the mark."""


def draw_error(
    used: Fraction, lowest: Fraction | None = None, highest: Fraction | None = None, one_sided: bool = False
) -> ErrorPicture:
    """The picture of an error that uses a share of its allowance, with the shares at the ends of the tolerance.

    >>> draw_error(Fraction(3, 4)).mark
    75.0
    >>> draw_error(Fraction(-2), Fraction(-2), Fraction(-2)).overrun
    (4.67, 16.67)
    """
    mark = _place(used)
    whisker = None
    if lowest is not None and highest is not None:
        ends = _place(lowest), _place(highest)
        whisker = ends if ends[1] - ends[0] >= LEAST_WHISKER else None
    overrun = None
    if used > 1:
        overrun = (RIGHT_WALL, mark)
    elif used < -1 and not one_sided:
        overrun = (mark, LEFT_WALL)
    band = (0.0 if one_sided else LEFT_WALL, RIGHT_WALL)
    return ErrorPicture(mark, whisker, overrun, band, not one_sided)


def _place(share: Fraction) -> float:
    clamped = max(-FARTHEST, min(FARTHEST, share))
    return round(float(50 + clamped / Fraction(3, 2) * 50), 2)
