"""Clocks that a standard speaks of: their frequency and how far it may be off.

A line says so where its figure is not confirmed. Rates of symbols are given as the clock that makes them.
"""

from __future__ import annotations

from fractions import Fraction

from wheelwork.links.family import Allowance
from wheelwork.links.standards import Standard


def _ppm(figure: int | Fraction, source: str) -> Allowance:
    share = Fraction(figure) / 10**6
    return Allowance(-share, share, source)


USB = "USB 2.0, section 7.1.11"
_MEMORY = "figure not confirmed"

STANDARDS = (
    Standard(
        name="usb-full-speed",
        family="reference",
        title="USB, full speed, a function",
        rate=Fraction(48_000_000),
        allowance=_ppm(2500, f"{USB}, of four times the rate"),
        line="48 MHz within 0.25 %, four times the 12 Mbit/s of a function",
    ),
    Standard(
        name="usb-full-speed-host",
        family="reference",
        title="USB, full speed, a host or hub",
        rate=Fraction(48_000_000),
        allowance=_ppm(500, f"{USB}, of four times the rate"),
        line="48 MHz within 500 ppm: a host, a hub, or a function that also knows high speed",
    ),
    Standard(
        name="usb-low-speed",
        family="reference",
        title="USB, low speed, a function",
        rate=Fraction(6_000_000),
        allowance=_ppm(15_000, f"{USB}, of four times the rate"),
        line="6 MHz within 1.5 %, four times the 1.5 Mbit/s of a function",
    ),
    Standard(
        name="usb-low-speed-host",
        family="reference",
        title="USB, low speed, a host or hub",
        rate=Fraction(6_000_000),
        allowance=_ppm(500, f"{USB}, of four times the rate"),
        line="6 MHz within 500 ppm, four times the 1.5 Mbit/s of a host or hub",
    ),
    Standard(
        name="usb-high-speed",
        family="reference",
        title="USB, high speed",
        rate=Fraction(480_000_000),
        allowance=_ppm(500, USB),
        line="480 MHz within 500 ppm",
    ),
    Standard(
        name="usb-power-delivery",
        family="reference",
        title="USB Power Delivery, bits on the configuration line",
        allowance=_ppm(100_000, "USB Power Delivery R2.0, section 5.8.1"),
        line="a multiple of 300 kbit/s, within 10 %",
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
        name="ethernet-mii-10",
        family="reference",
        title="Ethernet, media independent interface at 10 Mbit/s",
        rate=Fraction(2_500_000),
        allowance=_ppm(100, f"IEEE 802.3, clause 22; {_MEMORY}"),
        line="2.5 MHz within 100 ppm",
    ),
    Standard(
        name="ethernet-rgmii",
        family="reference",
        title="Ethernet, reduced gigabit media independent interface",
        rate=Fraction(125_000_000),
        allowance=_ppm(50, f"RGMII Specification; {_MEMORY}"),
        line="125 MHz within 50 ppm",
    ),
    Standard(
        name="ethernet-transmitter",
        family="reference",
        title="Ethernet, reference of a 10, 100 or 1000BASE-T transmitter",
        allowance=_ppm(50, "IEEE 802.3 as cited by component makers"),
        line="any frequency, within 50 ppm",
    ),
    Standard(
        name="ethernet-node",
        family="reference",
        title="Ethernet, reference of a node",
        allowance=_ppm(100, "IEEE 802.3 as cited by component makers"),
        line="any frequency, within 100 ppm",
    ),
    Standard(
        name="ethernet-10base-t1s",
        family="reference",
        title="Ethernet, 10BASE-T1S transmitter",
        allowance=_ppm(100, "IEEE 802.3, clause 147 as cited by a component maker"),
        line="any frequency, within 100 ppm",
    ),
    Standard(
        name="ethernet-100base-x",
        family="reference",
        title="Ethernet, 100BASE-X code bits",
        rate=Fraction(125_000_000),
        allowance=_ppm(50, f"IEEE 802.3, clauses 24 and 25; {_MEMORY}"),
        line="125 MHz, one for each code bit, within 50 ppm",
    ),
    Standard(
        name="ethernet-1000base-t",
        family="reference",
        title="Ethernet, 1000BASE-T symbols",
        rate=Fraction(125_000_000),
        allowance=_ppm(100, f"IEEE 802.3, clause 40; {_MEMORY}"),
        line="125 MHz, one for each symbol, within 100 ppm",
    ),
    Standard(
        name="ethernet-100base-t1",
        family="reference",
        title="Ethernet, 100BASE-T1 symbols",
        rate=Fraction(200_000_000, 3),
        allowance=_ppm(100, f"IEEE 802.3, clause 96; {_MEMORY}"),
        line="200 MHz / 3, one for each symbol, within 100 ppm",
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
        line="100 MHz within 300 ppm; spread spectrum may take 0.5 % off",
    ),
    Standard(
        name="flexray",
        family="reference",
        title="FlexRay, the clock of a node",
        allowance=_ppm(1500, f"FlexRay Protocol Specification 2.1A; {_MEMORY} (3000 ppm between two nodes is)"),
        line="any frequency, within 1500 ppm",
    ),
    Standard(
        name="proximity-card",
        family="reference",
        title="Radio cards at 13.56 MHz, the carrier of a reader",
        rate=Fraction(13_560_000),
        allowance=_ppm(Fraction(7_000 * 10**6, 13_560_000), "ISO/IEC 14443-2, clause 6.2"),
        line="13.56 MHz within 7 kHz",
    ),
    Standard(
        name="colour-subcarrier-ntsc",
        family="reference",
        title="Colour television, NTSC subcarrier",
        rate=Fraction(315_000_000, 88),
        allowance=_ppm(Fraction(10 * 88, 315), "SMPTE 170M; ITU-R BT.1700"),
        line="315 MHz / 88 within 10 Hz",
    ),
    Standard(
        name="colour-subcarrier-pal",
        family="reference",
        title="Colour television, PAL subcarrier",
        rate=Fraction(17_734_475, 4),
        allowance=_ppm(Fraction(5 * 4 * 10**6, 17_734_475), f"ITU-R BT.1700; {_MEMORY}"),
        line="4.43361875 MHz within 5 Hz",
    ),
    Standard(
        name="vga-640x480",
        family="reference",
        title="Video, 640 × 480 at 60 Hz, pixel clock",
        rate=Fraction(25_175_000),
        allowance=_ppm(5000, f"VESA DMT, CTA-861; {_MEMORY}"),
        line="25.175 MHz within 0.5 %",
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
