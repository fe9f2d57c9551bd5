"""Frequency budget: how far the clock may be off in its life, all that moves it summed.

The worst case is the plain sum of every term, each side by itself, so that what errs to one side only stays
one-sided. The mixed rule puts under the root only what is independent and as likely to either side (initial,
temperature, load, circuit), and adds to it in full what drifts or is known: ageing × years, a known offset, every
one-sided term. A standard is checked with the worst case unless one chooses otherwise. The temperature of an AT cut
is already an extreme, so the root understates it.

Sources: linear sum, a real-time-clock maker's FAQ 99; root of the sum of squares and the mixed rule, common practice,
no source.

Worked value: ±10 ppm, ±20 ppm over temperature, ±3 ppm a year for 5 years, ±5 ppm of the load: ±50 ppm, mixed ±37.9
ppm.

>>> from wheelwork.estimates.calculators import estimate
>>> terms = {"initial": "±10 ppm", "temperature": "±20 ppm", "ageing": "±3 ppm", "years": 5, "load": "±5 ppm"}
>>> [figure.said() for figure in estimate(CALCULATOR, terms).figures[:2]]
['−50\\xa0ppm to 50\\xa0ppm', '−37.91\\xa0ppm to 37.91\\xa0ppm']
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Figure, Onward, Outcome, Verdict, Working, say
from wheelwork.estimates.cautions import SHEET, TYPICAL
from wheelwork.findings import Problem
from wheelwork.formulas.expressions import Number
from wheelwork.links.time_keeping import seconds_gained
from wheelwork.quantities.spans import Span, say_tolerance, write_tolerance
from wheelwork.quantities.units import SHARE, TIME, Unit, write_quantity

YEAR = Fraction(1461, 4)
DAY = Fraction(86_400)
MOST = Fraction(1, 2)
CLOCK_ERROR = Unit("clock error", TIME.units, "1 s", ("min", "s", "ms", "µs"))
"""A time as it is told of a clock that gains or loses: in minutes from one minute on."""
SIDES = ("low", "high")


def _term(key: str, title: str, letter: str, example: str, about: str) -> Ask:
    return Ask(key, title, "tolerance", letter, None, -MOST, MOST, example=example, about=about)


TERMS = (
    _term("initial", "Initial tolerance", "i", "±10 ppm", "at 25 °C, as delivered"),
    _term("temperature", "Over temperature", "t", "±20 ppm", "a fork errs to one side: −100 ppm to 0 ppm"),
    _term("load", "Load", "l", "±5 ppm", "what board and capacitors pull, see pulling"),
    _term("circuit", "Oscillator circuit", "c", "±2 ppm", "supply, drive"),
)
AGEING = _term("ageing", "Ageing in a year", "a", "±3 ppm", "times the years")


@dataclass(frozen=True, slots=True)
class Budget:
    """The sums of a budget, each side by itself (shares)."""

    worst: Span
    mixed: tuple[Number, Number]
    statistical: tuple[Number, Number]


class PpmBudget(Calculator):
    """Worst case and mixed rule of a frequency's errors."""

    name, title = "ppm_budget", "Frequency budget"
    place = 8
    question = "How far off may the clock be in its life, all together?"
    formulas = (
        "w = i + t + l + c + y × a + o",
        "m = y × a + o + sqrt(i^2 + t^2 + l^2 + c^2)",
        "R = o + sqrt(i^2 + t^2 + l^2 + c^2 + (y × a)^2)",
    )
    letters: ClassVar = {
        "w": "worst case, for each side by itself",
        "m": "mixed rule, for each side by itself",
        "R": "root of all squares, for comparison only",
    }
    sources = (
        "linear sum: a real-time-clock maker’s FAQ 99",
        "root of the sum of squares, mixed rule: common practice, no source",
        "a year of 365.25 days",
    )
    cautions = (
        "Standards are checked with the worst case. The temperature figure of an AT cut is already an extreme, so the "
        "root understates it.",
        TYPICAL, SHEET,
    )  # fmt: skip
    suits = ("crystal", "resonator", "rc", "external")
    asks = (
        *TERMS,
        AGEING,
        Ask("years", "Years", "number", "y", None, Fraction(0), Fraction(100), default="10", example="10",
            about="how long it serves"),
        Ask("offset", "Known offset", "quantity", "o", SHARE, -MOST, MOST, example="-20 ppm", about="with its sign"),
        Ask("limit", "Limit of a standard", "tolerance", "", None, -MOST, MOST, example="±50 ppm"),
        Ask("judged_by", "Judged by", "word", "", None, default="worst", example="worst", words=("worst", "mixed")),
        Ask("during", "Clock error during", "quantity", "", TIME, Fraction(1), 10**4 * DAY, default="31 d",
            example="31 d"),
    )  # fmt: skip

    def check(self, keys: Container[str]) -> Problem | None:
        """At least one term."""
        if any(key in keys for key in ("offset", "ageing", *(term.key for term in TERMS))):
            return None
        return Problem("initial", "is missing", 'give at least one term of the budget, such as "±10 ppm"')

    def reckon(self, given: Values) -> Outcome:
        """Both sums for each side, the clock error they make, the verdict on a limit; the worst case may be taken."""
        terms = [ask for ask in (*TERMS, AGEING) if given.has(ask.key)]
        work = Working()
        work.take(self.asks, given)
        for ask in terms:
            span = given.span(ask.key)
            work.put(f"{ask.letter}_low", span.lowest, SHARE)
            work.put(f"{ask.letter}_high", span.highest, SHARE)
        budget = _sum_up(work, [ask.letter for ask in terms], given)
        return self._tell(given, budget, work, _not_stated(given))

    def _tell(self, given: Values, budget: Budget, work: Working, notes: tuple[str, ...]) -> Outcome:
        worst, during = budget.worst, given.exact("during")
        figures = (
            Figure("worst", "Worst case", None, SHARE, worst.lowest, worst.highest, "w"),
            Figure("mixed", "Mixed rule", None, SHARE, *budget.mixed, "m"),
            Figure("statistical", "Root of all squares, for comparison", None, SHARE, *budget.statistical, "R"),
            *clock_errors(worst),
            Figure("seconds_during", "In the time given, worst case", None, CLOCK_ERROR, *_gained(worst, during / DAY)),
        )
        what = f"In the worst case the clock is off by {_say_span(worst)}."
        limit = given.maybe_span("limit")
        if limit is None:
            return Outcome(what, figures, tuple(work.steps), None, notes, tolerance=worst)
        mixed = given.word("judged_by") == "mixed"
        judged = budget.mixed if mixed else (worst.lowest, worst.highest)
        verdict = _verdict(judged, limit)
        rule = "by the mixed rule" if mixed else "with the worst case"
        stands = "within" if verdict == "inside" else "not within"
        what = f"{what} It is {stands} {say_tolerance(limit)}, judged {rule}."
        return Outcome(what, figures, tuple(work.steps), verdict, notes, tolerance=worst)


