"""The timing of a bit on a field bus, in quanta, and how far each node's clock may be off with it.

A bit is one quantum of synchronization, segment 1 (propagation and phase 1) and segment 2 (phase 2); it is sampled
between the segments. How far each node's clock may be off is the least of

    min(phase_1, phase_2) / (2 * (13 * quanta - phase_2))  and  jump / (20 * quanta)

(Hartwich and Bassemir, The Configuration of the CAN Bit Timing, 6th International CAN Conference 1999), with a data
phase also of three more conditions (python-can 4.6.1, an open library, class BitTimingFd, after ISO 11898-1).

Worked value: 6 quanta of propagation, phases of 1 and 2, jump 1 bear 0.39 %, exactly 1/256 (Bosch TTCAN User's Manual
Rev 1.6, section 4.2.1.7).

>>> str(oscillator_tolerance(Timing(1, 7, 2, 1), phase_1=1))
'1/256'
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

SYNCHRONIZATION = 1
LEAST_PROPAGATION = 1
"""Of segment 1 one quantum at least is propagation (Bosch, CAN Specification 2.0, Part B section 10)."""


@dataclass(frozen=True, slots=True)
class Timing:
    """One bit: prescaler, the two segments and the jump, in quanta."""

    prescaler: int
    segment_1: int
    segment_2: int
    jump: int

    @property
    def quanta(self) -> int:
        """Quanta a bit, the synchronization quantum included."""
        return SYNCHRONIZATION + self.segment_1 + self.segment_2

    @property
    def sample_point(self) -> Fraction:
        """Where in the bit it is sampled."""
        return Fraction(SYNCHRONIZATION + self.segment_1, self.quanta)

    @property
    def free_propagation(self) -> int:
        """Quanta of segment 1 that may be propagation before the setting bears less of the clock."""
        return max(self.segment_1 - self.segment_2, LEAST_PROPAGATION)

    def rate(self, clock: Fraction) -> Fraction:
        """Bits a second from a clock in hertz."""
        return clock / (self.prescaler * self.quanta)

    def settings(self) -> dict[str, int]:
        """The four settings by their keys."""
        return {
            "prescaler": self.prescaler,
            "segment_1": self.segment_1,
            "segment_2": self.segment_2,
            "jump": self.jump,
        }


def usual_sample_point(rate: Fraction) -> Fraction:
    """Where to sample if nobody says (recommendation of CAN in Automation, as coded in an open kernel).

    >>> [str(usual_sample_point(Fraction(rate))) for rate in (1_000_000, 800_000, 500_000)]
    ['3/4', '4/5', '7/8']
    """
    if rate > 800_000:
        return Fraction(3, 4)
    return Fraction(4, 5) if rate > 500_000 else Fraction(7, 8)


def propagation_quanta(there_and_back: Fraction, quantum: Fraction) -> int:
    """Quanta that a signal's way through nodes and line and back takes up, times in seconds.

    >>> propagation_quanta(Fraction(580, 10**9), Fraction(100, 10**9))
    6
    """
    return -(-there_and_back // quantum)


def oscillator_tolerance(timing: Timing, phase_1: int | None = None, data: Timing | None = None) -> Fraction:
    """How far each node's clock may be off, as a share, by every condition; 0 where the setting bears nothing.

    `phase_1` is what of segment 1 is no propagation; left out: all but one quantum. `data` is the data phase's timing.
    """
    first = timing.segment_1 - LEAST_PROPAGATION if phase_1 is None else phase_1
    bears = min(_conditions(timing, first))
    if data is not None:
        bears = min(bears, *_data_conditions(timing, first, data))
    return max(bears, Fraction(0))


def _conditions(timing: Timing, phase_1: int) -> Iterator[Fraction]:
    """Thirteen bits after an edge it is still sampled right, and ten bits between two edges do not outrun the jump."""
    quanta, phase_2 = timing.quanta, timing.segment_2
    yield Fraction(min(phase_1, phase_2), 2 * (13 * quanta - phase_2))
    yield Fraction(timing.jump, 20 * quanta)


def _data_conditions(timing: Timing, phase_1: int, data: Timing) -> Iterator[Fraction]:
    """The data phase's own jump, and both ways across between the two timings."""
    here, there = timing.prescaler, data.prescaler
    quanta, data_quanta = timing.quanta, data.quanta
    yield Fraction(data.jump, 20 * data_quanta)
    across = (6 * data_quanta - data.segment_2) * there + 7 * quanta * here
    yield Fraction(min(phase_1, timing.segment_2) * here, 2 * across)
    back = (2 * quanta - timing.segment_2) * here + (data.segment_2 + 4 * data_quanta) * there
    yield Fraction(data.jump * there - max(0, here - there), 2 * back)
