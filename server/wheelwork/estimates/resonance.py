"""The two resonances: a crystal's shunt capacitance and motional inductance, from what can be measured.

f_s = 1 / (2π × √(L_m × C_m)) and f_p = f_s × √(1 + C_m / C_0), losses neglected; so C_0 = C_m / ((f_p / f_s)² − 1).

Sources: a note of passive-components.eu, both resonances; Circuit Cellar, Test Your EQ 72.

Worked value: 9.996 490 MHz, 10.017 730 MHz and 27.1 fF: 6.37 pF.

>>> from wheelwork.estimates.calculators import estimate
>>> measured = {"series_resonance": "9.996490 MHz", "parallel_resonance": "10.017730 MHz"}
>>> estimate(CALCULATOR, measured | {"motional_capacitance": "27.1 fF"}).figures[0].said()
'6.37\\xa0pF'
"""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from wheelwork.estimates.asks import Values, refuse_together
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Working, say
from wheelwork.estimates.cautions import ESTIMATE, SHEET
from wheelwork.estimates.crystal_asks import FREQUENCY_OF, MOTIONAL
from wheelwork.quantities.units import CAPACITANCE, FREQUENCY, INDUCTANCE, write_quantity

SHUNT = "C_0 = C_m / ((f_p / f_s)^2 − 1)"
INDUCTANCE_OF = "L_m = 1 / ((2 × π × f_s)^2 × C_m)"


class Resonance(Calculator):
    """Shunt capacitance and motional inductance from the two resonances."""

    name, title = "resonance", "Shunt capacitance from two resonances"
    place = 10
    question = "What is the crystal’s shunt capacitance, when its sheet does not say?"
    formulas = (SHUNT, INDUCTANCE_OF)
    letters: ClassVar = {"C_0": "shunt capacitance", "L_m": "motional inductance"}
    sources = ("passive-components.eu, note on both resonances", "Circuit Cellar, Test Your EQ 72")
    cautions = (ESTIMATE, SHEET)
    asks = (
        replace(FREQUENCY_OF, key="series_resonance", title="Series resonance", letter="f_s", example="9.99649 MHz"),
        replace(
            FREQUENCY_OF, key="parallel_resonance", title="Parallel resonance", letter="f_p", example="10.01773 MHz"
        ),
        replace(MOTIONAL, needed=True, example="27.1 fF"),
    )

    def reckon(self, given: Values) -> Outcome:
        """Both values, losses neglected."""
        series, parallel = given.exact("series_resonance"), given.exact("parallel_resonance")
        if parallel <= series:
            raise refuse_together(
                "parallel_resonance",
                f"'{write_quantity(parallel, FREQUENCY)}' is not above the series resonance",
                f"write one above {write_quantity(series, FREQUENCY)}",
            )
        work = Working()
        work.take(self.asks, given)
        shunt, inductance = work.reckon(SHUNT, CAPACITANCE), work.reckon(INDUCTANCE_OF, INDUCTANCE)
        figures = (
            Figure("shunt", "Shunt capacitance", shunt, CAPACITANCE, letter="C_0"),
            Figure("inductance", "Motional inductance", inductance, INDUCTANCE, letter="L_m"),
        )
        return Outcome(f"The shunt capacitance is {say(shunt, CAPACITANCE)}.", figures, tuple(work.steps))


CALCULATOR = Resonance()
