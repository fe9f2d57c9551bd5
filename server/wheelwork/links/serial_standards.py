"""Standards of asynchronous serial lines, by name: rate, how far it may be off, what each asks besides.

Sources stand in each allowance; `figure not confirmed` where the standard's own text was not read for it. A standard
without an allowance of its own leaves it to the receiver (`uart.py`). Characters other than the first, from memory:
Modbus without parity has 2 stop bits, and 7 data bits in its ASCII mode (MODBUS over Serial Line V1.02, sections 2.5.1
and 2.5.2); a smart card's block protocol (T=1) may leave one moment less between characters (ISO/IEC 7816-3).
"""

from __future__ import annotations

from fractions import Fraction

from wheelwork.links.allowances import within
from wheelwork.links.standards import Standard

FIELD_BUS_RATES = tuple(
    Fraction(rate) for rate in (9600, 19200, 45450, 93750, 187500, 500000, 1500000, 3000000, 6000000, 12000000)
)
INFRARED_RATES = tuple(Fraction(rate) for rate in (2400, 9600, 19200, 38400, 57600, 115200))
_LIN = "LIN 2.2A / ISO 17987-4:2016, bit rate tolerance"
_LIN_SLOWEST, _LIN_FASTEST = Fraction(1000), Fraction(20000)
_MODBUS_FRAMES = ("8O1", "8N2", "7E1", "7O1", "7N2")
_MODBUS = "MODBUS over Serial Line V1.02, section 2.5.1.1"

STANDARDS = (
    Standard(
        name="midi",
        family="uart",
        title="MIDI 1.0",
        rate=Fraction(31250),
        frame="8N1",
        allowance=within("1", "IEC 63035:2017 (MIDI 1.0), clause 4.1"),
        line="31 250 Bd within 1 %, 8 data bits, no parity, 1 stop bit",
    ),
    Standard(
        name="dmx512",
        family="uart",
        title="DMX512-A",
        rate=Fraction(250000),
        frame="8N2",
        allowance=within("2", "ANSI E1.11 (DMX512-A), timing tables"),
        line="250 000 Bd within 2 %, 8 data bits, no parity, 2 stop bits; a break of at least 92 µs opens a packet",
    ),
    Standard(
        name="lin",
        family="uart",
        title="LIN, the node that sends the headers",
        slowest=_LIN_SLOWEST,
        fastest=_LIN_FASTEST,
        frame="8N1",
        allowance=within("0.5", f"{_LIN} of the sending node; figure not confirmed"),
        line="1000 to 20 000 Bd within 0.5 %: all others take their rate from this node",
    ),
    Standard(
        name="lin-own-clock",
        family="uart",
        title="LIN, an answering node on an accurate clock of its own",
        slowest=_LIN_SLOWEST,
        fastest=_LIN_FASTEST,
        frame="8N1",
        allowance=within("1.5", f"{_LIN} without synchronization; figure not confirmed"),
        line="1000 to 20 000 Bd within 1.5 % without listening to the synchronization byte",
    ),
    Standard(
        name="lin-before-synchronization",
        family="uart",
        title="LIN, an answering node before it is synchronized",
        slowest=_LIN_SLOWEST,
        fastest=_LIN_FASTEST,
        frame="8N1",
        allowance=within("14", f"{_LIN} before synchronization"),
        line="1000 to 20 000 Bd within 14 %: near enough to find the break and measure the synchronization byte",
    ),
    Standard(
        name="lin-synchronized",
        family="uart",
        title="LIN, an answering node once synchronized",
        slowest=_LIN_SLOWEST,
        fastest=_LIN_FASTEST,
        frame="8N1",
        allowance=within("2", f"{_LIN} between two nodes"),
        line="1000 to 20 000 Bd within 2 % of the sending node's rate",
    ),
    Standard(
        name="modbus",
        family="uart",
        title="Modbus, sending",
        usual=Fraction(19200),
        frame="8E1",
        frames=_MODBUS_FRAMES,
        allowance=within("1", f"{_MODBUS}, transmission"),
        line="9600 and 19 200 Bd are required, 19 200 is usual; within 1 % when sending; characters of 11 bits",
    ),
    Standard(
        name="modbus-receiving",
        family="uart",
        title="Modbus, receiving",
        usual=Fraction(19200),
        frame="8E1",
        frames=_MODBUS_FRAMES,
        allowance=within("2", f"{_MODBUS}, reception"),
        line="a rate 2 % off is to be understood; characters of 11 bits",
    ),
    Standard(
        name="infrared",
        family="uart",
        title="IrDA serial infrared",
        rates=INFRARED_RATES,
        frame="8N1",
        allowance=within("0.87", "IrDA Serial Infrared Physical Layer V1.4, signaling rates; figure not confirmed"),
        line="2400 to 115 200 Bd within 0.87 % (some data sheets say 1.87 %), a pulse of 3/16 of a bit for each zero",
    ),
    Standard(
        name="smart-card",
        family="uart",
        title="Smart card with contacts",
        frame="8E2",
        frames=("8E1",),
        line="a bit is F/D clocks of the card, 372 unless agreed otherwise (ISO/IEC 7816-3:2006, tables 7 and 8)",
    ),
    Standard(
        name="dali",
        family="uart",
        title="DALI lighting bus",
        rate=Fraction(1200),
        allowance=within("10", "IEC 62386-101, bit timing"),
        line="1200 bit/s within 10 %, two halves a bit: a port that sends each half needs 2400 Bd",
    ),
    Standard(
        name="profibus",
        family="uart",
        title="PROFIBUS DP",
        rates=FIELD_BUS_RATES,
        frame="8E1",
        allowance=within("0.3", "IEC 61158 / EN 50170; figure not confirmed"),
        line="9600 Bd to 12 MBd in ten rates, within 0.3 %; characters of 11 bits",
    ),
    Standard(
        name="sent",
        family="uart",
        title="SENT sensor link, counted in ticks",
        slowest=Fraction(10**6, 90),
        fastest=Fraction(10**6, 3),
        allowance=within("20", "SAE J2716, clock tick; figure not confirmed"),
        line="ticks of 3 to 90 µs within 20 %; a calibration pulse of 56 ticks opens a message",
    ),
    Standard(
        name="knx",
        family="uart",
        title="KNX twisted pair",
        rate=Fraction(9600),
        frame="8E1",
        line="9600 Bd, 104.2 µs a bit, 8 data bits, even parity (KNX Standard, TP1)",
    ),
)
