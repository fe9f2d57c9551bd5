"""Supply budget of a duty cycle: mean current, when a low-power mode pays, racing against going slowly.

Sources: mean over a cycle as in a public sensor-battery article (28 mA 0.65 s, 31 mA 50 ms, 120 µA 15 min: 0.142 mA),
with the caution of Barboni and Valle (2014) that the mean misjudges many real nodes; break-even of a mode after Benini,
Bogliolo and De Micheli (IEEE Trans. VLSI 8(3), 2000; from memory, re-derived); run current as slope and offset: common
practice, no single source.

>>> pairs = [("0.028", "0.65"), ("0.031", "0.05"), ("0.00012", "900")]
>>> round(float(mean_current([(Fraction(i), Fraction(t)) for i, t in pairs])) * 1000, 4)
0.1418
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

ZERO = Fraction(0)


def cycle_charge(phases: Iterable[tuple[Fraction, Fraction]]) -> Fraction:
    """The charge (C) of one round of phases, each with its current (A) and time (s)."""
    return sum((current * time for current, time in phases), ZERO)


def mean_current(phases: Iterable[tuple[Fraction, Fraction]]) -> Fraction:
    """The mean current (A) of a round of phases. Raises ZeroDivisionError for a round that takes no time."""
    known = list(phases)
    return cycle_charge(known) / sum((time for _, time in known), ZERO)


def run_current(slope: Fraction, clock: Fraction, offset: Fraction) -> Fraction:
    """The current (A) of a core: slope (A/Hz) times clock (Hz), plus offset."""
    return slope * clock + offset


def fit_line(first: tuple[Fraction, Fraction], second: tuple[Fraction, Fraction]) -> tuple[Fraction, Fraction]:
    """Slope and offset through two published points of clock (Hz) and current (A)."""
    (f1, i1), (f2, i2) = first, second
    slope = (i2 - i1) / (f2 - f1)
    return slope, i1 - slope * f1


def effective_speed(clock: Fraction, wait_states: int, share: Fraction) -> Fraction:
    """The speed (Hz) that is left where a share of the cycles waits for flash: f / (1 + W m). Common practice.

    >>> str(effective_speed(Fraction(25_000_000), 1, Fraction(1)))
    '12500000'
    """
    return clock / (1 + wait_states * share)


def break_even_time(idle: Fraction, low: Fraction, transition: Fraction, during: Fraction) -> Fraction:
    """The shortest gap (s) in which a low mode pays: powers (W) idle, low and during the transition (s) in and out.

    >>> round(float(break_even_time(Fraction("0.003"), Fraction("6e-6"), Fraction("0.0022"), Fraction("0.0045"))), 6)
    0.003302
    """
    return max(transition, (during * transition - low * transition) / (idle - low))


def charge_for_work(
    slope: Fraction,
    clock: Fraction,
    offset: Fraction,
    work: Fraction,
    asleep: Fraction,
    period: Fraction,
    wake: Fraction,
) -> Fraction:
    """The charge (C) of a period (s) in which work (core clocks) is done at a clock (Hz) and the rest is slept.

    `slope` is in A/Hz, `offset` and `asleep` in A, `wake` the charge of waking.
    """
    busy = work / clock
    return run_current(slope, clock, offset) * busy + asleep * (period - busy) + wake


def equal_offset(fast: tuple[Fraction, Fraction], slow: tuple[Fraction, Fraction], asleep: Fraction) -> Fraction:
    """The offset (A) at which racing and going slowly draw the same; each has its slope (A/Hz) and clock (Hz)."""
    (k_fast, f_fast), (k_slow, f_slow) = fast, slow
    return asleep + (k_fast - k_slow) / (1 / f_slow - 1 / f_fast)
