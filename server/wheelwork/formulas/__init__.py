"""Formulas: the way from an oscillator down to a clock as an equation, and the question turned round.

A clock is its source times factors and over ratios: f = f_source / R * (N + k / m) / D. Source: integer and fractional
PLL relations, Best, Phase-Locked Loops; Gardner, Phaselock Techniques (from memory). This room is the one door to
sympy; it is imported inside the functions that need it, and no text from a user ever reaches its parser.

>>> way = (Step("R", Fraction(1), "reference divider"), Step("N", Fraction(29), "feedback multiplier"))
>>> evaluate(Way("crystal", Fraction(8_000_000), way))
Fraction(232000000, 1)
"""

from __future__ import annotations

from fractions import Fraction

from wheelwork.formulas.equations import evaluate, solve_for_source, solve_for_step
from wheelwork.formulas.layout import Drawer, draw
from wheelwork.formulas.ways import Step, Way

__all__ = ["Drawer", "Fraction", "Step", "Way", "draw", "evaluate", "solve_for_source", "solve_for_step"]
