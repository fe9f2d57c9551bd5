"""Gain margin: whether the oscillator's transconductance starts the crystal with something to spare.

g_crit = 4 × ESR × (2π × f)² × (C_0 + C_L)² is the least that keeps a Pierce oscillator with equal capacitors going;
the part's guaranteed transconductance should be at least five times that. Some makers state the largest ESR, or the
largest g_crit, in its place: each is taken. ESR is the resistance at the load; only where the crystal's sheet gives
the motional resistance R_m is it ESR = R_m × (1 + C_0 / C_L)², once. A resistor in series with the crystal adds to
it.

Sources: Vittoz, Degrauwe and Bitz, IEEE JSSC 23(3), 1988 (from memory); The Crystal-Clear Truth About Critical
Transconductance, Electronic Design, 2026; a published oscillator design guide; margin 5: Wikibooks Practical
Electronics and tgscrystals.com, which says 5 to 10.

Worked value: 80 Ω, 16 MHz, 7 pF and 9 pF need 0.828 mA/V; 17 mA/V are 20.5 times that.

>>> from wheelwork.estimates.calculators import estimate
>>> crystal = {"frequency": "16 MHz", "series_resistance": "80 ohm", "shunt_capacitance": "7 pF"}
>>> estimate(CALCULATOR, crystal | {"load_capacitance": "9 pF", "transconductance": "17 mA/V"}).what
'The gain margin is 20.53, at least 5 is asked for.'
"""

from __future__ import annotations

from collections.abc import Container
from fractions import Fraction
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Verdict, Working, say
from wheelwork.estimates.cautions import CORNERS, ESTIMATE, SHEET, TYPICAL
from wheelwork.estimates.crystal_asks import FREQUENCY_OF, LOAD, SHUNT
from wheelwork.findings import Problem
from wheelwork.quantities.units import RESISTANCE, TRANSCONDUCTANCE

AT_LOAD = "ESR = R_m × (1 + C_0 / C_L)^2"
CRITICAL = "g_crit = 4 × (ESR + R_x) × (2 × π × f)^2 × (C_0 + C_L)^2"
MARGIN = "M = g_m / g_crit"
BY_ESR = "M_ESR = ESR_max / (ESR + R_x)"
BY_CRITICAL = "M_g = g_max / g_crit"
OHM, SIEMENS = Fraction(1), Fraction(1)


