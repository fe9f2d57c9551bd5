"""Pulses whose length means something: their limits by line, and the counts of a clock that keep them.

Lengths in seconds. Sources stand with each line: ANSI E1.11 · HDMI 1.3a Supplement 1 (consumer electronics control),
section CEC 5.2 · DS18B20 data sheet, AC electrical characteristics · WS2812B data sheet, data transfer time table ·
IrDA serial infrared as in FDC37B72x data sheet, figures 31 and 32 · model servos: common practice, no source.

Worked value: the high part of a zero on a chain of lamps is 0.4 µs ± 150 ns; of a clock of 8 MHz exactly that takes 2
to 4 counts: 250, 375 or 500 ns.

>>> from wheelwork.quantities.spans import EXACT
>>> counts_for(pulse("led", "0 code, high"), Feed(Fraction(8000000), EXACT))
(2, 4)
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from wheelwork.links.family import Feed, Verdict


@dataclass(frozen=True, slots=True)
class Pulse:
    """A pulse of a line: what it is, and its shortest, nominal and longest length in seconds (None: not stated)."""

    line: str
    what: str
    shortest: Fraction | None
    nominal: Fraction | None
    longest: Fraction | None


def _pulse(line: str, unit: int, what: str, shortest: str, nominal: str, longest: str) -> Pulse:
    """A pulse as its table writes it; `–` where nothing is stated."""
    ends = (None if text == "–" else Fraction(text) / unit for text in (shortest, nominal, longest))
    return Pulse(line, what, *ends)


MILLISECONDS, MICROSECONDS, NANOSECONDS = 10**3, 10**6, 10**9

PULSES = (
    _pulse("dmx512", MICROSECONDS, "break at transmitter", "92", "–", "–"),
    _pulse("dmx512", MICROSECONDS, "mark after break at transmitter", "12", "–", "–"),
    _pulse("dmx512", MICROSECONDS, "break accepted by receiver", "88", "–", "–"),
    _pulse("dmx512", MICROSECONDS, "mark after break accepted by receiver", "8", "–", "–"),
    _pulse("cec", MILLISECONDS, "start bit, low", "3.5", "3.7", "3.9"),
    _pulse("cec", MILLISECONDS, "start bit, whole", "4.3", "4.5", "4.7"),
    _pulse("cec", MILLISECONDS, "data bit, whole", "2.05", "2.4", "2.75"),
    _pulse("cec", MILLISECONDS, "logical 0, low", "1.3", "1.5", "1.7"),
    _pulse("cec", MILLISECONDS, "logical 1, low", "0.4", "0.6", "0.8"),
    _pulse("cec", MILLISECONDS, "sample", "0.85", "1.05", "1.25"),
    _pulse("one-wire", MICROSECONDS, "time slot", "60", "–", "120"),
    _pulse("one-wire", MICROSECONDS, "recovery", "1", "–", "–"),
    _pulse("one-wire", MICROSECONDS, "write 0 low", "60", "–", "120"),
    _pulse("one-wire", MICROSECONDS, "write 1 low", "1", "–", "15"),
    _pulse("one-wire", MICROSECONDS, "read data valid", "–", "–", "15"),
    _pulse("one-wire", MICROSECONDS, "reset low", "480", "–", "–"),
    _pulse("one-wire", MICROSECONDS, "reset high", "480", "–", "–"),
    _pulse("one-wire", MICROSECONDS, "presence detect high", "15", "–", "60"),
    _pulse("one-wire", MICROSECONDS, "presence detect low", "60", "–", "240"),
    _pulse("led", NANOSECONDS, "0 code, high", "250", "400", "550"),
    _pulse("led", NANOSECONDS, "0 code, low", "700", "850", "1000"),
    _pulse("led", NANOSECONDS, "1 code, high", "650", "800", "950"),
    _pulse("led", NANOSECONDS, "1 code, low", "300", "450", "600"),
    _pulse("led", NANOSECONDS, "bit", "650", "1250", "1850"),
    _pulse("led", MICROSECONDS, "reset, low", "50", "–", "–"),
    _pulse("servo", MILLISECONDS, "pulse", "1", "1.5", "2"),
    _pulse("servo", MILLISECONDS, "period", "5", "20", "25"),
    _pulse("infrared", NANOSECONDS, "zero at 115200 Bd", "1410", "1600", "2710"),
    _pulse("infrared", NANOSECONDS, "zero at 57600 Bd", "1410", "3220", "3690"),
    _pulse("infrared", NANOSECONDS, "zero at 38400 Bd", "1410", "4800", "5530"),
    _pulse("infrared", NANOSECONDS, "zero at 19200 Bd", "1410", "9700", "11070"),
    _pulse("infrared", NANOSECONDS, "zero at 9600 Bd", "1410", "19500", "22130"),
    _pulse("infrared", NANOSECONDS, "zero at 4800 Bd", "1410", "39000", "44270"),
    _pulse("infrared", NANOSECONDS, "zero at 2400 Bd", "1410", "78000", "88550"),
)


def pulse(line: str, what: str) -> Pulse:
    """A pulse of a line. Raises LookupError where the line knows none of that name."""
    found = next((each for each in PULSES if (each.line, each.what) == (line, what)), None)
    if found is None:
        raise LookupError(f"{line} knows no {what}")
    return found


def judge_length(limits: Pulse, shortest: Fraction, nominal: Fraction, longest: Fraction) -> Verdict:
    """The verdict on a length with its span, in seconds; the limits themselves are inside."""
    if limits.longest is not None and nominal > limits.longest:
        return "over"
    if limits.shortest is not None and nominal < limits.shortest:
        return "under"
    past = limits.longest is not None and longest > limits.longest
    short = limits.shortest is not None and shortest < limits.shortest
    return "tight" if past or short else "inside"


def counts_for(limits: Pulse, feed: Feed) -> tuple[int, int | None] | None:
    """The fewest and the most counts of a clock that keep a pulse at both ends of its tolerance; None where none do.

    The most is None where the pulse may be as long as it likes.
    """
    fewest = 1 if limits.shortest is None else ceil(limits.shortest * feed.nominal * (1 + feed.tolerance.highest))
    if limits.longest is None:
        return max(1, fewest), None
    most = floor(limits.longest * feed.nominal * (1 + feed.tolerance.lowest))
    return (max(1, fewest), most) if most >= max(1, fewest) else None
