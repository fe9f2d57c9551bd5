"""Smart cards with contacts: a bit lasts F / D clocks of the card, F and D coded in its answer to reset.

Sources: ISO/IEC 7816-3:2006, table 7 (F and the highest clock) and table 8 (D). Unless agreed otherwise F = 372, D = 1.
D = 64 came with the edition of 2006 (figure not confirmed).

Worked value: 3.5712 MHz with F = 372 and D = 1 makes 9600 bit/s exactly.

>>> str(bit_rate(Fraction(3571200), 372, 1))
'9600'
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

LEAST_CLOCK = Fraction(1000000)
USUAL_CONVERSION, USUAL_ADJUSTMENT = 372, 1


@dataclass(frozen=True, slots=True)
class Conversion:
    """A clock-rate conversion: F, and the highest clock (Hz) at which a card of this code works."""

    factor: int
    highest_clock: Fraction


CONVERSIONS: Mapping[int, Conversion] = {
    0: Conversion(372, Fraction(4000000)),
    1: Conversion(372, Fraction(5000000)),
    2: Conversion(558, Fraction(6000000)),
    3: Conversion(744, Fraction(8000000)),
    4: Conversion(1116, Fraction(12000000)),
    5: Conversion(1488, Fraction(16000000)),
    6: Conversion(1860, Fraction(20000000)),
    9: Conversion(512, Fraction(5000000)),
    10: Conversion(768, Fraction(7500000)),
    11: Conversion(1024, Fraction(10000000)),
    12: Conversion(1536, Fraction(15000000)),
    13: Conversion(2048, Fraction(20000000)),
}
"""F by its code."""

ADJUSTMENTS: Mapping[int, int] = {1: 1, 2: 2, 3: 4, 4: 8, 5: 16, 6: 32, 7: 64, 8: 12, 9: 20}
"""D by its code."""


def clocks_per_bit(conversion: int, adjustment: int) -> Fraction:
    """Clocks of the card in a bit: F / D.

    >>> str(clocks_per_bit(372, 16))
    '93/4'
    """
    return Fraction(conversion, adjustment)


def bit_rate(clock: Fraction, conversion: int, adjustment: int) -> Fraction:
    """Bits a second at a card clock (Hz)."""
    return clock / clocks_per_bit(conversion, adjustment)


def waiting_time(clock: Fraction, conversion: int, waiting: int = 10) -> Fraction:
    """The longest wait (s) between two characters: 960 * waiting * F / clock, `waiting` as the card says, usually 10.

    >>> str(waiting_time(Fraction(3571200), 372))
    '1'
    """
    return 960 * waiting * conversion / clock