class GainMargin(Calculator):
    """The transconductance that is needed, and how many times that is there."""

    name, title = "gain_margin", "Gain margin"
    place = 3
    question = "Does the oscillator start this crystal with enough to spare?"
    formulas = (AT_LOAD, CRITICAL, MARGIN, BY_ESR, BY_CRITICAL)
    letters: ClassVar = {
        "ESR": "series resistance at the load",
        "g_crit": "least transconductance that keeps it going",
        "M": "gain margin",
        "M_ESR": "room to the largest resistance stated",
        "M_g": "room to the largest critical transconductance stated",
    }
    sources = (
        "Vittoz, Degrauwe and Bitz, IEEE JSSC 23(3), 1988 (from memory)",
        "The Crystal-Clear Truth About Critical Transconductance, Electronic Design, 2026",
        "a published oscillator design guide",
        "margin of 5: Wikibooks Practical Electronics; 5 to 10: tgscrystals.com",
    )
    cautions = (ESTIMATE, TYPICAL, CORNERS, SHEET)
    asks = (
        FREQUENCY_OF,
        SHUNT,
        LOAD,
        Ask("series_resistance", "Series resistance at load", "quantity", "ESR", RESISTANCE,
            OHM / 10, 10**6 * OHM, example="80 Ω", about="highest on the crystal’s sheet; or the motional one"),
        Ask("motional_resistance", "Motional resistance", "quantity", "R_m", RESISTANCE,
            OHM / 10, 10**6 * OHM, example="40 Ω", about="only where the sheet gives no resistance at load"),
        Ask("added_resistance", "Resistor in series", "quantity", "R_x", RESISTANCE,
            Fraction(0), 10**6 * OHM, default="0 Ω", example="0 Ω", about="between oscillator and crystal"),
        Ask("transconductance", "Transconductance of the oscillator", "quantity", "g_m", TRANSCONDUCTANCE,
            SIEMENS / 10**9, 10 * SIEMENS, example="5 mA/V", about="lowest that the part’s sheet guarantees"),
        Ask("critical_most", "Largest critical transconductance", "quantity", "g_max", TRANSCONDUCTANCE,
            SIEMENS / 10**9, 10 * SIEMENS, example="1 mA/V", about="where the part’s sheet states that instead"),
        Ask("resistance_most", "Largest resistance it drives", "quantity", "ESR_max", RESISTANCE,
            OHM / 10, 10**7 * OHM, example="120 Ω", about="where the part’s sheet states that instead"),
        Ask("least_margin", "Margin asked for", "number", "", None,
            Fraction(1), Fraction(100), default="5", example="5", about="5 to 10 are usual"),
    )  # fmt: skip

    def check(self, keys: Container[str]) -> Problem | None:
        """One resistance of the crystal, and only one."""
        at_load, motional = "series_resistance" in keys, "motional_resistance" in keys
        if at_load and motional:
            what = "it stands beside series_resistance, which already holds it at the load"
            return Problem("motional_resistance", what, "give one of the two")
        if at_load or motional:
            return None
        instead = 'write "80 Ω", or motional_resistance where the sheet gives that'
        return Problem("series_resistance", "is missing", instead)

    def reckon(self, given: Values) -> Outcome:
        """Critical transconductance, the margin, and a verdict on whatever the part's sheet states."""
        work = Working()
        work.take(self.asks, given)
        if given.has("motional_resistance"):
            work.reckon(AT_LOAD, RESISTANCE)
        critical = work.reckon(CRITICAL, TRANSCONDUCTANCE)
        needed = [Figure("critical", "Transconductance needed at least", critical, TRANSCONDUCTANCE, letter="g_crit")]
        if given.has("motional_resistance"):
            needed.append(
                Figure("series_resistance", "Resistance at load", work.values["ESR"], RESISTANCE, letter="ESR")
            )
        judged, figures = [], []
        least = given.exact("least_margin")
        for key, formula, title, bound in (
            ("transconductance", MARGIN, "Gain margin", least),
            ("critical_most", BY_CRITICAL, "Room to the largest critical transconductance", Fraction(1)),
            ("resistance_most", BY_ESR, "Room to the largest resistance", Fraction(1)),
        ):
            if given.has(key):
                margin = work.reckon(formula)
                judged.append((margin >= bound, title, margin, bound))
                name = {"transconductance": "margin"}.get(key, f"room_to_{key}")
                figures.append(Figure(name, title, margin, letter=formula.partition(" =")[0]))
        return Outcome(_say(judged, critical), (*figures, *needed), tuple(work.steps), _verdict(judged), _notes(judged))


Judged = list[tuple[bool, str, Fraction | float, Fraction]]


def _verdict(judged: Judged) -> Verdict | None:
    if not judged:
        return None
    return "inside" if all(holds for holds, *_ in judged) else "under"


def _say(judged: Judged, critical: Fraction | float) -> str:
    """The result in one sentence, that of what fails first."""
    if not judged:
        return f"The oscillator must have {say(critical, TRANSCONDUCTANCE)} at least, and some times that to be sure."
    holds, title, margin, bound = min(judged, key=lambda each: each[0])
    if title != "Gain margin":
        stands = "within" if holds else "outside"
        return f"The crystal is {stands} what the oscillator is stated to drive, {say(margin, None)} times."
    if holds:
        return f"The gain margin is {say(margin, None)}, at least {say(bound, None)} is asked for."
    never = " At this it need not start at all." if margin < 1 else ""
    return f"The gain margin is only {say(margin, None)}, at least {say(bound, None)} is asked for.{never}"


def _notes(judged: Judged) -> tuple[str, ...]:
    if judged:
        return ()
    return ("No transconductance of the oscillator is given, so the margin is not judged.",)


CALCULATOR = GainMargin()
