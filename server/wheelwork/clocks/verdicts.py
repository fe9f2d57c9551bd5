"""Verdicts: how a clock stands to its window. An edge belongs to the window.

A span or a one-sided limit is judged on the nominal, or on lowest and highest where the sheet says so; an accuracy
(`48 MHz ± 0.25 %`) always on lowest and highest.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from wheelwork.clocks.propagate import Clock
from wheelwork.quantities.spans import Window

Verdict = Literal["inside", "tight", "over", "under", "stopped"]


@dataclass(frozen=True, slots=True)
class Judged:
    """A clock against its window. `margin` is the room left in the worst case (Hz), negative outside or tight."""

    clock: Clock | None
    window: Window | None
    verdict: Verdict
    margin: Fraction | None = None

    @property
    def outside(self) -> bool:
        """Whether the clock is past an edge of its window."""
        return self.verdict in ("over", "under")


STOPPED = Judged(None, None, "stopped")


def judge_clock(clock: Clock, window: Window | None, with_tolerance: bool = False) -> Judged:
    """The verdict on a clock.

    >>> from wheelwork.quantities.spans import read_window, read_tolerance
    >>> crystal = Clock(Fraction(58000000), read_tolerance("±30 ppm"), "crystal")
    >>> judge_clock(crystal, read_window("up to 58 MHz")).verdict
    'tight'
    """
    if window is None:
        return Judged(clock, None, "inside")
    lowest, highest = clock.lowest, clock.highest
    below = None if window.lowest is None else lowest - window.lowest
    above = None if window.highest is None else window.highest - highest
    margin = min(side for side in (below, above) if side is not None)
    if window.accuracy or with_tolerance:
        if margin >= 0:
            return Judged(clock, window, "inside", margin)
        return Judged(clock, window, "over" if margin == above else "under", margin)
    if window.highest is not None and clock.nominal > window.highest:
        return Judged(clock, window, "over", margin)
    if window.lowest is not None and clock.nominal < window.lowest:
        return Judged(clock, window, "under", margin)
    return Judged(clock, window, "inside" if margin >= 0 else "tight", margin)


def fits(clock: Clock, window: Window | None, with_tolerance: bool = False) -> bool:
    """Whether a clock is inside its window as judged: the same rule as `judge_clock`, without the amounts."""
    if window is None:
        return True
    if window.accuracy or with_tolerance:
        return (window.highest is None or clock.highest <= window.highest) and (
            window.lowest is None or clock.lowest >= window.lowest
        )
    return (window.highest is None or clock.nominal <= window.highest) and (
        window.lowest is None or clock.nominal >= window.lowest
    )
