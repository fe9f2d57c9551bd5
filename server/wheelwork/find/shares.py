"""Shares of two significant figures, rising: what an allowed error is rounded up to when it is asked for.

>>> RoundShare.at_least(Fraction(1, 29)).value, RoundShare.above(Fraction(1, 4)).value
(Fraction(7, 200), Fraction(13, 50))
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

_SIZES = 90
"""Two figures: 10 to 99."""
SMALLEST = Fraction(1, 10**9)


@dataclass(frozen=True, slots=True, order=True)
class RoundShare:
    """A share by its place among all shares of two figures."""

    place: int

    @classmethod
    def at_least(cls, share: Fraction) -> RoundShare:
        """The smallest that is not below a share; one part in 10^9 at least."""
        share, power = max(share, SMALLEST), 0
        while share * 10**power < 10:
            power += 1
        figures = -(-share * 10**power // 1)
        return cls(int(figures) - 10 - _SIZES * power)

    @classmethod
    def above(cls, share: Fraction) -> RoundShare:
        """The smallest that is above a share."""
        found = cls.at_least(share)
        return found.after() if found.value <= share else found

    def after(self) -> RoundShare:
        """The next larger one."""
        return RoundShare(self.place + 1)

    def before(self) -> RoundShare:
        """The next smaller one."""
        return RoundShare(self.place - 1)

    @property
    def value(self) -> Fraction:
        """The share itself."""
        power, figures = divmod(self.place, _SIZES)
        return Fraction(figures + 10) * Fraction(10**power) if power >= 0 else Fraction(figures + 10, 10**-power)
