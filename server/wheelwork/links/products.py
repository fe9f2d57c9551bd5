"""Two factors whose product comes nearest to a wanted number: complete, in whole numbers.

A first factor and all second ones beside it are a row, and in a row the product only moves away from the wanted number
on either side of wanted / first. Of all rows only those can hold one of the nearest that begin nearest. Of two factors
one is at most the root of the product, or both are larger; so rows are needed only for factors up to the root, on
either side, and of the pairs of two larger ones, which are all above the wanted number, only the smallest.

>>> from wheelwork.quantities.ratios import read_ratios
>>> sixteen = read_ratios("1..65536")
>>> nearest_products(sixteen, sixteen, Fraction(64_000_000), 1)[0]
(1000, 64000)
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from heapq import nsmallest
from math import isqrt
from operator import sub

from wheelwork.quantities.ratios import RatioSet

Pair = tuple[int, int]


def nearest_products(first: RatioSet, second: RatioSet, wanted: Fraction, count: int) -> list[Pair]:
    """Pairs (first, second) whose product is nearest to the wanted one, the nearest first.

    So many pairs not above the wanted number are given, and so many above it: whether nearest is by
    |product / wanted - 1| or by |wanted / product - 1|, that many of the nearest are among them. Among equal products
    the largest second factor comes first.
    """
    found = {pair for a in _parts(first) for b in _parts(second) for pair in _near(a, b, wanted, count)}
    n, d = wanted.numerator, wanted.denominator

    def off(pair: Pair) -> Pair:
        return abs(d * pair[0] * pair[1] - n), -pair[1]

    below = nsmallest(count, (pair for pair in found if d * pair[0] * pair[1] <= n), key=off)
    above = nsmallest(count, (pair for pair in found if d * pair[0] * pair[1] > n), key=off)
    return sorted([*below, *above], key=off)


def _parts(offered: RatioSet) -> list[Sequence[int]]:
    """A ratio set as its ranges, and all its single numbers in order."""
    ranges = [range(int(run.first), int(run.last) + 1, run.step) for run in offered.runs if run.first != run.last]
    singles = sorted(int(run.first) for run in offered.runs if run.first == run.last)
    return [*ranges, singles] if singles else [*ranges]


def _near(a: Sequence[int], b: Sequence[int], wanted: Fraction, count: int) -> Iterator[Pair]:
    """Pairs of two parts that hold the nearest on either side."""
    root = isqrt(wanted // 1)
    few_a, few_b = bisect_right(a, root), bisect_right(b, root)
    if min(len(a), len(b)) <= few_a + few_b:
        if len(a) <= len(b):
            yield from _rows(a, b, wanted, count)
        else:
            yield from _turned(_rows(b, a, wanted, count))
        return
    yield from _rows(a[:few_a], b, wanted, count)
    yield from _turned(_rows(b[:few_b], a, wanted, count))
    yield from _all(a[few_a : few_a + count], b[few_b : few_b + count])


def _rows(outer: Sequence[int], inner: Sequence[int], wanted: Fraction, count: int) -> Iterator[Pair]:
    """Pairs of every outer factor with the inner ones about wanted / outer, as far as they can be among the nearest.

    Rows that end before the wanted number hold the nearest where both factors are largest; rows that begin above it
    where both are smallest.
    """
    ending, beginning = bisect_right(outer, wanted // inner[-1]), bisect_right(outer, wanted // inner[0])
    yield from _all(outer[max(0, ending - count) : ending], inner[-count:])
    yield from _all(outer[beginning : beginning + count], inner[:count])
    between = outer[ending:beginning]
    for a in _leading(between, inner, wanted, count):
        place = bisect_right(inner, wanted // a)
        yield from ((a, b) for b in inner[max(0, place - count) : place + count])


def _leading(outer: Sequence[int], inner: Sequence[int], wanted: Fraction, count: int) -> list[int]:
    """The outer factors whose rows begin nearest, on either side; every row reaches past the wanted number."""
    if not outer:
        return []
    below, above = _beginnings(outer, inner, wanted)
    under, over = nsmallest(count, below)[-1], nsmallest(count, above)[-1]
    return [a for a, low, high in zip(outer, below, above, strict=True) if low <= under or high <= over]


def _beginnings(outer: Sequence[int], inner: Sequence[int], wanted: Fraction) -> tuple[list[int], list[int]]:
    """How far each row's next products below (or on) and above the wanted number are off, times its denominator."""
    n, d = wanted.numerator, wanted.denominator
    if isinstance(inner, range):
        strides = _times(outer, d * inner.step)
        if inner.step == 1:
            below = [n % stride for stride in strides]
        else:
            below = [
                (n - start) % stride for start, stride in zip(_times(outer, d * inner.start), strides, strict=True)
            ]
        return below, list(map(sub, strides, below))
    places = [bisect_right(inner, n // (d * a)) for a in outer]
    below = [n - d * a * inner[place - 1] for a, place in zip(outer, places, strict=True)]
    return below, [d * a * inner[place] - n for a, place in zip(outer, places, strict=True)]


def _times(numbers: Sequence[int], factor: int) -> Sequence[int]:
    if isinstance(numbers, range):
        return range(numbers.start * factor, numbers.stop * factor, numbers.step * factor)
    return [number * factor for number in numbers]


def _all(first: Sequence[int], second: Sequence[int]) -> Iterator[Pair]:
    return ((a, b) for a in first for b in second)


def _turned(pairs: Iterable[Pair]) -> Iterator[Pair]:
    return ((b, a) for a, b in pairs)
