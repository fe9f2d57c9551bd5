"""Cells by their designation: voltage, end voltage, capacity, and what their chemistry loses by lying.

Sources: designations of IEC 60086 and IEC 61951-2; capacities from makers' published tables, self-discharge from their
public answers; a figure that is not confirmed says so in `note`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

MILLIAMPERE_HOUR = Fraction(36, 10)
"""In coulomb."""


@dataclass(frozen=True, slots=True)
class Chemistry:
    """A chemistry: what it loses a year as a share, and how long a cell may lie (years: lowest, typical, highest)."""

    title: str
    self_discharge: Fraction
    shelf_life: tuple[int, int, int]
    lithium: bool = False
    rechargeable: bool = False


MANGANESE = Chemistry("lithium, manganese dioxide", Fraction(1, 100), (8, 10, 10), lithium=True)
FLUORIDE = Chemistry("lithium, carbon monofluoride", Fraction(1, 100), (8, 10, 10), lithium=True)
THIONYL = Chemistry("lithium, thionyl chloride", Fraction(1, 100), (8, 10, 10), lithium=True)
DISULFIDE = Chemistry("lithium, iron disulfide", Fraction(1, 100), (8, 10, 10), lithium=True)
ALKALINE = Chemistry("alkaline", Fraction(2, 100), (5, 7, 10))
SILVER = Chemistry("silver oxide", Fraction(2, 100), (3, 5, 5))
HYDRIDE = Chemistry("nickel-metal hydride, low self-discharge", Fraction(15, 100), (3, 5, 5), rechargeable=True)


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell: nominal and end voltage (V), typical capacity (C), a note on conditions."""

    designation: str
    chemistry: Chemistry
    nominal: Fraction
    end: Fraction
    capacity: Fraction
    note: str = ""


def _cell(
    designation: str, chemistry: Chemistry, nominal: str, end: str, milliampere_hours: int, note: str = ""
) -> Cell:
    return Cell(designation, chemistry, Fraction(nominal), Fraction(end), milliampere_hours * MILLIAMPERE_HOUR, note)


UNCONFIRMED = "figure not confirmed"
CELLS = {
    cell.designation: cell
    for cell in (
        _cell("CR2032", MANGANESE, "3.0", "2.0", 225, "at about 0.2 mA, -20 to 70 °C"),
        _cell("BR2032", FLUORIDE, "2.8", "2.25", 190, "-30 to 85 °C"),
        _cell("CR1025", MANGANESE, "3.0", "2.0", 30, "at about 43 µA"),
        _cell("CR1216", MANGANESE, "3.0", "2.0", 34, "at about 46 µA"),
        _cell("CR2016", MANGANESE, "3.0", "2.0", 90, UNCONFIRMED),
        _cell("CR2025", MANGANESE, "3.0", "2.0", 165, UNCONFIRMED),
        _cell("CR2450", MANGANESE, "3.0", "2.0", 620, UNCONFIRMED),
        _cell("CR2477", MANGANESE, "3.0", "2.0", 1000, UNCONFIRMED),
        _cell("CR17345", MANGANESE, "3.0", "2.0", 1500, UNCONFIRMED),
        _cell("CR15H270", MANGANESE, "3.0", "2.0", 800, "to 2.0 V at 100 Ω"),
        _cell("LR6", ALKALINE, "1.5", "0.8", 3000, "at 25 mA, to 0.8 V"),
        _cell("LR03", ALKALINE, "1.5", "0.8", 1200, UNCONFIRMED),
        _cell("FR6", DISULFIDE, "1.5", "0.9", 3000, "up to 1 A"),
        _cell("ER14505", THIONYL, "3.6", "2.0", 2400, "slow to wake after lying; figure not confirmed"),
        _cell("SR44", SILVER, "1.55", "1.2", 160, UNCONFIRMED),
        _cell("HR6", HYDRIDE, "1.2", "1.0", 2000, "1300 to 2850 on the market"),
    )
}

DRAIN_OF_LR6 = tuple(
    (Fraction(milliampere, 1000), hours * MILLIAMPERE_HOUR)
    for milliampere, hours in ((25, 3000), (100, 2600), (500, 1600), (1000, 1000))
)
"""Capacity (C) of an LR6 by its drain (A), to 0.8 V at 21 °C: one maker's curve, read by kurokatta.org (2019)."""
