"""Formulas: a clock as an equation from its oscillator down, and the question turned round.

f = f_source / R · (N + k / m) / D · S: reference divider, feedback and fraction of a PLL, divider, factor of a scaler,
each as often as it stands on the way. Source: integer and fractional PLL relations, Best, Phase-Locked Loops; Gardner,
Phaselock Techniques (from memory). This room is the one door to sympy, which is imported only inside the functions that
do algebra; no text from a user ever reaches it.

An 8 MHz crystal, reference divider 1 and feedback 29 give a VCO of 232 MHz; 240 MHz would take a crystal of 240/29 MHz.

>>> from fractions import Fraction
>>> factors = (Factor("R", Fraction(1), "reference divider"), Factor("N", Fraction(29), "feedback multiplier"))
>>> chain = Chain("Crystal", Fraction(8_000_000), (Link("VCO", factors),))
>>> evaluate(chain), solve_for_source(chain, Fraction(240_000_000))
(Fraction(232000000, 1), Fraction(240000000, 29))
>>> draw(chain).letters
'R reference divider 1, N feedback multiplier 29.'
"""

from wheelwork.formulas.chains import Chain, Factor, Letter, Link
from wheelwork.formulas.equations import evaluate, solve_for_factor, solve_for_source
from wheelwork.formulas.layout import Drawer, draw

__all__ = ["Chain", "Drawer", "Factor", "Letter", "Link", "draw", "evaluate", "solve_for_factor", "solve_for_source"]
