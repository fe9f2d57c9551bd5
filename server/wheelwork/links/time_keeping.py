"""Keeping the time: what an error is in a day, how a watch crystal moves with temperature, pulses left out to mend it.

A tuning-fork crystal is slow by a parabola of the temperature: deviation = coefficient * (temperature - turnover)^2,
the coefficient some -0.035 ppm/K², the turnover 25 °C ± 5 °C (crystal makers' data sheets, named at each curve).

Worked value: with -0.030 ppm/K² a crystal at 45 °C is 12.0 ppm slow (TF20 data sheet, example), 1.04 s a day.

>>> str(deviation(Fraction(45), Fraction(-3, 100) / 10**6) * 10**6)
'-12'
>>> float(seconds_gained(Fraction(-12, 10**6)))
-1.0368
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from wheelwork.quantities.spans import Span

SECONDS_A_DAY = 86_400
ROOM = Fraction(25)
"""The turnover of a tuning-fork crystal, in degrees Celsius."""


@dataclass(frozen=True, slots=True)
class Parabola:
    """A crystal's curve: share per square kelvin, and degrees Celsius at its top, each as the span of all crystals."""

    coefficient: Span
    turnover: Span
    source: str


def _parabola(ppm: str, spread: str, source: str) -> Parabola:
    """A curve as data sheets write it: ppm/K² with its spread, about 25 °C ± 5 °C."""
    centre, off = Fraction(ppm) / 10**6, Fraction(spread) / 10**6
    return Parabola(Span(centre - off, centre + off), Span(ROOM - 5, ROOM + 5), source)


PARABOLAS = (
    _parabola("-0.030", "0.010", "CTS TF20 (008-0353-0) and TF16 (008-0416-0) data sheets"),
    _parabola("-0.035", "0.0086", "ACT 3x8 series data sheet (C1b, 2017)"),
    _parabola("-0.035", "0.005", "Seiko Epson RX4111CE (ETM62E-02) and RX8130CE (ETM50E-07) manuals"),
)


def deviation(temperature: Fraction, coefficient: Fraction, turnover: Fraction = ROOM) -> Fraction:
    """How far a tuning-fork crystal is off at a temperature (share; degrees Celsius): below 0, since it is slow."""
    return coefficient * (temperature - turnover) ** 2


def deviation_span(curve: Parabola, temperatures: Span) -> Span:
    """How far any crystal of a curve may be off anywhere in a span of temperatures (shares; degrees Celsius).

    >>> wide = deviation_span(PARABOLAS[0], Span(Fraction(-20), Fraction(70)))
    >>> str(wide.lowest * 10**6), str(wide.highest)
    ('-100', '0')
    """
    top = curve.turnover
    farthest = max(temperatures.highest - top.lowest, top.highest - temperatures.lowest)
    nearest = max(temperatures.lowest - top.highest, top.lowest - temperatures.highest, Fraction(0))
    return Span(curve.coefficient.lowest * farthest**2, curve.coefficient.highest * nearest**2)


def seconds_gained(share: Fraction, days: Fraction = Fraction(1)) -> Fraction:
    """Seconds that a clock gains in some days when it is off by a share; below 0 where it loses.

    >>> float(seconds_gained(Fraction(1, 10**6)))
    0.0864
    """
    return share * SECONDS_A_DAY * days


def pulse_share(clock: Fraction, window: Fraction) -> Fraction:
    """What one pulse, left out or added in a window of seconds, changes the mean rate of a clock (Hz) by, as a share.

    >>> float(round(pulse_share(Fraction(32_768), Fraction(32)) * 10**6, 3))
    0.954
    """
    return 1 / (clock * window)


def pulses_to_leave_out(error: Fraction, clock: Fraction, window: Fraction) -> tuple[int, Fraction]:
    """The whole number of pulses that mends an error best (below 0: to be added), and the share that is left.

    >>> pulses_to_leave_out(Fraction(47, 2) / 10**6, Fraction(32_768), Fraction(32))[0]
    25
    """
    step = pulse_share(clock, window)
    pulses = round(error / step)
    return pulses, error - pulses * step


def listening_widened(interval: Fraction, skipped: int, own: Fraction, peer: Fraction) -> Fraction:
    """How much earlier and later (seconds) a radio has to listen, so as to meet a peer after skipped events.

    `own` and `peer` are how far the two sleep clocks may be off, as shares. Source: Bluetooth Core Specification, Vol 6
    Part B, 4.2.4, without the fixed term for jitter.

    >>> str(listening_widened(Fraction(1, 10), 299, Fraction(0), Fraction(500, 10**6)))
    '3/200'
    """
    return interval * (skipped + 1) * (own + peer)
