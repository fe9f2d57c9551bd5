"""Ratio sets: the values a divider or a factor may have, never expanded before their size is known.

`1..8` · `2..512 step 2` · a list whose items are whole numbers, ranges, or fractions as strings.

>>> read_ratios("2..512 step 2").size
256
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import gcd

from wheelwork.findings import Unreadable, quote
from wheelwork.quantities.numbers import read_number, write_exact

LARGEST = 10**10
LONGEST_LIST = 1024
MOST_RANGES = 16
FORMS = 'write "1..8", "2..512 step 2", or a list such as [1, "3/2", "2..16 step 2"]'

_RANGE = re.compile(r"\s*(\d{1,20})\s*\.\.\s*(\d{1,20})(?:\s+step\s+(\d{1,20}))?\s*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Run:
    """Evenly spaced values from `first` to `last`, both included; one value is a run of its own."""

    first: Fraction
    last: Fraction
    step: int = 1

    @property
    def size(self) -> int:
        """How many values there are."""
        return int((self.last - self.first) / self.step) + 1

    def __contains__(self, value: object) -> bool:
        if not isinstance(value, Fraction | int) or not self.first <= value <= self.last:
            return False
        return (value - self.first) % self.step == 0

    def at_most(self, bound: Fraction) -> Fraction | None:
        """The highest value not above the bound."""
        if bound < self.first:
            return None
        return self.first + (min(bound, self.last) - self.first) // self.step * self.step

    def at_least(self, bound: Fraction) -> Fraction | None:
        """The lowest value not below the bound."""
        if bound > self.last:
            return None
        steps = -((self.first - max(bound, self.first)) // self.step)
        return self.first + steps * self.step

    def overlaps(self, other: Run) -> bool:
        """Whether a value stands in both (the two progressions meet inside both spans)."""
        low, high = max(self.first, other.first), min(self.last, other.last)
        if low > high:
            return False
        if self.first == self.last:
            return self.first in other
        if other.first == other.last:
            return other.first in self
        if (other.first - self.first) % gcd(self.step, other.step):
            return False
        return _meeting(self, other, low) <= high

    def words(self) -> str:
        """The run in words: `2 to 512 in steps of 2`."""
        if self.size == 1:
            return write_exact(self.first) if self.first.denominator == 1 else str(self.first)
        if self.size == 2:
            return f"{self.first}, {self.last}"
        return f"{self.first} to {self.last}" + (f" in steps of {self.step}" if self.step != 1 else "")


def _meeting(one: Run, other: Run, low: Fraction) -> int:
    """The first whole number at or above `low` that both progressions hold (Chinese remainder theorem)."""
    common = gcd(one.step, other.step)
    period = other.step // common
    hops = int(other.first - one.first) // common * pow(one.step // common, -1, period) % period if period > 1 else 0
    first, cycle = int(one.first) + hops * one.step, one.step * period
    return first + max(0, -((first - int(low)) // cycle)) * cycle


@dataclass(frozen=True, slots=True)
class RatioSet:
    """The ratios offered, in the sheet's order, each once."""

    runs: tuple[Run, ...]

    @property
    def size(self) -> int:
        """How many ratios are offered."""
        return sum(run.size for run in self.runs)

    @property
    def first(self) -> Fraction:
        """The ratio that stands first on the sheet."""
        return self.runs[0].first

    @property
    def lowest(self) -> Fraction:
        """The smallest ratio."""
        return min(run.first for run in self.runs)

    @property
    def highest(self) -> Fraction:
        """The largest ratio."""
        return max(run.last for run in self.runs)

    def __contains__(self, value: object) -> bool:
        return any(value in run for run in self.runs)

    def __iter__(self) -> Iterator[Fraction]:
        for run in self.runs:
            for index in range(run.size):
                yield run.first + index * run.step

    def at_most(self, bound: Fraction) -> Fraction | None:
        """The highest ratio not above the bound, None where all are above."""
        return max((v for run in self.runs if (v := run.at_most(bound)) is not None), default=None)

    def at_least(self, bound: Fraction) -> Fraction | None:
        """The lowest ratio not below the bound, None where all are below."""
        return min((v for run in self.runs if (v := run.at_least(bound)) is not None), default=None)

    def above(self, value: Fraction) -> Fraction | None:
        """The next ratio above a value."""
        return min((v for v in (_past(run, value) for run in self.runs) if v is not None), default=None)

    def below(self, value: Fraction) -> Fraction | None:
        """The next ratio below a value."""
        return max((v for v in (_before(run, value) for run in self.runs) if v is not None), default=None)

    def position(self, value: Fraction) -> int:
        """The place of a ratio in the sheet's order, from 0. Raises ValueError where it is not offered."""
        before = 0
        for run in self.runs:
            if value in run:
                return before + int((value - run.first) / run.step)
            before += run.size
        raise ValueError(f"{value} is not offered")

    def words(self) -> str:
        """The set in words, as the page shows it: `1 to 6`, `1, 2, 4`.

        >>> read_ratios([1, "3/2", "2..16 step 2"]).words()
        '1, 3/2, 2 to 16 in steps of 2'
        """
        return ", ".join(run.words() for run in _joined(self.runs))


