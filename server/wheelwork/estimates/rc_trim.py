"""RC oscillator: between which frequencies it is, and what a trim leaves.

f_min = f × (1 + lowest), f_max = f × (1 + highest): the two sides are often unlike, and both are kept. Trimming in
steps of a share s leaves at most s / 2 at the conditions of the trim; the count itself resolves 1 / (f × gate).
Trimming cures the offset at one temperature, never the drift, and steps may run backwards where a digit carries.

Sources: usual tolerances from a small controller's data sheet (±10 % as delivered, ±1 % by the user's calibration);
±30 % for watchdog oscillators, a published programming guide; All About Circuits, 2019, on trimming.

Worked value: 16 MHz at −1.5 % .. +1 % is 15.76 to 16.16 MHz.

>>> from wheelwork.estimates.calculators import estimate
>>> outcome = estimate(CALCULATOR, {"frequency": "16 MHz", "tolerance": "-1.5 % .. +1 %"})
>>> outcome.figures[0].lowest, outcome.figures[0].highest
(Fraction(15760000, 1), Fraction(16160000, 1))
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import ceil
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Working
from wheelwork.estimates.cautions import CORNERS, SHEET, TYPICAL
from wheelwork.estimates.crystal_asks import FREQUENCY_OF
from wheelwork.quantities.spans import Span, say_tolerance
from wheelwork.quantities.units import FREQUENCY, SHARE, TIME, say_frequency

LOWEST, HIGHEST = "f_min = f × (1 + t_low)", "f_max = f × (1 + t_high)"
RESIDUAL = "r = s / 2"
RESOLVED = "q = 1 / (f × T)"


class RcTrim(Calculator):
    """The span of an RC oscillator, and what trimming it leaves."""

    name, title = "rc_trim", "RC oscillator and its trim"
    place = 7
    question = "Between which frequencies is it, and what does a trim leave?"
    formulas = (LOWEST, HIGHEST, RESIDUAL, RESOLVED)
    letters: ClassVar = {
        "t_low": "lower end of the tolerance",
        "t_high": "upper end of the tolerance",
        "f_min": "lowest frequency",
        "f_max": "highest frequency",
        "r": "what a trim leaves at most",
        "q": "what the count resolves",
    }
    sources = (
        "usual tolerances: a small controller’s data sheet (±10 % as delivered, ±1 % calibrated by the user)",
        "±30 % of watchdog oscillators: a published programming guide",
        "trimming: All About Circuits, 2019",
    )
    cautions = (
        "Trimming cures the offset at one temperature, never the drift; steps may run backwards where a digit carries.",
        TYPICAL, CORNERS, SHEET,
    )  # fmt: skip
    suits = ("rc",)
    asks = (
        replace(FREQUENCY_OF, about="nominal"),
        Ask("tolerance", "Tolerance", "tolerance", "", None, Fraction(-99, 100), Fraction(1), needed=True,
            example="-1.5 % .. +1 %", about="over temperature and supply, from the part’s sheet"),
        Ask("trim_step", "One step of the trim", "quantity", "s", SHARE,
            Fraction(1, 10**7), Fraction(1, 2), example="0.4 %", about="left out: it is not trimmed"),
        Ask("drift", "Drift after the trim", "tolerance", "", None, Fraction(-99, 100), Fraction(1),
            example="±1 %", about="over temperature and supply"),
        Ask("gate", "Time that is counted", "quantity", "T", TIME,
            Fraction(1, 10**6), Fraction(3600), example="10 ms", about="against the reference, for the trim"),
    )  # fmt: skip

    def reckon(self, given: Values) -> Outcome:
        """Lowest and highest; with a trim what it leaves, its steps to each side, and the tolerance after it."""
        work, span = Working(), given.span("tolerance")
        work.take(self.asks, given)
        work.put("t_low", span.lowest, SHARE)
        work.put("t_high", span.highest, SHARE)
        lowest, highest = Fraction(work.reckon(LOWEST, FREQUENCY)), Fraction(work.reckon(HIGHEST, FREQUENCY))
        figures = [Figure("frequency", "Frequency", given.exact("frequency"), FREQUENCY, lowest, highest, "f")]
        what = f"It is between {say_frequency(lowest)} and {say_frequency(highest)}."
        if not given.has("trim_step"):
            notes = tuple(
                f"{title} counts only with a step of the trim, which is not given."
                for key, title in (("drift", "The drift"), ("gate", "The time that is counted"))
                if given.has(key)
            )
            return Outcome(what, tuple(figures), tuple(work.steps), notes=notes, tolerance=span)
        after = self._trim(work, figures, given)
        what = f"{what} Trimmed it keeps {say_tolerance(after)}."
        notes = () if given.has("drift") else ("No drift is given: what is left holds only where it was trimmed.",)
        return Outcome(what, tuple(figures), tuple(work.steps), notes=notes, tolerance=after)

    def _trim(self, work: Working, figures: list[Figure], given: Values) -> Span:
        """Add the figures of the trim; the tolerance after it."""
        span, step = given.span("tolerance"), given.exact("trim_step")
        left = Fraction(work.reckon(RESIDUAL, SHARE))
        resolved = Fraction(work.reckon(RESOLVED, SHARE)) if given.has("gate") else Fraction(0)
        drift = given.maybe_span("drift") or Span(Fraction(0), Fraction(0))
        after = Span(drift.lowest - left - resolved, drift.highest + left + resolved)
        figures.append(Figure("residual", "A trim leaves at most", left, SHARE, letter="r"))
        steps = Fraction(ceil(max(abs(span.lowest), abs(span.highest)) / step))
        figures.append(Figure("steps", "Steps needed to each side", steps))
        if given.has("gate"):
            figures.append(Figure("resolution", "The count resolves", resolved, SHARE, letter="q"))
        figures.append(Figure("after", "Tolerance after the trim", None, SHARE, after.lowest, after.highest))
        return after


CALCULATOR = RcTrim()