def _sum_up(work: Working, letters: list[str], given: Values) -> Budget:
    """The three sums, each side as a step."""
    offset = "o" if given.has("offset") else ""
    rooted = [ask.letter for ask in TERMS if ask.letter in letters and _both_sides(given.span(ask.key))]
    full = [letter for letter in letters if letter not in rooted]
    drifts = [letter for letter in full if letter != "a" or not _both_sides(given.span("ageing"))]
    sums: list[Number] = []
    for head, plain, root in (
        ("w", letters, []),
        ("m", full, rooted),
        ("R", drifts, [letter for letter in letters if letter not in drifts]),
    ):
        sums += [work.reckon(_formula(f"{head}_{side}", side, plain, root, offset), SHARE) for side in SIDES]
    return Budget(Span(Fraction(sums[0]), Fraction(sums[1])), (sums[2], sums[3]), (sums[4], sums[5]))


def _formula(head: str, side: str, plain: list[str], rooted: list[str], offset: str) -> str:
    """A side's sum: what counts in full, and a root that is taken away on the lower side."""
    terms = [f"{_times_years(letter, side)}" for letter in plain] + ([offset] if offset else [])
    said = " + ".join(terms)
    if not rooted:
        return f"{head} = {said or '0'}"
    squares = " + ".join(f"({s})^2" if " " in (s := _times_years(letter, side)) else f"{s}^2" for letter in rooted)
    if side == "low":
        return f"{head} = {said} − sqrt({squares})" if said else f"{head} = −sqrt({squares})"
    return f"{head} = {said} + sqrt({squares})" if said else f"{head} = sqrt({squares})"


