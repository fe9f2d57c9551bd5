"""Counting by address, in this process's memory and for so many addresses at most: the longest unseen goes first."""

from __future__ import annotations

from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from time import monotonic

MOST_ADDRESSES = 10_000
MOST_WRONG = 5
SECONDS_OF_WRONG = 60.0


@dataclass
class Rate:
    """A token bucket for each address: so many requests a minute, as many at once; 0: any number.

    >>> rate = Rate(60, now=lambda: 0.0)
    >>> [rate.wait("192.0.2.7") for _ in range(60)] == [0.0] * 60, rate.wait("192.0.2.7")
    (True, 1.0)
    """

    a_minute: int
    now: Callable[[], float] = monotonic
    most: int = MOST_ADDRESSES
    _left: OrderedDict[str, tuple[float, float]] = field(default_factory=OrderedDict)

    def wait(self, key: str) -> float:
        """0 where one more may pass, which is then counted; else the seconds until one may."""
        if not self.a_minute:
            return 0.0
        now, a_second = self.now(), self.a_minute / 60
        left, seen = self._left.pop(key, (float(self.a_minute), now))
        left = min(self.a_minute, left + (now - seen) * a_second)
        passes = left >= 1
        self._left[key] = (left - 1 if passes else left, now)
        if len(self._left) > self.most:
            self._left.popitem(last=False)
        return 0.0 if passes else (1 - left) / a_second


@dataclass
class WrongOnes:
    """Wrong passphrases by address: after five within a minute, none is looked at until the first is a minute old."""

    now: Callable[[], float] = monotonic
    most: int = MOST_ADDRESSES
    _at: OrderedDict[str, deque[float]] = field(default_factory=OrderedDict)

    def wait(self, key: str) -> float:
        """The seconds until a passphrase is looked at again; 0 where it is."""
        times = self._at.get(key)
        if times is None or len(times) < MOST_WRONG:
            return 0.0
        return max(0.0, times[0] + SECONDS_OF_WRONG - self.now())

    def add(self, key: str) -> None:
        """Count a wrong one."""
        times = self._at.pop(key, deque(maxlen=MOST_WRONG))
        times.append(self.now())
        self._at[key] = times
        if len(self._at) > self.most:
            self._at.popitem(last=False)

    def forget(self, key: str) -> None:
        """The right one was given."""
        self._at.pop(key, None)
