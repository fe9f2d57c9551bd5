"""Start-up: how long until the oscillation has grown from noise to its full swing. An order of magnitude.

It grows by e in each τ = 2 × L_m / (|R_neg| − R_m), so t = τ × ln(growth), some 12 to 14 τ. The motional inductance
L_m is given, or follows from frequency and motional capacitance. A negative resistance that is no larger than the
motional one starts nothing. Where the part's sheet states a longest start-up time, that one holds.

Sources: Vittoz, Degrauwe and Bitz, IEEE JSSC 23(3), 1988; Vittoz, Low-Power Crystal and MEMS Oscillators, 2010 (both
from memory).

Worked value: 8.4 mH, 400 Ω against 40 Ω, growth by a million: 0.64 ms.

>>> from wheelwork.estimates.calculators import estimate
>>> swing = {"motional_inductance": "8.4 mH", "negative_resistance": "400 ohm", "motional_resistance": "40 ohm"}
>>> estimate(CALCULATOR, swing).figures[0].said()
'644.7\\xa0µs'
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace
from fractions import Fraction
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Working, say
from wheelwork.estimates.cautions import ESTIMATE, SHEET
from wheelwork.estimates.crystal_asks import FREQUENCY_OF, MOTIONAL
from wheelwork.findings import Problem
from wheelwork.quantities.units import INDUCTANCE, RESISTANCE, TIME

INDUCTANCE_OF = "L_m = 1 / ((2 × π × f)^2 × C_m)"
CONSTANT = "τ = 2 × L_m / (R_neg − R_m)"
START = "t = τ × ln(G)"


class StartUp(Calculator):
    """The order of magnitude of the start-up time."""

    name, title = "start_up", "Start-up time"
    place = 5
    question = "About how long does the crystal take to start?"
    formulas = (INDUCTANCE_OF, CONSTANT, START)
    letters: ClassVar = {"τ": "time in which it grows by e", "t": "start-up time"}
    sources = (
        "Vittoz, Degrauwe and Bitz, IEEE JSSC 23(3), 1988 (from memory)",
        "Vittoz, Low-Power Crystal and MEMS Oscillators, 2010 (from memory)",
    )
    cautions = (ESTIMATE, SHEET)
    asks = (
        replace(FREQUENCY_OF, needed=False, about="with the motional capacitance, in place of the inductance"),
        replace(MOTIONAL, about="from the crystal’s sheet, in place of the inductance"),
        Ask("motional_inductance", "Motional inductance", "quantity", "L_m", INDUCTANCE,
            Fraction(1, 10**7), Fraction(10**6), example="8.4 mH", about="counts before frequency and capacitance"),
        Ask("negative_resistance", "Negative resistance", "quantity", "R_neg", RESISTANCE,
            Fraction(1), Fraction(10**8), needed=True, example="400 Ω", about="its size at the start, lowest"),
        Ask("motional_resistance", "Motional resistance", "quantity", "R_m", RESISTANCE,
            Fraction(1, 10), Fraction(10**6), needed=True, example="40 Ω", about="highest on the crystal’s sheet"),
        Ask("growth", "Growth from noise to full swing", "number", "G", None,
            Fraction(10), Fraction(10**12), default="1000000", example="1000000", about="100 000 to 1 000 000"),
    )  # fmt: skip

    def check(self, keys: Container[str]) -> Problem | None:
        """The inductance, or what it follows from."""
        if "motional_inductance" in keys or ("frequency" in keys and "motional_capacitance" in keys):
            return None
        instead = 'write "8.4 mH", or frequency and motional_capacitance'
        return Problem("motional_inductance", "is missing", instead)

    def reckon(self, given: Values) -> Outcome:
        """The time, its constant and the inductance; `under` where nothing starts."""
        work = Working()
        work.take(self.asks, given)
        if not given.has("motional_inductance"):
            work.reckon(INDUCTANCE_OF, INDUCTANCE)
        inductance = Figure("inductance", "Motional inductance", work.values["L_m"], INDUCTANCE, letter="L_m")
        negative, lost = given.exact("negative_resistance"), given.exact("motional_resistance")
        if negative <= lost:
            what = (
                f"It does not start: the negative resistance of {say(negative, RESISTANCE)} does not make up for the "
                f"{say(lost, RESISTANCE)} that the crystal loses."
            )
            return Outcome(what, (inductance,), tuple(work.steps), "under")
        constant = work.reckon(CONSTANT, TIME)
        start = work.reckon(START, TIME)
        figures = (
            Figure("start_up", "Start-up time, order of magnitude", start, TIME, letter="t"),
            Figure("constant", "It grows by e in", constant, TIME, letter="τ"),
            inductance,
        )
        what = f"The crystal takes some {say(round_figure(start), TIME)} to start, as an order of magnitude."
        return Outcome(what, figures, tuple(work.steps))


def round_figure(value: Fraction | float) -> Fraction:
    """A time with as many figures as an order of magnitude bears: one.

    >>> round_figure(0.0006447)
    Fraction(3, 5000)
    """
    return Fraction(f"{float(value):.0e}")


CALCULATOR = StartUp()
