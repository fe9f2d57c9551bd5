"""Which crystal to fit: the standard values within an oscillator's window, each tried, best first.

The values are those that crystals are commonly cut for, each with the reason that makes it common. Sources (from
memory): ITU-R BT.1700 (colour subcarriers), ITU-R BT.601 (13.5 MHz sampling), ISO/IEC 13818-1 (27 MHz system clock),
ISO/IEC 14443-2 (13.56 MHz carrier), IEEE 802.3 (25 MHz interface clock), AES5 (32, 44.1 and 48 kHz sampling), ITU-T
G.703 (2048 kbit/s), ITU-T G.707 (155.52 Mbit/s), 3GPP TS 45.010 (bit rate 1625/6 kbit/s). Round values, powers of two
for time-keeping and multiples of serial rates are common practice, no source.

>>> reason_for(Fraction(3_686_400))
'32 times 115 200 Bd'
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from wheelwork.find.conflicts import pins_of
from wheelwork.find.counting import count_settings
from wheelwork.find.question import Answer, CrystalChoice, Question, Solution, StillTime
from wheelwork.find.scores import value_of
from wheelwork.find.search import find_settings, whole_order
from wheelwork.judge.judgement import reckon
from wheelwork.part.nodes import Oscillator
from wheelwork.plan.plan import Fitted, Plan

_ROUND = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 18, 20, 24, 25, 26, 27, 28, 30, 32, 36, 40, 48, 50)
"""Megahertz."""
_SUBCARRIER = Fraction(315, 88) * 10**6
"""The colour subcarrier of 525-line television: 315/88 MHz."""
_REASONS: dict[Fraction, str] = {
    Fraction(32_768): "2^15 Hz: halved 15 times it ticks once a second",
    **{Fraction(value * 10**6): "a whole number of megahertz" for value in _ROUND},
    Fraction(2**22): "2^22 Hz: halved 22 times it ticks once a second",
    **{Fraction(115_200 * n): f"{n} times 115 200 Bd" for n in (16, 32, 48, 64, 96, 128, 160, 192, 256)},
    **{Fraction(9_600 * n): f"{n} times 9600 Bd" for n in (256, 512, 1024, 2048)},
    _SUBCARRIER: "colour subcarrier, 525 lines",
    4 * _SUBCARRIER: "4 times the colour subcarrier, 525 lines",
    Fraction("4433618.75"): "colour subcarrier, 625 lines",
    4 * Fraction("4433618.75"): "4 times the colour subcarrier, 625 lines",
    Fraction(13_500_000): "television sampling, luminance",
    Fraction(27_000_000): "system clock of coded television",
    Fraction(13_560_000): "carrier of contactless cards",
    Fraction(27_120_000): "2 times the carrier of contactless cards",
    Fraction(25_000_000): "clock of a 100 Mbit/s network interface, four bits at a time",
    Fraction(48_000_000): "4 times 12 Mbit/s",
    **{Fraction(32_000 * n): f"{n} times 32 kHz sampling" for n in (256, 512)},
    **{Fraction(44_100 * n): f"{n} times 44.1 kHz sampling" for n in (128, 256, 384, 512, 1024)},
    **{Fraction(48_000 * n): f"{n} times 48 kHz sampling" for n in (128, 256, 512, 1024)},
    Fraction(2_048_000): "the primary rate of telephony, 2048 kbit/s",
    Fraction(4_096_000): "2 times the primary rate of telephony",
    Fraction(19_440_000): "155.52 Mbit/s over 8",
    Fraction(13_000_000): "48 times the bit rate of second-generation mobile telephony",
    Fraction(26_000_000): "96 times the bit rate of second-generation mobile telephony",
    Fraction(19_200_000): "common in radio, no source",
    Fraction(38_400_000): "common in radio, no source",
}

STANDARD_CRYSTALS: tuple[Fraction, ...] = tuple(sorted(_REASONS))
"""Standard values in hertz, rising."""


def reason_for(frequency: Fraction) -> str:
    """Why a standard value is common. Raises KeyError for a value that is none."""
    return _REASONS[frequency]


def values_for(question: Question, oscillator: str, values: Iterable[Fraction] = STANDARD_CRYSTALS) -> list[Fraction]:
    """The values that the board may fit for an oscillator: within the sheet's window, or on its list; rising.

    Where the sheet lists what fits, the list itself is what is tried.
    """
    node = question.part.nodes[oscillator]
    if not isinstance(node, Oscillator) or node.fitted is None:
        return []
    return sorted(set(node.fits)) if node.fits else sorted({value for value in values if value in node.fitted})


def choose_crystals(
    question: Question, oscillator: str, still_time: StillTime, values: Iterable[Fraction] = STANDARD_CRYSTALS
) -> tuple[CrystalChoice, ...]:
    """Each value the board may fit, with how many settings meet the targets then and the best of them, best first.

    Best by the question's preferences, then more settings, then what the search itself puts first, then the lower
    frequency. What was not decided in time comes after what fits, what does not fit last. The plan's tolerance for the
    oscillator is kept.
    """
    offered = {value: with_crystal(question, oscillator, value) for value in values_for(question, oscillator, values)}
    answers = {value: find_settings(replace(asked, count=False), still_time) for value, asked in offered.items()}
    numbers = {value: _count(offered[value], answer, still_time) for value, answer in answers.items()}
    ranked = sorted(offered, key=lambda value: _place(question, value, answers[value], numbers[value]))
    return tuple(CrystalChoice(value, numbers[value], _best(answers[value])) for value in ranked)


def _count(asked: Question, answer: Answer, still_time: StillTime) -> int | None:
    """How many settings fit; the best of all values come before the first count."""
    if answer.fits is False:
        return 0
    return count_settings(asked.part, asked.plan, still_time, asked.targets, pins_of(asked)) if asked.count else None


def with_crystal(question: Question, oscillator: str, frequency: Fraction) -> Question:
    """The question with another crystal fitted; only its best setting is asked for."""
    return replace(question, plan=fit_crystal(question.plan, oscillator, frequency), top=1)


def fit_crystal(plan: Plan, oscillator: str, frequency: Fraction) -> Plan:
    """The plan with another frequency fitted, its tolerance kept."""
    fitted = replace(plan.fitted.get(oscillator, Fitted()), frequency=frequency)
    return replace(plan, fitted={**plan.fitted, oscillator: fitted})


def _best(answer: Answer) -> Solution | None:
    return answer.solutions[0] if answer.solutions else None


def _place(question: Question, value: Fraction, answer: Answer, number: int | None) -> tuple[object, ...]:
    best = _best(answer)
    if best is None:
        return (2 if answer.fits is False else 1, value)
    judged = reckon(question.part, best.plan)
    scores = [-value_of(preference, question, judged) for preference in question.prefer]
    rest = [-value_of(preference, question, judged) for preference in whole_order(question)]
    return (0, *scores, -(number or 0), *rest, value)
