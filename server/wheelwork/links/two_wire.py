"""Limits of two-wire buses by mode, and the largest pull-up resistor of a bus. Times in seconds, rates in hertz.

Sources: UM10204 (I2C-bus specification), Table 10, and Table 14 for the ultra fast mode; System Management Bus
Specification 2.0 and 3.x, AC specifications. The clocks of the SMBus classes above 100 kHz are not confirmed, and what
else they ask for is taken from the mode of the same speed.

Worked value: the longest edges and the shortest levels of the standard mode make its period, 10 µs, exactly.

>>> mode = MODES["standard"]
>>> str(1 / (mode.low + mode.high + mode.rise + mode.fall))
'100000'
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from wheelwork.links.misses import say_over, say_short
from wheelwork.links.standards import Standard
from wheelwork.quantities.units import FREQUENCY, TIME

TWO_WIRE = "UM10204 (I2C-bus specification), Table 10"
ULTRA_FAST = "UM10204 (I2C-bus specification), Table 14"
SMBUS = "System Management Bus Specification 2.0, AC specifications"
SMBUS_CLASSES = "System Management Bus Specification 3.x, AC specifications; figures not confirmed"

MICRO, NANO, PICO = Fraction(1, 10**6), Fraction(1, 10**9), Fraction(1, 10**12)
Limits = tuple[Fraction | None, Fraction | None]
"""The least and the most of a quantity; None: no limit, or one that hangs on the supply."""


@dataclass(frozen=True, slots=True)
class Mode:
    """A mode of a bus. `rate` and `slowest` are the ends of its clock; the times are the shortest, edges the longest.

    `longest_high` is how long the clock may be high within a message (None: as long as it likes).
    """

    name: str
    source: str
    rate: Fraction
    low: Fraction
    high: Fraction
    rise: Fraction
    fall: Fraction
    start_hold: Fraction
    start_set_up: Fraction
    stop_set_up: Fraction
    free: Fraction | None
    data_set_up: Fraction
    data_hold: Fraction
    data_valid: Fraction | None = None
    spike: Fraction | None = None
    load: Fraction | None = None
    slowest: Fraction = Fraction(0)
    longest_high: Fraction | None = None
    shortest_rise: Fraction | None = None

    def limits(self, symbol: str) -> Limits:
        """The least and the most of a quantity of UM10204, Table 10 by its symbol. Raises KeyError for another."""
        return {
            "fSCL": (self.slowest, self.rate),
            "tLOW": (self.low, None),
            "tHIGH": (self.high, self.longest_high),
            "tHD;STA": (self.start_hold, None),
            "tSU;STA": (self.start_set_up, None),
            "tSU;STO": (self.stop_set_up, None),
            "tBUF": (self.free, None),
            "tSU;DAT": (self.data_set_up, None),
            "tHD;DAT": (self.data_hold, None),
            "tVD;DAT": (None, self.data_valid),
            "tVD;ACK": (None, self.data_valid),
            "tr": (self.shortest_rise, self.rise),
            "tf": (None, self.fall),
            "tSP": (None if self.spike is None else Fraction(0), self.spike),
            "Cb": (None, self.load),
        }[symbol]

    def faults(self, low: Fraction, high: Fraction, rate: Fraction) -> Iterator[str]:
        """What of a clock the mode does not bear: `low`, `high`, `rate`, `slow` or `long` (high for too long)."""
        if low < self.low:
            yield "low"
        if high < self.high:
            yield "high"
        if rate > self.rate:
            yield "rate"
        if rate < self.slowest:
            yield "slow"
        if self.longest_high is not None and high > self.longest_high:
            yield "long"

    def say_faults(self, low: Fraction, high: Fraction, rate: Fraction) -> Iterator[str]:
        """The same in words, each by how much; but a rate above the mode's, which the error tells."""
        for fault in self.faults(low, high, rate):
            if fault == "low":
                yield say_short("low lasts", low, self.low, TIME)
            elif fault == "high":
                yield say_short("high lasts", high, self.high, TIME)
            elif fault == "slow":
                yield say_short("the bus runs at", rate, self.slowest, FREQUENCY)
            elif fault == "long" and self.longest_high is not None:
                yield say_over("high lasts", high, self.longest_high, TIME)


