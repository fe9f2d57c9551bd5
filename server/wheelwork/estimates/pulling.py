"""Pulling: how far a load other than the one a crystal is made for moves its frequency.

d = C_m / 2 × (1 / (C_0 + C_real) − 1 / (C_0 + C_nom)): more load lowers the frequency. The slope at the nominal load,
s = −C_m / (2 × (C_0 + C_nom)²), serves for small differences, up to about 1 pF; the difference is reckoned for all.

Sources: two public crystal design pages, both forms.

Worked value: 10 fF, 3 pF, a load of 20 pF instead of 18 pF: 20.7 ppm slow.

>>> sheet = {"motional_capacitance": "10 fF", "shunt_capacitance": "3 pF"}
>>> from wheelwork.estimates.calculators import estimate
>>> loads = {"nominal_load": "18 pF", "real_load": "20 pF"}
>>> round(float(estimate(CALCULATOR, sheet | loads).figures[0].value) * 1e6, 1)
-20.7
"""

from __future__ import annotations

from fractions import Fraction
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Working, say
from wheelwork.estimates.cautions import ESTIMATE, SHEET
from wheelwork.estimates.ppm_budget import into_budget, offset_into_budget
from wheelwork.quantities.spans import Span
from wheelwork.quantities.units import CAPACITANCE, PULLING, SHARE

FEMTOFARAD, PICOFARAD = Fraction(1, 10**15), Fraction(1, 10**12)
PULLED = "d = C_m / 2 × (1 / (C_0 + C_real) − 1 / (C_0 + C_nom))"
SLOPE = "s = −C_m / (2 × (C_0 + C_nom)^2)"


def pulled(motional: Fraction, shunt: Fraction, real: Fraction, nominal: Fraction) -> Fraction:
    """How far the frequency is off (share) with a real load in place of the nominal one (farad)."""
    return motional / 2 * (1 / (shunt + real) - 1 / (shunt + nominal))


class Pulling(Calculator):
    """The share by which a load moves the frequency."""

    name, title = "pulling", "Pulling by the load"
    place = 2
    question = "How far off is the frequency with the load it really has?"
    formulas = (PULLED, SLOPE)
    letters: ClassVar = {"d": "how far the frequency is off, a share", "s": "slope at the nominal load"}
    sources = ("two public crystal design pages, both forms",)
    cautions = (ESTIMATE, SHEET)
    asks = (
        Ask("motional_capacitance", "Motional capacitance", "quantity", "C_m", CAPACITANCE,
            FEMTOFARAD / 10, 1000 * FEMTOFARAD, needed=True, example="10 fF", about="from the crystal’s sheet"),
        Ask("shunt_capacitance", "Shunt capacitance", "quantity", "C_0", CAPACITANCE,
            PICOFARAD / 10, 100 * PICOFARAD, needed=True, example="3 pF", about="from the crystal’s sheet"),
        Ask("nominal_load", "Load it is made for", "quantity", "C_nom", CAPACITANCE,
            PICOFARAD, 100 * PICOFARAD, needed=True, example="18 pF", about="from the crystal’s sheet"),
        Ask("real_load", "Load it really has", "quantity", "C_real", CAPACITANCE,
            PICOFARAD, 200 * PICOFARAD, needed=True, example="20 pF", about="see load capacitors"),
        Ask("load_tolerance", "Tolerance of that load", "tolerance", "", None,
            Fraction(-9, 10), Fraction(9, 10), example="±4 %", about="left out: none"),
    )  # fmt: skip

    def reckon(self, given: Values) -> Outcome:
        """The pulling at the real load, with its span where the load has a tolerance, and the slope."""
        work = Working()
        work.take(self.asks, given)
        off = Fraction(work.reckon(PULLED, SHARE))
        slope = work.reckon(SLOPE, PULLING)
        spread = self._spread(given)
        figures = (
            Figure(
                "pulling", "Frequency is off by", off, SHARE,
                spread.lowest if spread else None, spread.highest if spread else None, "d",
            ),
            Figure("slope", "Slope at the nominal load", slope, PULLING, letter="s"),
        )  # fmt: skip
        way = "as wanted" if off == 0 else f"{say(abs(off), SHARE)} {'fast' if off > 0 else 'slow'}"
        span = f", {say(spread.lowest, SHARE)} to {say(spread.highest, SHARE)} with its tolerance" if spread else ""
        what = f"With {say(given.exact('real_load'), CAPACITANCE)} the crystal runs {way}{span}."
        onward = offset_into_budget(off) if spread is None else into_budget("load", spread)
        return Outcome(what, figures, tuple(work.steps), tolerance=spread, onward=(onward,))

    def _spread(self, given: Values) -> Span | None:
        """The ends of the pulling; the larger load makes the lower frequency."""
        tolerance = given.maybe_span("load_tolerance")
        if tolerance is None:
            return None
        motional, shunt = given.exact("motional_capacitance"), given.exact("shunt_capacitance")
        real, nominal = given.exact("real_load"), given.exact("nominal_load")
        low, high = (
            pulled(motional, shunt, real * (1 + off), nominal) for off in (tolerance.highest, tolerance.lowest)
        )
        return Span(low, high)


CALCULATOR = Pulling()
