"""How far a search has come, and how long it may still take."""

from __future__ import annotations

from wheelwork.find.question import Progress


def share_covered(progress: Progress) -> float | None:
    """The share of all settings that is covered, from 0 to 1; None where it is not known how many there are.

    >>> share_covered(Progress(40, 64, 12)), share_covered(Progress(40, None, 12))
    (0.625, None)
    """
    return None if not progress.of else min(progress.covered / progress.of, 1.0)


def seconds_to_go(progress: Progress, seconds: float, limit: float) -> float | None:
    """How long a search that took so many seconds may still take at its pace, up to its limit; None: no pace yet.

    >>> seconds_to_go(Progress(40, 64, 12), 15.0, 30.0), seconds_to_go(Progress(1, 64, 0), 15.0, 30.0)
    (9.0, 15.0)
    """
    share = share_covered(progress)
    if not share:
        return None
    return min(seconds * (1 - share) / share, max(limit - seconds, 0.0))