STANDARD = Mode(
    name="standard",
    source=f"{TWO_WIRE}: standard mode",
    rate=Fraction(100_000),
    low=4700 * NANO,
    high=4000 * NANO,
    rise=1000 * NANO,
    fall=300 * NANO,
    start_hold=4000 * NANO,
    start_set_up=4700 * NANO,
    stop_set_up=4000 * NANO,
    free=4700 * NANO,
    data_set_up=250 * NANO,
    data_hold=Fraction(0),
    data_valid=3450 * NANO,
    load=400 * PICO,
)
FAST = Mode(
    name="fast",
    source=f"{TWO_WIRE}: fast mode",
    rate=Fraction(400_000),
    low=1300 * NANO,
    high=600 * NANO,
    rise=300 * NANO,
    fall=300 * NANO,
    start_hold=600 * NANO,
    start_set_up=600 * NANO,
    stop_set_up=600 * NANO,
    free=1300 * NANO,
    data_set_up=100 * NANO,
    data_hold=Fraction(0),
    data_valid=900 * NANO,
    spike=50 * NANO,
    load=400 * PICO,
    shortest_rise=20 * NANO,
)
FAST_PLUS = Mode(
    name="fast-plus",
    source=f"{TWO_WIRE}: fast mode plus",
    rate=Fraction(1_000_000),
    low=500 * NANO,
    high=260 * NANO,
    rise=120 * NANO,
    fall=120 * NANO,
    start_hold=260 * NANO,
    start_set_up=260 * NANO,
    stop_set_up=260 * NANO,
    free=500 * NANO,
    data_set_up=50 * NANO,
    data_hold=Fraction(0),
    data_valid=450 * NANO,
    spike=50 * NANO,
    load=550 * PICO,
)
ONE_WAY = Mode(
    name="ultra-fast",
    source=f"{ULTRA_FAST}: ultra fast mode, one way only",
    rate=Fraction(5_000_000),
    low=50 * NANO,
    high=50 * NANO,
    rise=50 * NANO,
    fall=50 * NANO,
    start_hold=50 * NANO,
    start_set_up=50 * NANO,
    stop_set_up=50 * NANO,
    free=80 * NANO,
    data_set_up=30 * NANO,
    data_hold=10 * NANO,
)


def _managed(mode: Mode, name: str, source: str) -> Mode:
    """A class of the system management bus beside the mode of its speed: its clock may not rest."""
    return replace(
        mode, name=name, source=source, slowest=Fraction(10_000), longest_high=50 * MICRO, data_hold=300 * NANO
    )


MODES = {
    mode.name: mode
    for mode in (
        STANDARD,
        FAST,
        FAST_PLUS,
        ONE_WAY,
        _managed(STANDARD, "smbus", f"{SMBUS}: 100 kHz"),
        _managed(FAST, "smbus-400k", f"{SMBUS_CLASSES}: 400 kHz"),
        _managed(FAST_PLUS, "smbus-1m", f"{SMBUS_CLASSES}: 1 MHz"),
    )
}

LOW_TIME_OUT = 25 * MICRO * 1000, 35 * MICRO * 1000
"""How long the clock of a system management bus is low before devices give up: from at least, to at most."""
STRETCH_OF_DEVICE, STRETCH_OF_CONTROLLER = 25 * MICRO * 1000, 10 * MICRO * 1000
"""How long all lows may be stretched together: by a device within a message, by the controller within a byte."""

STANDARDS = tuple(
    Standard(name=name, family="i2c", title=title, fastest=MODES[name].rate, mode=name, line=line)
    for name, title, line in (
        ("standard", "Two-wire bus, standard mode", "up to 100 kHz; low at least 4.7 µs, high 4 µs"),
        ("fast", "Two-wire bus, fast mode", "up to 400 kHz; low at least 1.3 µs, high 0.6 µs"),
        ("fast-plus", "Two-wire bus, fast mode plus", "up to 1 MHz; low at least 0.5 µs, high 0.26 µs"),
        ("ultra-fast", "Two-wire bus, ultra fast mode", "up to 5 MHz, one way; low and high at least 50 ns"),
        ("smbus", "System management bus", "10 to 100 kHz; low at least 4.7 µs, high 4 to 50 µs"),
        ("smbus-400k", "System management bus, 400 kHz", "10 to 400 kHz; low at least 1.3 µs, high 0.6 to 50 µs"),
        ("smbus-1m", "System management bus, 1 MHz", "10 kHz to 1 MHz; low at least 0.5 µs, high 0.26 to 50 µs"),
    )
)


def modes_met(low: Fraction, high: Fraction, rate: Fraction) -> list[str]:
    """The modes of UM10204, Table 10 whose low, high and clock a clock keeps; a slow clock suits faster devices too."""
    return [mode.name for mode in (STANDARD, FAST, FAST_PLUS) if not list(mode.faults(low, high, rate))]


def largest_pull_up(rise: Fraction, capacitance: Fraction) -> Fraction:
    """The largest pull-up (ohm) by which a bus of a capacitance (farad) rises from 0.3 to 0.7 of its supply in time.

    Source: UM10204, section 7.1: the rise takes 0.8473 times R C; the figure is ln(0.7 / 0.3), rounded there.

    >>> str(largest_pull_up(MICRO, 400 * PICO) // 1)
    '2950'
    """
    return rise / (Fraction("0.8473") * capacitance)
