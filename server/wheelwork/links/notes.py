"""Notes of the equal-tempered scale, and the whole division of a clock that sounds nearest to one.

frequency = 440 Hz * 2^(steps / 12), steps counted from A4 (ISO 16 for 440 Hz). But for the octaves of A no note is
rational; which of two divisions is nearer is decided exactly, by twelfth powers.

Worked value: C4, nine steps below A4, is 261.6256 Hz (OEIS A329207), from 1 MHz nearest at a division by 3822.

>>> steps_to("C4"), nearest_note_division(Fraction(10**6), steps_to("C4"))
(-9, 3822)
>>> float(round(note_frequency(-9), 4))
261.6256
"""

from __future__ import annotations

import math
import re
from decimal import Context, Decimal
from fractions import Fraction

from wheelwork.findings import Unreadable, quote

CONCERT_PITCH = Fraction(440)
STEPS = 12
CENTS = 1200
"""Hundredths of a step in an octave."""
FROM_A = {"C": -9, "D": -7, "E": -5, "F": -4, "G": -2, "A": 0, "B": 2}
DIGITS = Context(prec=40)


def steps_to(name: str) -> int:
    """The steps from A4 to a note written such as `C4`, `F#5`, `Bb3`. Raises Unreadable."""
    found = re.fullmatch(r"([A-G])([#b]?)(\d)", name, re.ASCII)
    if found is None:
        raise Unreadable(f"{quote(name)} is no note", "write a letter from A to G, # or b, an octave: A4, F#5")
    moved = {"#": 1, "b": -1, "": 0}[found[2]]
    return FROM_A[found[1]] + moved + STEPS * (int(found[3]) - 4)


def note_frequency(steps: int) -> Fraction:
    """The frequency of a note (Hz): exact for the octaves of A, else to 40 digits."""
    octaves, rest = divmod(steps, STEPS)
    within = DIGITS.power(Decimal(2), DIGITS.divide(Decimal(rest), Decimal(STEPS))) if rest else 1
    return CONCERT_PITCH * Fraction(2) ** octaves * Fraction(within)


def is_above_note(frequency: Fraction, steps: int) -> bool:
    """Whether a frequency (Hz) is above a note, decided exactly."""
    return (frequency / CONCERT_PITCH) ** STEPS > Fraction(2) ** steps


def nearest_note_division(clock: Fraction, steps: int) -> int:
    """The whole division of a clock (Hz) whose frequency is nearest to a note's; the smaller one among equals."""
    division = max(1, int(clock / note_frequency(steps)))
    middle = (clock / division + clock / (division + 1)) / 2
    return division + 1 if is_above_note(middle, steps) else division


def cents_off(frequency: Fraction, steps: int) -> float:
    """How far a frequency is from a note in hundredths of a step, above 0 where it is too high; to be told."""
    return CENTS * math.log2(frequency / note_frequency(steps))
