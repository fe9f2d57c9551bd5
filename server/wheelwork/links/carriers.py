"""Carriers, and the rates and times counted from them: infrared remote controls, radio cards, colour television.

Sources: NEC remote-control transmission format · Philips RC-5 bi-phase code (AN10210 family) · ISO/IEC 14443-2 and
15693-2 (13.56 MHz) · SMPTE 170M and ITU-R BT.1700 (colour subcarrier 315/88 MHz).

Worked value: 38 kHz from 16 MHz is nearest at a division by 421, fast by 125 ppm.

>>> nearest_division(Fraction(16000000), Fraction(38000))
421
"""

from __future__ import annotations

from fractions import Fraction

RESONATOR = Fraction(455000)
REMOTE_CARRIER = RESONATOR / 12
"""The 38 kHz of a remote control with a 455 kHz resonator: 37.917 kHz."""

BI_PHASE_CARRIER = Fraction(36000)
BI_PHASE_BITS = 14
BI_PHASE_CYCLES = 32
"""Carrier cycles in half a bit."""

PULSE_DISTANCE_UNIT = Fraction(1125, 2) / 10**6
"""The unit of the pulse-distance code: 562.5 µs, of which a zero lasts two and a one four."""
PULSE_DISTANCE_ZERO = 2 * PULSE_DISTANCE_UNIT
PULSE_DISTANCE_ONE = 4 * PULSE_DISTANCE_UNIT
PULSE_DISTANCE_MARK = 16 * PULSE_DISTANCE_UNIT
PULSE_DISTANCE_SPACE = 8 * PULSE_DISTANCE_UNIT

CARD_CARRIER = Fraction(13560000)
CARD_CARRIER_OFF = Fraction(7000)

COLOUR_SUBCARRIER = Fraction(315000000, 88)
COLOUR_LINE = COLOUR_SUBCARRIER / Fraction(455, 2)
COLOUR_LINES = 525
INTERVAL_TIMER = 4 * COLOUR_SUBCARRIER / 12
"""The clock of the interval timer in early personal computers: 1.193 MHz."""


def nearest_division(source: Fraction, wanted: Fraction) -> int:
    """The whole division of a source that makes the frequency nearest to a wanted one (the smaller one among equals).

    Raises ValueError where a frequency is not above zero.
    """
    if source <= 0 or wanted <= 0:
        raise ValueError("frequencies are above zero")
    below = max(1, int(source // wanted))
    return min((below, below + 1), key=lambda division: abs(source / division - wanted))


def half_bit_time(carrier: Fraction = BI_PHASE_CARRIER) -> Fraction:
    """Half a bit of the bi-phase code, in seconds: 32 cycles of its carrier.

    >>> str(half_bit_time() * 10**6)
    '8000/9'
    """
    return BI_PHASE_CYCLES / carrier


def message_time(carrier: Fraction = BI_PHASE_CARRIER) -> Fraction:
    """A whole message of the bi-phase code, in seconds: 14 bits."""
    return BI_PHASE_BITS * 2 * half_bit_time(carrier)


def card_rate(cycles: int) -> Fraction:
    """A rate that a radio card counts from its carrier, in Hz or bit/s: one in so many cycles.

    >>> str(card_rate(128))
    '211875/2'
    """
    return CARD_CARRIER / cycles


def card_time(cycles: int) -> Fraction:
    """A time that a radio card counts from its carrier, in seconds: so many cycles."""
    return cycles / CARD_CARRIER


def field_rate() -> Fraction:
    """Fields a second of colour television: two for each 525 lines.

    >>> str(field_rate())
    '60000/1001'
    """
    return 2 * COLOUR_LINE / COLOUR_LINES


def hour_crystal(ticks: int = 65536, counts: int = 65536) -> Fraction:
    """The crystal (Hz) with which so many ticks of so many counts of its twelfth are exactly one hour."""
    return Fraction(12 * ticks * counts, 3600)
