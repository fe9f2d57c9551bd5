"""Two factors whose product comes nearest to a wanted number: complete, in whole numbers.

For each first factor a, of the second ones only the two next to wanted / a can be nearest: from there on outwards the
product only moves away. Where both factors come from unbroken ranges, all first factors are tried by one division each
(`wanted mod a`), which takes some milliseconds for 65 536 of them.

>>> from wheelwork.quantities.ratios import read_ratios
>>> sixteen = read_ratios("1..65536")
>>> nearest_products(sixteen, sixteen, Fraction(64_000_000), 1)
[(1000, 64000)]
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from heapq import nsmallest
from math import isqrt

from wheelwork.quantities.ratios import RatioSet

Pair = tuple[int, int]
Ends = tuple[int, int]
"""The lowest and the highest of an unbroken range."""


def nearest_products(first: RatioSet, second: RatioSet, wanted: Fraction, count: int) -> list[Pair]:
    """So many pairs (first, second) whose product is nearest to the wanted one, by the share they are off.

    Nearest is by |product / wanted - 1| or |wanted / product - 1|, whichever the caller sorts by: on each side of the
    wanted number as many pairs are given as asked for, so both orders find their best among them. Among equal products
    the largest second factor comes first.
    """
    below = _best(_one_sided(first, second, wanted, count, -1), wanted, count)
    above = _best(_one_sided(first, second, wanted, count, 1), wanted, count)
    merged = dict.fromkeys((*below, *above))
    return sorted(merged, key=lambda pair: (abs(pair[0] * pair[1] - wanted), -pair[1]))


def _best(pairs: Iterator[Pair], wanted: Fraction, count: int) -> list[Pair]:
    return nsmallest(count, pairs, key=lambda pair: (abs(pair[0] * pair[1] - wanted), -pair[1]))


def _one_sided(first: RatioSet, second: RatioSet, wanted: Fraction, count: int, side: int) -> Iterator[Pair]:
    """Pairs on one side of the wanted product (0 belongs below) that hold the nearest ones there."""
    whole = [run for run in (*first.runs, *second.runs) if run.step != 1]
    if len(first.runs) == len(second.runs) == 1 and not whole:
        yield from _in_ranges(_ends(first), _ends(second), wanted, count, side)
        return
    for value in first:
        a = int(value)
        found = second.at_most(wanted / a) if side < 0 else second.at_least(Fraction(wanted / a // 1 + 1))
        for _ in range(count):
            if found is None:
                break
            yield a, int(found)
            found = second.at_most(found - 1) if side < 0 else second.at_least(found + 1)


def _in_ranges(first: Ends, second: Ends, wanted: Fraction, count: int, side: int) -> Iterator[Pair]:
    """The same for two unbroken ranges: of every pair one factor is at most the root of the product, or both are above.

    So the small factors of either range are tried, some hundreds. Pairs of two larger factors are above the wanted
    number, and past the square of the next larger: all first factors are tried only where fewer stand before that.
    """
    root = isqrt(wanted // 1) + count
    found = dict.fromkeys(_along(_up_to(first, root), second, wanted, count, side))
    found.update(dict.fromkeys((a, b) for b, a in _along(_up_to(second, root), first, wanted, count, side)))
    before = (a * b < (root + 1) ** 2 for a, b in found)
    if side < 0 or sum(before) >= count:
        yield from found
    else:
        yield from _along(first, second, wanted, count, side)


def _up_to(ends: Ends, most: int) -> Ends:
    return ends[0], min(ends[1], most)


def _along(first: Ends, second: Ends, wanted: Fraction, count: int, side: int) -> Iterator[Pair]:
    """Every first factor tried, by the remainders of all divisions at once."""
    n, d = wanted.numerator, wanted.denominator
    (a0, a1), (b0, b1) = first, second
    low, high = max(a0, -(-n // (d * b1))), min(a1, n // (d * b0))
    if side < 0:  # too small whatever the second factor: the largest are the nearest
        end = min(low, a1 + 1)
        yield from ((a, b) for a in range(max(a0, end - count), end) for b in range(b1, max(b0 - 1, b1 - count), -1))
        off = [n % (d * a) for a in range(low, high + 1)]
    else:
        start = max(a0, high + 1)
        yield from (
            (a, b) for a in range(start, min(a1 + 1, start + count)) for b in range(b0, min(b1 + 1, b0 + count))
        )
        off = [-n % (d * a) for a in range(low, high + 1)]
    if not off:
        return
    farthest = max(nsmallest(count, off))
    for place, distance in enumerate(off):
        if distance <= farthest:
            a = low + place
            b = n // (d * a) if side < 0 or not distance else n // (d * a) + 1
            for more in range(count):
                inside = b + side * more
                if b0 <= inside <= b1:
                    yield a, inside


def _ends(offered: RatioSet) -> Ends:
    run = offered.runs[0]
    return int(run.first), int(run.last)
