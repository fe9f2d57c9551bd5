"""The logarithmic axis of all lanes: a ratio is a step sideways.

From f0 to f1, the lowest and highest of everything shown moved out to the next step of 1, 2, 5, at least three decades;
`x = 100 * ln(f / f0) / ln(f1 / f0)` in percent of the lane's width.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, log10
from typing import Literal

STEPS = (1, 2, 5)
LEAST_DECADES = 3
MOST_LABELS = 12


@dataclass(frozen=True, slots=True)
class Tick:
    """A tick at x percent: at a power of ten with its label, at a five, or between."""

    x: float
    size: Literal["ten", "five", "one"]
    label: str = ""


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis between two decimal logarithms of hertz."""

    low: float
    high: float

    def x(self, frequency: Fraction) -> float:
        """Where a frequency stands, in percent.

        >>> Axis(4.0, 8.0).x(Fraction(10**6))
        50.0
        """
        return round(100 * (decades(frequency) - self.low) / (self.high - self.low), 2)

    def ticks(self) -> tuple[Tick, ...]:
        """All ticks from 1 to 9 of every decade, powers of ten labelled; on a very long axis only some of the tens."""
        stride = ceil((self.high - self.low) / MOST_LABELS)
        powers = [power for power in range(floor(self.low), floor(self.high) + 2) if power % stride == 0]
        places = [(power + log10(d), d, power) for power in powers for d in (range(1, 10) if stride == 1 else (1,))]
        return tuple(self._tick(*each) for each in places if self.low - 1e-9 <= each[0] <= self.high + 1e-9)

    def _tick(self, place: float, digit: int, power: int) -> Tick:
        x = round(100 * (place - self.low) / (self.high - self.low), 2)
        if digit == 1:
            return Tick(x, "ten", label_of_power(power))
        return Tick(x, "five" if digit == 5 else "one")

    def grid(self) -> tuple[float, ...]:
        """Where the powers of ten stand."""
        return tuple(tick.x for tick in self.ticks() if tick.size == "ten")


def decades(frequency: Fraction) -> float:
    """The decimal logarithm of a positive rational, however large its terms."""
    return log10(frequency.numerator) - log10(frequency.denominator)


def label_of_power(power: int) -> str:
    """The label of a power of ten hertz.

    >>> label_of_power(5), label_of_power(6)
    ('100\\xa0kHz', '1\\xa0MHz')
    """
    units = {0: "Hz", 3: "kHz", 6: "MHz", 9: "GHz"}
    base = max((known for known in units if known <= power), default=0)
    number = str(10 ** (power - base)) if power >= 0 else "0." + "0" * (-power - 1) + "1"
    return f"{number}\u00a0{units[base]}"


def axis_over(frequencies: Iterable[Fraction], least: int = LEAST_DECADES) -> Axis:
    """The axis on which all these frequencies find room, at least so many decades long.

    >>> axis_over([Fraction(32768), Fraction(276_000_000)]) == Axis(log10(2e4), log10(5e8))
    True
    """
    places = [decades(frequency) for frequency in frequencies] or [3.0]
    low, high = _step_down(min(places)), _step_up(max(places))
    while high - low < least - 1e-9:
        low, high = _step_down(low - 0.01), high if high - low >= least else _step_up(high + 0.01)
    return Axis(low, high)


def _step_down(place: float) -> float:
    return max(step for step in _steps_near(place) if step <= place + 1e-9)


def _step_up(place: float) -> float:
    return min(step for step in _steps_near(place) if step >= place - 1e-9)


def _steps_near(place: float) -> list[float]:
    return [power + log10(step) for power in range(int(place) - 2, int(place) + 3) for step in STEPS]
