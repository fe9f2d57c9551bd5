"""Load capacitors: the pair of preferred values whose load comes nearest to what the crystal is made for.

Both capacitors in series, and what board and pins add, load the crystal: C_L = C_1 × C_2 / (C_1 + C_2) + C_s. A pin's
capacitance to ground counts half, as the two pins are in series too. Nearest is the nearest resulting load, not the
nearest capacitor: unequal neighbours of the series may fit better. Where board and pins alone load the crystal as much
as it is made for, or more, no pair does: the crystal does not suit the board.

Sources: load formula, two public crystal design pages; preferred values, IEC 60063, series E24. That the two values are
at most two steps of the series apart is common practice, no source.

Worked value: 7 pF with 2.5 pF of board and pins: 8.2 pF and 10 pF give 7.005 pF, twice 9.1 pF gives 7.05 pF.

>>> [float(c * 10**12) for c in nearest_pairs(Fraction(7, 10**12), Fraction(5, 2 * 10**12))[0]]
[8.2, 10.0]
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor
from typing import ClassVar

from wheelwork.estimates.asks import Ask, Values
from wheelwork.estimates.calculator import Calculator, Choice, Figure, Onward, Outcome, Working, say
from wheelwork.estimates.cautions import ESTIMATE, SHEET
from wheelwork.estimates.preferred import SOURCE, decades, neighbours
from wheelwork.quantities.numbers import round_to
from wheelwork.quantities.spans import Span, write_tolerance
from wheelwork.quantities.units import CAPACITANCE, write_quantity

PICOFARAD = Fraction(1, 10**12)
SERIES = decades(PICOFARAD, 3)
MOST_CHOICES = 5
STRAY = "C_s = C_board + C_pin / 2"
IDEAL = "C = 2 × (C_L − C_s)"
LOAD = "C_real = C_1 × C_2 / (C_1 + C_2) + C_s"


Pair = tuple[Fraction, Fraction]


def load_of(pair: Pair, stray: Fraction) -> Fraction:
    """The load of a pair (farad), what board and pins add in it."""
    first, second = pair
    return first * second / (first + second) + stray


def nearest_pairs(wanted: Fraction, stray: Fraction, apart: int = 2) -> list[Pair]:
    """Every pair of preferred values, the nearest load first; among equals the one with the smaller first value."""
    pairs = neighbours(SERIES, apart)
    return sorted(pairs, key=lambda pair: (abs(load_of(pair, stray) - wanted), pair))


class LoadCapacitors(Calculator):
    """The nearest pair of E24 values."""

    name, title = "load_capacitors", "Load capacitors"
    place = 1
    question = "Which two capacitors load the crystal as it is made for?"
    formulas = (STRAY, IDEAL, LOAD)
    letters: ClassVar = {
        "C_s": "what board and pins add across the crystal",
        "C": "each of two equal capacitors that would be exact",
        "C_1": "first capacitor",
        "C_2": "second capacitor",
        "C_real": "load that the crystal sees",
    }
    sources = (
        "load formula: two public crystal design pages",
        f"preferred values: {SOURCE}",
        "values at most two steps apart, capacitors of ±5 %: common practice, no source",
    )
    cautions = (ESTIMATE, SHEET)
    asks = (
        Ask("load_capacitance", "Load capacitance of the crystal", "quantity", "C_L", CAPACITANCE,
            PICOFARAD, 100 * PICOFARAD, needed=True, example="7 pF", about="from the crystal’s sheet"),
        Ask("board_capacitance", "Capacitance of the board", "quantity", "C_board", CAPACITANCE,
            Fraction(0), 50 * PICOFARAD, needed=True, example="2 pF",
            about="across the crystal, without the pins; with them 2 to 5 pF are usual"),
        Ask("pin_capacitance", "Capacitance of each pin", "quantity", "C_pin", CAPACITANCE,
            Fraction(0), 50 * PICOFARAD, default="0 pF", example="3 pF", about="to ground; half of it counts"),
        Ask("steps_apart", "Steps of the series apart", "whole", "", None,
            Fraction(0), Fraction(6), default="2", example="2", about="0: both alike"),
        Ask("capacitor_tolerance", "Tolerance of the capacitors", "tolerance", "", None,
            Fraction(-1, 2), Fraction(1, 2), default="±5 %", example="±5 %"),
    )  # fmt: skip

    def reckon(self, given: Values) -> Outcome:
        """The nearest pair, those that come next, and the span of the load with the capacitors' tolerance."""
        work = Working()
        work.take(self.asks, given)
        wanted, stray = given.exact("load_capacitance"), Fraction(work.reckon(STRAY, CAPACITANCE))
        if wanted <= stray:
            more = "as much as" if wanted == stray else "more than"
            what = (
                f"The crystal does not suit the board: board and pins alone load it with {say(stray, CAPACITANCE)}, "
                f"{more} the {say(wanted, CAPACITANCE)} it is made for."
            )
            stray_alone = Figure("stray", "Load of board and pins", stray, CAPACITANCE, letter="C_s")
            return Outcome(what, (stray_alone,), tuple(work.steps), "unsuitable")
        ideal = work.reckon(IDEAL, CAPACITANCE)
        ranked = nearest_pairs(wanted, stray, int(given.exact("steps_apart")))
        first, second = ranked[0]
        work.put("C_1", first, CAPACITANCE)
        work.put("C_2", second, CAPACITANCE)
        load = Fraction(work.reckon(LOAD, CAPACITANCE))
        spread = given.span("capacitor_tolerance")
        lowest, highest = (
            load_of((first * (1 + off), second * (1 + off)), stray) for off in (spread.lowest, spread.highest)
        )
        equal = next(pair for pair in ranked if pair[0] == pair[1])
        figures = (
            Figure("ideal", "Exact, were they equal", ideal, CAPACITANCE, letter="C"),
            Figure("first", "First capacitor", first, CAPACITANCE, letter="C_1"),
            Figure("second", "Second capacitor", second, CAPACITANCE, letter="C_2"),
            Figure("load", "Load that they make", load, CAPACITANCE, lowest, highest, "C_real"),
            Figure("off_by", "Off the load wanted by", load - wanted, CAPACITANCE),
            Figure("equal", "Nearest pair of equal ones", equal[0], CAPACITANCE),
            Figure("equal_load", "Load that these make", load_of(equal, stray), CAPACITANCE),
        )
        said = say(first, CAPACITANCE)
        pair = f"Twice {said} makes" if first == second else f"{said} and {say(second, CAPACITANCE)} make"
        what = f"{pair} {say(load, CAPACITANCE)} of the {say(wanted, CAPACITANCE)} wanted."
        taken = {
            "nominal_load": write_quantity(wanted, CAPACITANCE),
            "real_load": write_quantity(round_to(load, 4), CAPACITANCE),
            "load_tolerance": write_tolerance(_outward(lowest / load - 1, highest / load - 1)),
        }
        onward = (Onward("pulling", taken, f"Reckon the pulling with {say(load, CAPACITANCE)}"),)
        choices = tuple(_choice(pair, wanted, stray) for pair in ranked[:MOST_CHOICES])
        return Outcome(what, figures, tuple(work.steps), None, self._notes(first, second), choices, onward=onward)

    def _notes(self, first: Fraction, second: Fraction) -> tuple[str, ...]:
        if first == second == SERIES[0]:
            return (f"{say(first, CAPACITANCE)} is the smallest value offered; the board itself nearly does.",)
        return ()


def _outward(lowest: Fraction, highest: Fraction) -> Span:
    """A span of shares, each end moved out to 0.01 %."""
    return Span(Fraction(floor(lowest * 10**4), 10**4), Fraction(ceil(highest * 10**4), 10**4))


def _choice(pair: Pair, wanted: Fraction, stray: Fraction) -> Choice:
    load = load_of(pair, stray)
    figures = (
        Figure("first", "First capacitor", pair[0], CAPACITANCE),
        Figure("second", "Second capacitor", pair[1], CAPACITANCE),
        Figure("load", "Load that they make", load, CAPACITANCE),
        Figure("off_by", "Off the load wanted by", load - wanted, CAPACITANCE),
    )
    return Choice(f"{say(pair[0], CAPACITANCE)} and {say(pair[1], CAPACITANCE)}", figures)


CALCULATOR = LoadCapacitors()
