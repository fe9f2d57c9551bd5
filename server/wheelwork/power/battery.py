"""How long a battery lasts: capacity, what it loses by lying, shelf life, and droop under a pulse.

Sources: capacity over mean current, public formula pages; self-discharge beside the load: common practice, no source;
droop by the cell's resistance, and C dV = I t with a capacitor: public answers and Jensen, Coin cells and peak current
draw (2010). A mean year has 365.25 days.

>>> life = life_linear(Fraction(810), Fraction(85, 100), Fraction(1, 100), Fraction(1, 10**5))
>>> round(float(life) / YEAR, 3)
2.127
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from math import log

HOURS_A_YEAR = 8766
YEAR = HOURS_A_YEAR * 3600
"""A mean year in seconds."""


def life_linear(capacity: Fraction, usable: Fraction, lost: Fraction, current: Fraction) -> Fraction:
    """The life (s) of a capacity (C): its usable share over the current (A) and what a year loses, as a steady current.

    Raises ZeroDivisionError where nothing draws and nothing is lost.
    """
    return capacity * usable / (current + lost * capacity / YEAR)


def life_exponential(capacity: float, usable: float, lost: float, current: float) -> float:
    """The same where each year takes a share of what is left: ln(1 + rate Q / I) / rate. An estimate."""
    if not lost:
        return capacity * usable / current
    rate = -log(1 - lost) / YEAR
    return log(1 + rate * capacity * usable / current) / rate


def loaded_voltage(open_circuit: Fraction, current: Fraction, resistance: Fraction) -> Fraction:
    """What is left of a cell's voltage under a current."""
    return open_circuit - current * resistance


def largest_pulse(open_circuit: Fraction, least: Fraction, resistance: Fraction) -> Fraction:
    """The largest current (A) under which a cell keeps a least voltage."""
    return (open_circuit - least) / resistance


def least_capacitor(current: Fraction, time: Fraction, droop: Fraction, resistance: Fraction = Fraction(0)) -> Fraction:
    """The capacitor (F) that carries a pulse (A, s) within a droop (V), its own resistance (ohm) taken off.

    The cell is taken to give nothing meanwhile. Raises ValueError where the resistance alone droops more.
    """
    left = droop - current * resistance
    if left <= 0:
        raise ValueError("the capacitor's own resistance droops more than is allowed")
    return current * time / left


def capacity_at(drain: Fraction, points: Sequence[tuple[Fraction, Fraction]]) -> float:
    """The capacity at a drain between published points of (A, C), by the logarithm of the drain.

    Below the first point it is that of the first. Raises ValueError above the last: nothing is known there.
    """
    if drain <= points[0][0]:
        return float(points[0][1])
    for (low, most), (high, least) in pairwise(points):
        if drain <= high:
            share = (log(drain) - log(low)) / (log(high) - log(low))
            return float(most) + share * float(least - most)
    raise ValueError("no capacity is published for so large a drain")


def leakage_at(leakage: float, at: float, temperature: float, doubling: float = 10.0) -> float:
    """A leakage at another temperature (°C), doubling every so many kelvin: 10 as a rule of thumb, no source."""
    return leakage * 2 ** ((temperature - at) / doubling)
