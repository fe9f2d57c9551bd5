"""Times on a serial line that follow from its rate: characters, silences, frames, pulses; all in seconds.

Sources: MODBUS over Serial Line V1.02 section 2.5.1.1 · ANSI E1.11 (DMX512-A) · IEC 62386-101 (DALI) · LIN
synchronization examples in ATUC64/128/256L3/4U data sheet 32142D · IrDA Serial Infrared Physical Layer.

Worked value: a character of 8 data bits with start and stop bit at 31 250 Bd lasts 320 µs (MIDI 1.0, IEC 63035).

>>> str(character_time(Fraction(31250), Fraction(10)) * 10**6)
'320'
"""

from __future__ import annotations

from fractions import Fraction

MICROSECOND = Fraction(1, 10**6)
SYNCHRONIZATION_BITS = 8
BEFORE_SYNCHRONIZATION = Fraction(15, 100)
"""How slow an answering node's clock may be before it is synchronized, as the example reckons; LIN 2.1 says 14 %."""


def character_time(rate: Fraction, bits: Fraction) -> Fraction:
    """How long so many bits last, start and stop bits among them."""
    return bits / rate


def silent_interval(rate: Fraction) -> Fraction:
    """The silence that ends a Modbus message: 3.5 characters of 11 bits, above 19 200 Bd always 1.75 ms.

    >>> float(round(silent_interval(Fraction(9600)) * 1000, 3))
    4.01
    """
    return _characters(rate, Fraction("3.5"), 1750)


def inter_character_limit(rate: Fraction) -> Fraction:
    """The longest silence inside a Modbus message: 1.5 characters, above 19 200 Bd always 0.75 ms."""
    return _characters(rate, Fraction("1.5"), 750)


def _characters(rate: Fraction, count: Fraction, above_microseconds: int) -> Fraction:
    return above_microseconds * MICROSECOND if rate > 19200 else count * character_time(rate, Fraction(11))


def packet_time(slots: int, opening: Fraction, mark: Fraction) -> Fraction:
    """How long a lighting packet lasts: its break, the mark after it, its slots (start code included) of 11 bits.

    >>> str(packet_time(513, 92 * MICROSECOND, 12 * MICROSECOND) * 10**6)
    '22676'
    """
    return opening + mark + slots * character_time(Fraction(250000), Fraction(11))


def lighting_frame_time(bits: int, settling: Fraction) -> Fraction:
    """How long a DALI frame lasts at 1200 bit/s: its bits with the start bit, and the settling time around it."""
    return character_time(Fraction(1200), Fraction(bits)) + settling


def infrared_pulse(rate: Fraction) -> Fraction:
    """The pulse that a serial infrared port sends for a zero: 3/16 of a bit.

    >>> float(round(infrared_pulse(Fraction(115200)) * 10**6, 3))
    1.628
    """
    return Fraction(3, 16) / rate


def least_synchronizing_clock(rate: Fraction, samples: int, deviation: Fraction = Fraction(1, 100)) -> Fraction:
    """The least nominal clock (Hz) with which a LIN node measures eight bits to within a deviation.

    It counts in samples, of which half a one is lost at each bit and one count at the end, on a clock 15 % slow:
    deviation = (4 * k + 1) * rate / (8 * 0.85 * clock), k = 2 at 16 samples a bit, 1 at 8.

    >>> float(round(least_synchronizing_clock(Fraction(20000), 8)))
    1470588.0
    """
    lost = Fraction(1, 2) * SYNCHRONIZATION_BITS * Fraction(samples, 8) + 1
    return lost * rate / (SYNCHRONIZATION_BITS * (1 - BEFORE_SYNCHRONIZATION) * deviation)
