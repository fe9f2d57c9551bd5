"""A clock that is itself what a standard speaks of: its frequency and how far it may be off.

Worked value: 8 MHz · 12 / 2 is 48 MHz, four times the 12 Mbit/s of USB full speed, without an error of its own; a
function bears 0.25 % (USB 2.0, section 7.1.11), 48 MHz ± 120 kHz.

>>> str(Fraction(8_000_000) * 12 / 2), str(Fraction(48_000_000) * Fraction(25, 10_000))
('48000000', '120000')

There is nothing to set, so there is one choice: the clock as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from wheelwork.findings import Problem
from wheelwork.links.allowances import read_allowance, within
from wheelwork.links.family import (
    Allowance,
    Choice,
    Family,
    Feed,
    LinkAnswer,
    best_verdict,
    errors_of,
    verdict_of,
)
from wheelwork.links.fields import Fields
from wheelwork.links.standards import Standard, take_rate, take_standard
from wheelwork.quantities.units import FREQUENCY


def _ppm(figure: int, source: str) -> Allowance:
    return replace(within("1", source), lowest=Fraction(-figure, 10**6), highest=Fraction(figure, 10**6))


_USB = "USB 2.0, section 7.1.11"
_MEMORY = "figure not confirmed"

STANDARDS = (
    Standard(
        name="usb-full-speed",
        family="reference",
        title="USB, full speed, a function",
        rate=Fraction(48_000_000),
        allowance=_ppm(2500, f"{_USB}: 12 Mbit/s within 0.25 %, here of four times the rate"),
        line="48 MHz within 0.25 %, four times the 12 Mbit/s of a function",
    ),
    Standard(
        name="usb-full-speed-host",
        family="reference",
        title="USB, full speed, a host or hub",
        rate=Fraction(48_000_000),
        allowance=_ppm(500, f"{_USB}: 12 Mbit/s within 500 ppm, here of four times the rate"),
        line="48 MHz within 500 ppm: a host, a hub, or a function that also knows high speed",
    ),
    Standard(
        name="usb-low-speed",
        family="reference",
        title="USB, low speed, a function",
        rate=Fraction(6_000_000),
        allowance=_ppm(15_000, f"{_USB}: 1.5 Mbit/s within 1.5 %, here of four times the rate"),
        line="6 MHz within 1.5 %, four times the 1.5 Mbit/s of a function",
    ),
    Standard(
        name="ethernet-rmii",
        family="reference",
        title="Ethernet, reduced media independent interface",
        rate=Fraction(50_000_000),
        allowance=_ppm(50, f"RMII Specification rev. 1.2; {_MEMORY}"),
        line="50 MHz within 50 ppm, the clock of both ends",
    ),
    Standard(
        name="ethernet-mii",
        family="reference",
        title="Ethernet, media independent interface at 100 Mbit/s",
        rate=Fraction(25_000_000),
        allowance=_ppm(100, f"IEEE 802.3, clause 22; {_MEMORY}"),
        line="25 MHz within 100 ppm",
    ),
    Standard(
        name="bluetooth-le-active",
        family="reference",
        title="Bluetooth Low Energy, while the radio is active",
        allowance=_ppm(50, "Bluetooth Core Specification 5.2, Vol 6 Part B, 4.2.1"),
        line="any frequency, within 50 ppm",
    ),
    Standard(
        name="bluetooth-le-sleep",
        family="reference",
        title="Bluetooth Low Energy, between events",
        allowance=_ppm(500, "Bluetooth Core Specification 5.2, Vol 6 Part B, 4.2.2"),
        line="any frequency, within 500 ppm",
    ),
    Standard(
        name="ieee-802.15.4",
        family="reference",
        title="IEEE 802.15.4 radio",
        allowance=_ppm(40, "IEEE 802.15.4c-2009, clause 6.6a.3.3"),
        line="any frequency, within 40 ppm",
    ),
    Standard(
        name="pci-express",
        family="reference",
        title="PCI Express reference clock",
        rate=Fraction(100_000_000),
        allowance=_ppm(300, f"PCI Express Card Electromechanical Specification; {_MEMORY}"),
        line="100 MHz within 300 ppm",
    ),
    Standard(
        name="digital-audio-high-accuracy",
        family="reference",
        title="Digital audio interface, high accuracy",
        allowance=_ppm(50, "IEC 60958-3, level I"),
        line="any sample clock, within 50 ppm",
    ),
    Standard(
        name="digital-audio-normal",
        family="reference",
        title="Digital audio interface, normal accuracy",
        allowance=_ppm(1000, "IEC 60958-3, level II"),
        line="any sample clock, within 1000 ppm",
    ),
)


@dataclass(frozen=True, slots=True)
class Ask:
    """The frequency wanted (hertz; None: the clock's own nominal) and how far it may be off."""

    rate: Fraction | None
    allowance: Allowance


class Reference(Family[None, Ask]):
    """A reference clock. The rate is the clock's own frequency in hertz."""

    name = "reference"
    title = "reference clock"
    rule = "rate = clock"
    sources = (_USB, "RMII Specification rev. 1.2", "Bluetooth Core Specification 5.2")
    rate_unit = "Hz"
    standards = tuple(each.name for each in STANDARDS)

    def read_generator(self, fields: Fields) -> None:
        """Nothing: the load takes the clock as it is."""
        fields.finish()

    def read_ask(self, fields: Fields) -> Ask:
        """`standard`, or `rate` with `allowance`; either may stand beside a standard that leaves it open."""
        standard = take_standard(fields, STANDARDS)
        any_rate = standard is not None and standard.rate is None
        rate = None if any_rate and "rate" not in fields.raw else take_rate(fields, standard, kind=FREQUENCY)
        fields.known.append("rate")
        own = read_allowance(fields) or (standard.allowance if standard else None)
        if own is None and "standard" not in fields.raw and "allowance" not in fields.raw:
            fields.problems.append(
                Problem(
                    f"{fields.where}.standard", "is missing", "name a standard, or write an allowance such as ±50 ppm"
                )
            )
        fields.finish()
        assert own is not None
        return Ask(rate, own)

    def answer(self, feed: Feed, generator: None, ask: Ask) -> LinkAnswer:
        """The clock against what is asked of it."""
        wanted = ask.rate or feed.nominal
        error, lowest, highest = errors_of(feed.nominal, wanted, feed.tolerance)
        choice = Choice(
            settings={},
            rate=feed.nominal,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
        )
        return LinkAnswer((choice,), ask.allowance, best_verdict((choice,)))

    def settle(self, feed: Feed, generator: None, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """There is nothing to choose. Raises Refused where something is."""
        Fields(chosen, where).finish()
        return self.answer(feed, generator, ask).choices[0]


FAMILY = Reference()
