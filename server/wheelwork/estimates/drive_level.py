"""Drive level: the power that the crystal itself turns into heat.

P = ESR × I², with the current I = 2π × f × (C_0 + C_L) × V across the crystal; for a sine V = V_pp / (2 × √2). A
current that was measured counts in place of the voltage. Too much ages or breaks the crystal, too little may not
start it. Usual limits: 0.5 to 1 µW for tuning forks, 100 to 200 µW for crystals of some MHz.

Sources: P = ESR × I²: several crystal makers' technical guides; 1.0 µW at most for tuning forks: a crystal maker's
application note on tuning forks.

Worked value: 16 MHz, 60 Ω, 3 pF, 8 pF and 1.0 V peak to peak: 9.17 µW.

>>> from wheelwork.estimates.calculators import estimate
>>> crystal = {"frequency": "16 MHz", "series_resistance": "60 ohm", "shunt_capacitance": "3 pF"}
>>> estimate(CALCULATOR, crystal | {"load_capacitance": "8 pF", "voltage": "1.0 V"}).figures[0].said()
'9.172\\xa0µW'
"""

from __future__ import annotations

from collections.abc import Container
from fractions import Fraction
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Working, say
from wheelwork.estimates.cautions import ESTIMATE, SHEET
from wheelwork.estimates.crystal_asks import FREQUENCY_OF, LOAD, SERIES, SHUNT
from wheelwork.findings import Problem
from wheelwork.quantities.units import CURRENT, POWER, VOLTAGE

ROOT_MEAN_SQUARE = "V = V_pp / (2 × sqrt(2))"
THROUGH = "I = 2 × π × f × (C_0 + C_L) × V"
DRIVE = "P = ESR × I^2"


class DriveLevel(Calculator):
    """The drive level against the crystal's limit."""

    name, title = "drive_level", "Drive level"
    place = 4
    question = "Does the oscillator drive the crystal harder than it bears?"
    formulas = (ROOT_MEAN_SQUARE, THROUGH, DRIVE)
    letters: ClassVar = {"V": "voltage across the crystal, root mean square", "P": "drive level"}
    sources = (
        "P = ESR × I²: several crystal makers’ technical guides",
        "1.0 µW at most for tuning forks: a crystal maker’s application note on tuning forks",
    )
    cautions = (ESTIMATE, SHEET)
    asks = (
        FREQUENCY_OF,
        SERIES,
        SHUNT,
        LOAD,
        Ask("voltage", "Voltage across the crystal", "quantity", "V_pp", VOLTAGE,
            Fraction(1, 1000), Fraction(100), example="1.0 V", about="peak to peak, measured with a fine probe"),
        Ask("current", "Current through it", "quantity", "I", CURRENT,
            Fraction(1, 10**9), Fraction(1), example="390 µA", about="root mean square; in place of the voltage"),
        Ask("drive_limit", "Limit of the crystal", "quantity", "P_max", POWER,
            Fraction(1, 10**9), Fraction(1), example="100 µW",
            about="from its sheet; usual are 0.5 to 1 µW for forks, 100 to 200 µW for MHz"),
    )  # fmt: skip

    def check(self, keys: Container[str]) -> Problem | None:
        """Voltage or current, and only one of them."""
        if ("voltage" in keys) != ("current" in keys):
            return None
        what = "it stands beside current" if "voltage" in keys else "is missing"
        return Problem("voltage", what, "give one of voltage and current")

    def reckon(self, given: Values) -> Outcome:
        """Drive level and current, and a verdict where the crystal's limit is given."""
        work = Working()
        work.take(self.asks, given)
        if given.has("voltage"):
            work.reckon(ROOT_MEAN_SQUARE, VOLTAGE)
            work.reckon(THROUGH, CURRENT)
        drive = work.reckon(DRIVE, POWER)
        current = Figure("current", "Current, root mean square", work.values["I"], CURRENT, letter="I")
        figures = (Figure("drive", "Drive level", drive, POWER, letter="P"), current)
        limit, steps = given.maybe("drive_limit"), tuple(work.steps)
        said = f"The crystal is driven with some {say(drive, POWER)}"
        if limit is None:
            return Outcome(f"{said}.", figures, steps, notes=("No limit of the crystal is given: not judged.",))
        stands = "of" if drive <= limit else "which is more than"
        what = f"{said}, {stands} the {say(limit, POWER)} that it bears."
        return Outcome(what, figures, steps, "inside" if drive <= limit else "over")


CALCULATOR = DriveLevel()
