"""The core's regulator: how the core's current and the supply's hang together, by its kind.

A linear regulator passes the core's current on; a buck converter passes its power on: I_supply = V_core * I_core /
(efficiency * V_supply). Where a sheet says at which supply its figures were measured they are supply currents, and at
another supply a buck's scale as measured / present. Sources: public explanations of both (linear: electronics
tutorials; buck input current: public worked example, 12 V to 3.3 V).

Worked value: 6.4 mA of a core at 1.2 V take 3.01 mA from 3.0 V at 85 %.

>>> round(float(buck_current(Fraction("0.0064"), Fraction("1.2"), Fraction(3), Fraction("0.85"))), 6)
0.003012
"""

from __future__ import annotations

from fractions import Fraction

from wheelwork.part.nodes import Part, Step

ONE = Fraction(1)


def buck_current(
    core: Fraction, volts: Fraction, supply: Fraction, efficiency: Fraction, own: Fraction = Fraction(0)
) -> Fraction:
    """The supply current (A) of a buck converter that feeds a core (A, V); `own` is what it draws by itself."""
    return volts * core / (efficiency * supply) + own


def linear_current(core: Fraction, own: Fraction = Fraction(0)) -> Fraction:
    """The supply current (A) of a linear regulator, which does not depend on the supply; `own` it draws by itself."""
    return core + own


def equal_core_current(
    volts: Fraction, supply: Fraction, efficiency: Fraction, buck: Fraction, linear: Fraction
) -> Fraction:
    """The core current (A) below which a linear regulator draws less; `buck` and `linear` they draw by themselves.

    >>> at = equal_core_current(Fraction("1.2"), Fraction(3), Fraction("0.85"), Fraction("12e-6"), Fraction("2e-6"))
    >>> round(float(at), 9)
    1.8889e-05
    """
    return (buck - linear) / (1 - volts / (efficiency * supply))


def core_factor(part: Part, step: Step, supply: Fraction | None) -> Fraction:
    """By what the sheet's figures of the core (slope and offset of a step) count at a supply (V).

    1 for a linear regulator, for a supply that is not named, and where a buck's efficiency is not stated.
    """
    regulator = part.supply
    if regulator.regulator == "linear" or not supply:
        return ONE
    if regulator.currents_at is not None:
        return regulator.currents_at / supply
    return ONE if regulator.efficiency is None else step.volts / (regulator.efficiency * supply)


def not_known(part: Part, supply: Fraction | None) -> tuple[str, ...]:
    """What a buck's figures would need to be counted: the plan's supply, the sheet's efficiency."""
    regulator = part.supply
    if regulator.regulator == "linear":
        return ()
    if not supply:
        return () if regulator.currents_at is not None else ("supply",)
    return ("efficiency",) if regulator.currents_at is None and regulator.efficiency is None else ()
