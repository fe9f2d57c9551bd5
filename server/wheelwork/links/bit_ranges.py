"""What hardware offers of a bit's timing, and the timings nearest to a wanted rate and sample point: complete.

Of prescaler and quanta only the product makes the rate. So the nearest products are sought (`products.py`), each
parted into prescaler and quanta in every way there is, and each bit into segments outwards from the sample point. The
jump is the largest that both segments allow, for a larger one never bears less.

>>> from wheelwork.quantities.ratios import read_ratios
>>> offered = offer(*map(read_ratios, ("1..64", "1..16", "1..8", "1..4")))
>>> for timing in nearest_timings(offered, Fraction(32), Fraction(7, 8), 1)[0]:
...     print(timing)
Timing(prescaler=4, segment_1=6, segment_2=1, jump=1)
Timing(prescaler=2, segment_1=13, segment_2=2, jump=2)
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import count as counting
from itertools import groupby
from math import lcm

from wheelwork.links.bit_timing import SYNCHRONIZATION, Timing
from wheelwork.links.nearest import Ordered
from wheelwork.links.products import nearest_products
from wheelwork.quantities.ratios import RatioSet, Run

LONGEST_SEGMENT = 512


@dataclass(frozen=True, slots=True)
class Ranges:
    """What the hardware offers of one bit timing.

    `firsts` and `seconds` are the segments as long as the shortest jump at least, `quanta` the bits that they make.
    """

    prescaler: RatioSet
    segment_1: RatioSet
    segment_2: RatioSet
    jump: RatioSet
    firsts: frozenset[int]
    seconds: frozenset[int]
    quanta: tuple[int, ...]

    def largest_jump(self, segment_1: int, segment_2: int) -> int:
        """The largest jump that is no longer than either segment."""
        jump = self.jump.at_most(Fraction(min(segment_1, segment_2)))
        assert jump is not None
        return int(jump)


def offer(prescaler: RatioSet, segment_1: RatioSet, segment_2: RatioSet, jump: RatioSet) -> Ranges:
    """The ranges of a bit timing; without any bit where the shortest jump is longer than every segment."""
    firsts, seconds = (frozenset(_at_least(each, jump.lowest)) for each in (segment_1, segment_2))
    return Ranges(prescaler, segment_1, segment_2, jump, firsts, seconds, tuple(_bits(firsts, seconds)))


def _at_least(offered: RatioSet, least: Fraction) -> Iterator[int]:
    for run in offered.runs:
        yield from (value for value in range(int(run.first), int(run.last) + 1, run.step) if value >= least)


def _bits(firsts: frozenset[int], seconds: frozenset[int]) -> list[int]:
    """The numbers of quanta that two segments make: every sum, found as the set bits of one long number."""
    second = sum(1 << value for value in seconds)
    made = 0
    for first in firsts:
        made |= second << first
    return [value + SYNCHRONIZATION for value in range(made.bit_length()) if made >> value & 1]


def nearest_timings(offered: Ranges, wanted: Fraction, sample_point: Fraction, count: int) -> list[list[Timing]]:
    """Timings nearest to clock / rate and, among those, to the sample point, the nearest first.

    They come in ranks of timings that are alike in both, so many whole ranks as hold at least `count` timings.
    """
    ranks: list[list[Timing]] = []
    held = 0
    for products in _nearest_products(offered, wanted, count):
        for rank in _by_sample_point(offered, products, sample_point, count):
            ranks.append(rank)
            held += len(rank)
            if held >= count:
                return ranks
    return ranks


def _nearest_products(offered: Ranges, wanted: Fraction, count: int) -> Iterator[list[int]]:
    """Products of prescaler and quanta by the error of their rate; two that are equally far off stand together."""

    def error(product: int) -> Fraction:
        return abs(wanted / product - 1)

    pairs = nearest_products(offered.prescaler, _ratio_set(offered.quanta), wanted, count)
    products = sorted({prescaler * quanta for prescaler, quanta in pairs}, key=error)
    return (list(alike) for _, alike in groupby(products, key=error))


def _ratio_set(numbers: tuple[int, ...]) -> RatioSet:
    first, last = Fraction(numbers[0]), Fraction(numbers[-1])
    if last - first + 1 == len(numbers):
        return RatioSet((Run(first, last),))
    return RatioSet(tuple(Run(Fraction(number), Fraction(number)) for number in numbers))


def _by_sample_point(offered: Ranges, products: list[int], wanted: Fraction, count: int) -> Iterator[list[Timing]]:
    """Timings of some products, in ranks of equal distance from a sample point: all that can be among the nearest.

    Distances are told as whole numbers, in parts of the products' common multiple.
    """
    found, prescalers = defaultdict(list), Ordered(offered.prescaler)
    parts, n, d = lcm(*products), wanted.numerator, wanted.denominator
    for product in products:
        for quanta in _quanta_of(offered.quanta, prescalers, product):
            prescaler = product // quanta
            for first in _firsts_near(offered, quanta, wanted, count):
                off = abs((SYNCHRONIZATION + first) * prescaler * d - n * product) * (parts // product)
                found[off].append((prescaler, first, quanta - SYNCHRONIZATION - first))
    for off in sorted(found):
        yield [Timing(*each, offered.largest_jump(*each[1:])) for each in found[off]]


def _quanta_of(offered: Iterable[int], prescalers: Ordered, product: int) -> Iterator[int]:
    """The quanta into which a product can be parted."""
    return (quanta for quanta in offered if product % quanta == 0 and product // quanta in prescalers)


def _firsts_near(offered: Ranges, quanta: int, wanted: Fraction, count: int) -> Iterator[int]:
    """First segments outwards from the sample point on both sides, until there are `count` of them."""
    rest = quanta - SYNCHRONIZATION
    low, high = (
        max(min(offered.firsts), rest - max(offered.seconds)),
        min(max(offered.firsts), rest - min(offered.seconds)),
    )
    below = wanted * quanta // 1 - SYNCHRONIZATION
    given = 0
    for step in counting(max(0, below - high, low - below - 1)):
        ends = below - step, below + 1 + step
        near = [first for first in ends if first in offered.firsts and rest - first in offered.seconds]
        yield from near
        given += len(near)
        if given >= count or (ends[0] <= low and ends[1] >= high):
            return
