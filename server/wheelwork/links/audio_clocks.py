"""Clocks beside an audio port's sample rate: bit clocks, microphones' windows, the digital interface's accuracies.

Sources: AES5 (sample rates) · Philips I2S bus specification, June 1996 · IEC 60958-3 · TDK InvenSense AN-000111 (the
clock of a microphone that gives single bits) · INMP441 data sheet, Table 3 (of one that gives words).

Worked value: two slots of 16 bits at 48 kHz take a bit clock of 1.536 MHz.

>>> str(bit_clock(Fraction(48_000), 2, 16))
'1536000'
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from wheelwork.links.allowances import within
from wheelwork.links.standards import Standard

SAMPLE_RATES = (Fraction(44_100), Fraction(48_000))
"""The two sample rates from which the others come by doubling."""


@dataclass(frozen=True, slots=True)
class Window:
    """What a device bears of a clock, in hertz."""

    lowest: Fraction
    highest: Fraction

    def holds(self, clock: Fraction) -> bool:
        """Whether a clock lies in it; the ends do."""
        return self.lowest <= clock <= self.highest


BIT_MICROPHONE = Window(Fraction(512_000), Fraction(4_800_000))
WORD_MICROPHONE = Window(Fraction(500_000), Fraction(3_200_000))
WORD_MICROPHONE_BITS = 64
"""Bits in a frame of a microphone that gives words: its bit clock is so many times the sample rate."""

LEAST_LEVEL = Fraction(35, 100)
"""The shortest low and high of an I2S bit clock, as a share of its period."""
LONGEST_DELAY, LONGEST_RISE, LEAST_SET_UP = Fraction(80, 100), Fraction(15, 100), Fraction(20, 100)
"""Of the I2S data: longest delay and rise, shortest set-up, as shares of the bit clock's period."""

STANDARDS = (
    Standard(
        name="iec-60958-high-accuracy",
        family="audio",
        title="Digital audio interface, high accuracy",
        allowance=within("0.005", "IEC 60958-3, level I"),
        line="any sample rate within 50 ppm",
    ),
    Standard(
        name="iec-60958-normal",
        family="audio",
        title="Digital audio interface, normal accuracy",
        allowance=within("0.1", "IEC 60958-3, level II"),
        line="any sample rate within 1000 ppm",
    ),
    Standard(
        name="iec-60958-variable",
        family="audio",
        title="Digital audio interface, variable pitch",
        allowance=within("12.5", "IEC 60958, level III: by agreement with the receiver; figure not confirmed"),
        line="any sample rate within 12.5 %, where the receiver agrees",
    ),
    Standard(
        name="i2s",
        family="audio",
        title="I2S bus",
        allowance=within("10", "Philips I2S bus specification, June 1996, example; figure not confirmed"),
        line="any sample rate within 10 %",
    ),
    Standard(
        name="bit-microphone",
        family="audio",
        title="Microphone that gives single bits",
        allowance=within("0.1", "IEC 60958-3, level II; the clock by TDK InvenSense AN-000111"),
        line="its clock (the master clock) from 512 kHz to 4.8 MHz",
    ),
    Standard(
        name="word-microphone",
        family="audio",
        title="Microphone that gives words",
        slowest=WORD_MICROPHONE.lowest / WORD_MICROPHONE_BITS,
        fastest=WORD_MICROPHONE.highest / WORD_MICROPHONE_BITS,
        allowance=within("0.1", "IEC 60958-3, level II; the rates by the INMP441 data sheet, Table 3"),
        line="sample rates from 7.8125 to 50 kHz: 64 bits a frame, 0.5 to 3.2 MHz",
    ),
)


def bit_clock(sample_rate: Fraction, slots: int, bits: int) -> Fraction:
    """The bit clock (hertz) of a port that sends so many slots of so many bits for each sample."""
    return sample_rate * slots * bits


def decimated(clock: Fraction, decimation: int) -> Fraction:
    """The sample rate (hertz) that is left of a stream of single bits of which so many make one sample."""
    return clock / decimation