def _joined(runs: tuple[Run, ...]) -> list[Run]:
    """Whole numbers that stand side by side in threes or more told as one run, so that the words stay short."""
    joined: list[Run] = []
    for run in runs:
        last = joined[-1] if joined else None
        if last and run.size == 1 and last.step == 1 and run.first == last.last + 1 and last.first.denominator == 1:
            joined[-1] = Run(last.first, run.first)
        else:
            joined.append(run)
    return joined


def _past(run: Run, value: Fraction) -> Fraction | None:
    found = run.at_least(value)
    if found != value:
        return found
    return value + run.step if value + run.step <= run.last else None


def _before(run: Run, value: Fraction) -> Fraction | None:
    found = run.at_most(value)
    if found != value:
        return found
    return value - run.step if value - run.step >= run.first else None


def read_ratios(given: object) -> RatioSet:
    """A ratio set as a sheet writes it.

    Raises Unreadable for text that is none, an empty set, zero, a range that runs downwards, a ratio given twice.
    """
    items = given if isinstance(given, list) else [given]
    if not items:
        raise Unreadable("an empty list offers nothing", FORMS)
    if len(items) > LONGEST_LIST:
        raise Unreadable(f"a list of {len(items)} items is too long", f"at most {LONGEST_LIST}; write ranges")
    runs = tuple(_read_run(item) for item in items)
    _refuse_twice(runs)
    return RatioSet(runs)


def _refuse_twice(runs: tuple[Run, ...]) -> None:
    ranges = [run for run in runs if run.first != run.last]
    seen: set[Fraction] = set()
    for run in runs:
        if run.first == run.last and run.first in seen:
            raise Unreadable(f"{run.words()} stands twice", "name each ratio once")
        if run.first == run.last:
            seen.add(run.first)
    if len(ranges) > MOST_RANGES:
        raise Unreadable(f"{len(ranges)} ranges are too many", f"at most {MOST_RANGES} ranges in one list")
    for one, other in combinations(ranges, 2):
        if one.overlaps(other):
            raise Unreadable(f"{one.words()} and {other.words()} overlap", "name each ratio once")
    for value in seen:
        whole = value.denominator == 1  # and ranges hold nothing else
        holder = next((run for run in ranges if whole and value in run), None)
        if holder is not None:
            raise Unreadable(
                f"{write_exact(value)} stands twice, alone and in {holder.words()}", "name each ratio once"
            )


def _read_run(item: object) -> Run:
    if isinstance(item, bool) or not isinstance(item, int | str):
        raise Unreadable(f"{quote(item)} is no ratio", FORMS)
    if isinstance(item, int):
        return _one(Fraction(item), str(item)[:30])
    if len(item) > 100:
        raise Unreadable(f"{quote(item)} is too long", FORMS)
    found = _RANGE.fullmatch(item)
    if found is None:
        try:
            value = read_number(item, "3/2")
        except Unreadable:
            raise Unreadable(f"{quote(item)} is no ratio and no range", FORMS) from None
        return _one(value, item)
    first, last, step = (int(part or "1") for part in found.groups())
    if step == 0:
        raise Unreadable(f"{quote(item)} never gets on", "a step is 1 or more")
    if first > last:
        raise Unreadable(f"{quote(item)} runs downwards", f'write the smaller one first: "{last}..{first}"')
    _one(Fraction(first), item), _one(Fraction(last), item)
    return Run(Fraction(first), Fraction(last - (last - first) % step), step)


def _one(value: Fraction, written: str) -> Run:
    if value <= 0:
        raise Unreadable(f"{quote(written)} holds {value}", "a ratio is above 0")
    if value.numerator > LARGEST or value.denominator > LARGEST:
        raise Unreadable(f"{quote(written)} is too large", f"ratios go up to {LARGEST}")
    return Run(value, value)


def read_ratio(text: object) -> Fraction:
    """One ratio as a form or a plan gives it: a whole number, `3/2` or `1.5`.

    >>> read_ratio("3/2"), read_ratio(4)
    (Fraction(3, 2), Fraction(4, 1))
    """
    if isinstance(text, bool) or not isinstance(text, int | str):
        raise Unreadable(f"{quote(text)} is no ratio", "write a whole number, or a fraction as text: 3/2")
    if isinstance(text, int):
        if abs(text) > LARGEST:
            raise Unreadable(f"{str(text)[:20]}… is too large", f"ratios go up to {LARGEST}")
        return Fraction(text)
    if not text.strip():
        raise Unreadable("nothing stands here", "write a whole number such as 2")
    return read_number(text, "2 or 3/2")
