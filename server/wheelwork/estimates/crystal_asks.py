"""What several calculators ask of a crystal."""

from __future__ import annotations

from fractions import Fraction

from wheelwork.estimates.asks import Ask
from wheelwork.quantities.units import CAPACITANCE, FREQUENCY, RESISTANCE

PICOFARAD = Fraction(1, 10**12)
FROM_SHEET = "from the crystal’s sheet"
LOWEST, HIGHEST = Fraction(1000), Fraction(10**9)
"""1 kHz to 1 GHz: below and above there are no crystals."""

FREQUENCY_OF = Ask("frequency", "Frequency", "quantity", "f", FREQUENCY, LOWEST, HIGHEST, needed=True, example="16 MHz")
SHUNT = Ask(
    "shunt_capacitance", "Shunt capacitance", "quantity", "C_0", CAPACITANCE, PICOFARAD / 10, 100 * PICOFARAD,
    needed=True, example="3 pF", about=FROM_SHEET,
)  # fmt: skip
LOAD = Ask(
    "load_capacitance", "Load capacitance", "quantity", "C_L", CAPACITANCE, PICOFARAD, 100 * PICOFARAD,
    needed=True, example="9 pF", about="what the two capacitors, board and pins make",
)  # fmt: skip
SERIES = Ask(
    "series_resistance", "Series resistance at load", "quantity", "ESR", RESISTANCE, Fraction(1, 10), Fraction(10**6),
    needed=True, example="60 Ω", about=FROM_SHEET,
)  # fmt: skip
MOTIONAL = Ask(
    "motional_capacitance", "Motional capacitance", "quantity", "C_m", CAPACITANCE, PICOFARAD / 10**4, PICOFARAD,
    example="3 fF", about=FROM_SHEET,
)  # fmt: skip