def _times_years(letter: str, side: str) -> str:
    return f"y × a_{side}" if letter == "a" else f"{letter}_{side}"


def _both_sides(span: Span) -> bool:
    """Whether a term errs as far to one side as to the other."""
    return span.lowest == -span.highest


def _not_stated(given: Values) -> tuple[str, ...]:
    """What counts for nothing since it was not given, and what was counted in full as it errs to one side."""
    left = [ask.title.lower() for ask in (*TERMS, AGEING) if not given.has(ask.key)]
    one_sided = [
        ask.title.lower() for ask in TERMS if given.has(ask.key) and not _both_sides(given.span(ask.key))
    ]  # fmt: skip
    notes = []
    if left:
        notes.append(f"Not given, and so not counted: {', '.join(left)}.")
    if one_sided:
        notes.append(f"Unlike to both sides, and so in full beside the root: {', '.join(one_sided)}.")
    return tuple(notes)


def _verdict(judged: tuple[Number, Number], limit: Span) -> Verdict:
    if judged[1] > limit.highest:
        return "over"
    return "under" if judged[0] < limit.lowest else "inside"


def _gained(shares: Span, days: Fraction) -> tuple[Fraction, Fraction]:
    return seconds_gained(shares.lowest, days), seconds_gained(shares.highest, days)


def clock_errors(shares: Span, typical: Fraction | None = None) -> tuple[Figure, Figure]:
    """Seconds that a clock gains in a day and in a year of 365.25 days; below 0 where it loses."""
    return (
        _clock_error("seconds_a_day", "A clock gains in a day", shares, typical, Fraction(1)),
        _clock_error("seconds_a_year", "A clock gains in a year", shares, typical, YEAR),
    )


def _clock_error(key: str, title: str, shares: Span, typical: Fraction | None, days: Fraction) -> Figure:
    value = None if typical is None else seconds_gained(typical, days)
    return Figure(key, title, value, CLOCK_ERROR, *_gained(shares, days))


HUNDREDTH = Fraction(1, 10**8)
"""0.01 ppm: what is handed on is rounded to it, away from what is nominal."""


def into_budget(term: str, shares: Span) -> Onward:
    """A span of shares as a term of the budget, rounded outward to 0.01 ppm.

    >>> into_budget("load", Span(Fraction(-1, 3 * 10**6), Fraction(0))).keys
    {'load': '-0.34 ppm .. 0 %'}
    """
    outward = Span(floor(shares.lowest / HUNDREDTH) * HUNDREDTH, ceil(shares.highest / HUNDREDTH) * HUNDREDTH)
    return Onward("ppm_budget", {term: write_tolerance(outward)}, f"Take {_say_span(outward)} into the budget")


def _say_span(shares: Span) -> str:
    """A span of shares, each side by itself unless they are alike."""
    if _both_sides(shares):
        return say_tolerance(shares)
    return f"{say(shares.lowest, SHARE)} to {say(shares.highest, SHARE)}"


def offset_into_budget(share: Fraction) -> Onward:
    """A known offset as it goes into the budget, to 0.01 ppm.

    >>> offset_into_budget(Fraction(-20_704, 10**9)).keys
    {'offset': '-20.7 ppm'}
    """
    rounded = round(share / HUNDREDTH) * HUNDREDTH
    return Onward(
        "ppm_budget", {"offset": write_quantity(rounded, SHARE)}, f"Take {say(rounded, SHARE)} into the budget"
    )


CALCULATOR = PpmBudget()
