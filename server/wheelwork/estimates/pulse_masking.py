"""Calibration by masked pulses: how many pulses to leave out in a window so that a clock keeps the mean rate.

One pulse in a window is the share 1 / (f × T). Only the mean is mended: single seconds jitter. Which windows and steps
there are, the part's sheet says.

Sources: arithmetic; 32 768 Hz over 32 s is 2²⁰ pulses, 0.954 ppm each (figure from memory).

Worked value: 23.5 ppm fast at 32 768 Hz in windows of 32 s: 25 pulses leave −0.34 ppm.

>>> from wheelwork.estimates.calculators import estimate
>>> estimate(CALCULATOR, {"frequency": "32768 Hz", "window": "32 s", "error": "23.5 ppm"}).what.replace("\\xa0", " ")
'25 pulses left out in each window leave −0.3419 ppm.'
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Working, say
from wheelwork.estimates.cautions import SHEET
from wheelwork.estimates.crystal_asks import FREQUENCY_OF
from wheelwork.links.time_keeping import pulses_to_leave_out
from wheelwork.quantities.units import SHARE, TIME

STEP = "s = 1 / (f × T)"
LEFT = "r = e − m × s"


class PulseMasking(Calculator):
    """The whole number of pulses that mends an error best, and what is left."""

    name, title = "pulse_masking", "Calibration by masked pulses"
    place = 9
    question = "How many pulses are left out or added to keep the time?"
    formulas = (STEP, LEFT)
    letters: ClassVar = {
        "s": "one pulse, as a share",
        "m": "pulses left out, the nearest whole number",
        "r": "what is left",
    }
    sources = ("arithmetic; 0.954 ppm for one pulse in 32 s of 32 768 Hz: from memory",)
    cautions = ("It mends the mean only: single seconds jitter.", SHEET)
    suits = ("crystal", "resonator", "rc", "external")
    asks = (
        replace(FREQUENCY_OF, example="32.768 kHz"),
        Ask("window", "Window", "quantity", "T", TIME,
            Fraction(1, 1000), Fraction(86_400), needed=True, example="32 s", about="from the part’s sheet"),
        Ask("error", "Error to take out", "quantity", "e", SHARE,
            Fraction(-1, 2), Fraction(1, 2), needed=True, example="23.5 ppm", about="above zero: the clock is fast"),
    )  # fmt: skip

    def reckon(self, given: Values) -> Outcome:
        """Step, pulses (below 0: to be added) and what is left."""
        work = Working()
        work.take(self.asks, given)
        step = work.reckon(STEP, SHARE)
        pulses, _ = pulses_to_leave_out(given.exact("error"), given.exact("frequency"), given.exact("window"))
        work.put("m", Fraction(pulses))
        left = work.reckon(LEFT, SHARE)
        figures = (
            Figure("pulses", "Pulses left out", Fraction(pulses), letter="m"),
            Figure("step", "One pulse is", step, SHARE, letter="s"),
            Figure("left", "Error that is left", left, SHARE, letter="r"),
        )
        act = "left out" if pulses >= 0 else "added"
        count = f"{abs(pulses)} {'pulse' if abs(pulses) == 1 else 'pulses'}"
        what = f"{count} {act} in each window {'leaves' if abs(pulses) == 1 else 'leave'} {say(left, SHARE)}."
        return Outcome(what, figures, tuple(work.steps))


CALCULATOR = PulseMasking()
