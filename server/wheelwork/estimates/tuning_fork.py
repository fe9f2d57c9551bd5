"""Tuning fork: how slow a watch crystal is over a span of temperatures.

d = B × (T − T_0)²: with B below zero the fork is slow everywhere but at its turnover T_0, so the error is one-sided
and never a ±. The lowest is that of the crystal with the steepest curve and the turnover farthest from an end of the
span.

Sources: tuning-fork data sheet TF20 (B −0.030 ± 0.010 ppm/K², T_0 25 ± 5 °C, with a worked example); a real-time-clock
maker publishes −0.042 ppm/K²; the default is the curve of Seiko Epson's RX4111CE (ETM62E-02) and RX8130CE (ETM50E-07)
manuals.

Worked value: −0.030 ppm/K² at 45 °C: 12.0 ppm slow.

>>> from wheelwork.estimates.calculators import estimate
>>> one = {"coefficient": "-0.030 ppm/K²", "coefficient_spread": "0 ppm/K²", "turnover_spread": "0 K"}
>>> estimate(CALCULATOR, one | {"temperatures": "45 °C"}).what.replace("\\xa0", " ")
'At 45 °C the crystal is 12 ppm slow at most.'
"""

from __future__ import annotations

from fractions import Fraction
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values, refuse_together
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, Working, say
from wheelwork.estimates.cautions import SHEET, TYPICAL
from wheelwork.estimates.ppm_budget import clock_errors, into_budget
from wheelwork.links.time_keeping import PARABOLAS, ROOM, Parabola, deviation, deviation_span
from wheelwork.quantities.numbers import MINUS
from wheelwork.quantities.spans import Span, write_temperatures
from wheelwork.quantities.units import CURVATURE, SHARE, TEMPERATURE, WARMING, write_quantity

PPM = Fraction(1, 10**6)
USUAL = PARABOLAS[-1]
SLOW = "d = B × (T − T_0)^2"
STEEPEST = "d_min = B_min × ΔT^2"


def _middle(span: Span) -> Fraction:
    return (span.lowest + span.highest) / 2


class TuningFork(Calculator):
    """The one-sided error of a watch crystal over temperature."""

    name, title = "tuning_fork", "Tuning fork over temperature"
    place = 6
    question = "How slow is the watch crystal between the lowest and highest temperature?"
    formulas = (SLOW, STEEPEST)
    letters: ClassVar = {
        "d": "how far the typical crystal is off, a share",
        "T": "end of the span that is farther from the turnover",
        "d_min": "slowest that any crystal of the curve can be",
        "B_min": "steepest coefficient",
        "ΔT": "farthest that an end of the span is from any turnover",
    }
    sources = (
        "tuning-fork data sheet TF20, with a worked example",
        "−0.042 ppm/K²: a real-time-clock maker",
        f"default curve: {USUAL.source}",
    )
    cautions = ("The error is one-sided: the clock is slow, on both ends of the temperatures.", TYPICAL, SHEET)
    up_to = Fraction(200_000)  # forks are made up to about this frequency: from memory
    asks = (
        Ask("temperatures", "Temperatures", "temperatures", needed=True, example="-20 °C .. 70 °C"),
        Ask("coefficient", "Parabolic coefficient", "quantity", "B", CURVATURE, -PPM, -PPM / 10**4,
            default=write_quantity(_middle(USUAL.coefficient), CURVATURE), example="-0.034 ppm/K²",
            about="from the crystal’s sheet; else the usual curve"),
        Ask("coefficient_spread", "Its spread, to both sides", "quantity", "", CURVATURE, Fraction(0), PPM,
            default=write_quantity(USUAL.coefficient.highest - _middle(USUAL.coefficient), CURVATURE),
            example="0.006 ppm/K²"),
        Ask("turnover", "Turnover", "quantity", "T_0", TEMPERATURE, Fraction(-50), Fraction(150),
            default=write_quantity(ROOM, TEMPERATURE), example="25 °C"),
        Ask("turnover_spread", "Its spread, to both sides", "quantity", "", WARMING, Fraction(0), Fraction(50),
            default=write_quantity(USUAL.turnover.highest - ROOM, WARMING), example="5 K"),
    )  # fmt: skip

    def reckon(self, given: Values) -> Outcome:
        """Lowest, typical and highest over the span, and the clock error."""
        work, span = Working(), given.span("temperatures")
        work.take(self.asks, given)
        curve = self._curve(given)
        middle, top = given.exact("coefficient"), given.exact("turnover")
        farther = max((span.lowest, span.highest), key=lambda end: abs(end - top))
        work.put("T", farther, TEMPERATURE)
        typical = Fraction(work.reckon(SLOW, SHARE))
        work.put("B_min", curve.coefficient.lowest, CURVATURE)
        farthest = max(span.highest - curve.turnover.lowest, curve.turnover.highest - span.lowest)
        work.put("ΔT", farthest, WARMING)
        work.reckon(STEEPEST, SHARE)
        found = deviation_span(curve, span)
        figures = (
            Figure("deviation", "Frequency is off by", typical, SHARE, found.lowest, found.highest, "d"),
            *clock_errors(found, deviation(farther, middle, top)),
        )
        at = write_temperatures(span).replace("-", MINUS).replace(" .. ", " to ")
        place = f"At {at}" if span.lowest == span.highest else f"Over {at}"
        slow = f"{say(-found.lowest, SHARE)} slow at most" if found.lowest else "not slow"
        onward = (into_budget("temperature", found),)
        return Outcome(f"{place} the crystal is {slow}.", figures, tuple(work.steps), tolerance=found, onward=onward)

    def _curve(self, given: Values) -> Parabola:
        coefficient, off = given.exact("coefficient"), given.exact("coefficient_spread")
        top, apart = given.exact("turnover"), given.exact("turnover_spread")
        if coefficient + off > 0:
            raise refuse_together(
                "coefficient_spread",
                f"with {write_quantity(off, CURVATURE)} the coefficient could be above zero",
                f"at most {write_quantity(-coefficient, CURVATURE)} is allowed beside it",
            )
        return Parabola(Span(coefficient - off, coefficient + off), Span(top - apart, top + apart), "given")


CALCULATOR = TuningFork()
