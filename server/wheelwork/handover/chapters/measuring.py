"""How to measure each clock and link on the board, and what the instrument should read.

The readings are the plan's own, at both ends of the oscillator's tolerance; how to measure is common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from wheelwork.clocks.propagate import Clock
from wheelwork.handover.chapters.clocks import running_rows, say_title
from wheelwork.handover.report import Bullets, Chapter, Table
from wheelwork.judge import Judgement
from wheelwork.judge.rate_words import is_time
from wheelwork.judge.rates import JudgedLink
from wheelwork.quantities.numbers import group
from wheelwork.quantities.units import FREQUENCY, RATE, TIME, say_frequency, say_quantity

ORDER = 80
HEAD = ("No.", "Clock", "Nominal", "Period", "Counter over 1 s, from", "to")
LINK_HEAD = ("Link", "How to see it", "Should be", "From", "To")
FIGURES = 7
WAYS = (
    "Bring the clock to a pin: by the part's own clock output where it has one, else by a timer on that clock that "
    "toggles a pin; a pin that toggles at every overflow shows half of the overflow's rate.",
    "A counter with a gate of 1 s resolves 1 Hz. Its own time base adds its error: one of 1 ppm adds 1 Hz to each MHz.",
    "Leave a crystal's pins alone: a probe's capacitance pulls the frequency or stops it. Measure what is made of it.",
    "Measure at the ends of supply and temperature too: a reading on the bench says nothing of them.",
    "A reading outside the two columns means another divider, another source, or an oscillator past its tolerance.",
)


def write_chapter(judgement: Judgement) -> Chapter:
    """Ways to measure, each clock's reading, each link's."""
    clocks = Table(HEAD, tuple(_clock_rows(judgement)), right=(2, 3, 4, 5))
    links = tuple(row for link in judgement.links for row in _link_rows(link))
    shown = (Table(LINK_HEAD, links, right=(2, 3, 4)),) if links else ()
    return Chapter("Measuring on the board", (Bullets(WAYS), clocks, *shown))


def _clock_rows(judgement: Judgement) -> Iterator[tuple[str, ...]]:
    for place in running_rows(judgement):
        clock = place.judged.clock
        if clock is not None:
            period = say_quantity(1 / clock.nominal, TIME, 4)
            title = say_title(judgement, place)
            yield place.row.number, title, say_frequency(clock.nominal), period, *reading(clock)


def reading(clock: Clock) -> tuple[str, str]:
    """What a counter with a gate of one second reads at the ends of the tolerance, in whole hertz, taken outwards.

    >>> from wheelwork.quantities.spans import Span
    >>> ends = reading(Clock(Fraction(8_000_000), Span(Fraction(-3, 10**5), Fraction(3, 10**5)), "crystal"))
    >>> [end.replace("\\u2009", " ").replace("\\u00a0", " ") for end in ends]
    ['7 999 760 Hz', '8 000 240 Hz']
    """
    lowest, highest = clock.lowest // 1, -(-clock.highest // 1)
    return f"{group(str(lowest))}\u00a0Hz", f"{group(str(highest))}\u00a0Hz"


def _link_rows(link: JudgedLink) -> Iterator[tuple[str, ...]]:
    """What an instrument reads of a link; nothing where it does not run."""
    choice = link.choice
    if link.clock is None or choice is None or not choice.rate:
        return
    time = is_time(link.link.ask)
    value = link.family.shown * choice.rate if not time else 1 / (link.family.shown * choice.rate)
    kind = TIME if time else FREQUENCY if link.family.rate_unit == "Hz" or link.family.shown != 1 else RATE
    yield (
        link.title,
        link.family.measured or "–",
        *(say_quantity(each, kind, FIGURES) for each in (value, *_ends(link, value))),
    )


def _ends(link: JudgedLink, value: Fraction) -> tuple[Fraction, Fraction]:
    """The reading with the clock at either end of its tolerance, the lower one first."""
    choice, clock = link.choice, link.clock
    assert choice is not None
    assert clock is not None
    error, ends = choice.error, (choice.error_lowest, choice.error_highest)
    if error is None or error == -1 or ends[0] is None or ends[1] is None:
        shares = (1 + clock.tolerance.lowest, 1 + clock.tolerance.highest)
    else:
        shares = ((1 + ends[0]) / (1 + error), (1 + ends[1]) / (1 + error))
    return value * min(shares), value * max(shares)
