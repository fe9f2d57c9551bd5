"""Settings in the order of preferences, first things first: the best first, each made only when it is wanted.

First this, then that: the best value of the first preference becomes a limit under which the next one orders; when
those are read, the next best value follows. Sums (`prices.py`) are listed in the order of their cost. What is no sum -
the worst error, the least room, the slowest phase detector - is a threshold: raised until fewer settings than wanted
lie above it, each raise proven by the same search. A threshold tightens windows, so that the search under it is exact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import islice
from math import inf, isinf

from wheelwork.find.prices import NOTHING, Prices, prices_of
from wheelwork.find.problem import NO_LIMITS, Limits, Problem
from wheelwork.find.question import Preference, Question
from wheelwork.find.scores import Score, value_of
from wheelwork.find.seeking import Found, Key, Seeker, is_new

MOST_TIES = 150
"""So many settings of equal cost are put in the order of the further preferences; more are left in the sheet's."""

Preferences = tuple[Preference, ...]


@dataclass
class Ordering:
    """Orders the settings that fit. `wanted` is how many the reader is likely to take; it only saves work.

    `proven` turns False where more than MOST_TIES settings tied and their order by the rest is not known.
    """

    question: Question
    seeker: Seeker
    wanted: int
    proven: bool = True
    _known: dict[Preference, Found | None] = field(default_factory=dict)

    def ordered(self, prefer: Preferences, limits: Limits = NO_LIMITS) -> Iterator[Found]:
        """The settings under limits, best first by the preferences in turn. Raises Undecided."""
        if not prefer:
            return self.seeker.listing(lambda problem: NOTHING, limits)
        first, rest = prefer[0], prefer[1:]
        match first.kind:
            case "lowest core voltage":
                return self._by_step(rest, limits)
            case "least error" | "most room" | "highest phase detector":
                return self._by_threshold(first, rest, limits)
            case "highest" | "lowest" if rest:
                return self._by_frequency(first, rest, limits)
            case "highest" | "lowest":
                return self._by_frequency_alone(first, limits)
        return self._by_cost(first, rest, limits)

    def best(self, prefer: Preferences) -> Found | None:
        """The best setting by the first preference, whatever the others say; None where nothing fits."""
        if not prefer:
            return self.seeker.any()
        first = prefer[0]
        if first.kind in ("least error", "most room", "highest phase detector"):
            return next(self.ordered(prefer), None)
        if first.kind in ("highest", "lowest"):
            running = self._best_running(first, NO_LIMITS)
            if running is not None:
                return running
        return self.seeker.best(self._prices(first))

    def _best_running(self, first: Preference, limits: Limits) -> Found | None:
        """The best by the frequency of a node that runs; kept for the whole of what fits."""
        if limits is NO_LIMITS and first in self._known:
            return self._known[first]
        found = self.seeker.best(self._prices(first), limits.with_running(first.node or ""))
        if limits is NO_LIMITS:
            self._known[first] = found
        return found

    def _prices(self, preference: Preference) -> Callable[[Problem], Prices]:
        question = self.question

        def prices(problem: Problem) -> Prices:
            found = prices_of(preference, question.part, question.plan, problem.step)
            return NOTHING if found is None else found

        return prices

    def _by_step(self, rest: Preferences, limits: Limits) -> Iterator[Found]:
        for step in reversed(self.seeker.steps):
            one = Ordering(self.question, self.seeker.at_step(step), self.wanted)
            yield from one.ordered(rest, limits)
            self.proven &= one.proven

    def _by_frequency(self, first: Preference, rest: Preferences, limits: Limits) -> Iterator[Found]:
        """Value by value; settings under which the node does not run come last."""
        node = first.node or ""
        running = limits.with_running(node)
        found = self._best_running(first, limits)
        while found is not None:
            value = found.judgement.clocks[node].nominal
            yield from self.ordered(rest, running.exactly(node, value))
            running = running.below(node, value) if first.kind == "highest" else running.above(node, value)
            found = self.seeker.best(self._prices(first), running)
        yield from self.ordered(rest, limits.with_stopped(node))

    def _by_frequency_alone(self, first: Preference, limits: Limits) -> Iterator[Found]:
        node = first.node or ""
        yield from self.seeker.listing(self._prices(first), limits.with_running(node))
        yield from self.seeker.listing(lambda problem: NOTHING, limits.with_stopped(node))

    def _by_cost(self, first: Preference, rest: Preferences, limits: Limits) -> Iterator[Found]:
        """In the order of a sum; ties in the order of the rest."""
        listing = self.seeker.listing(self._both_prices(first, rest), limits)
        ties: list[Found] = []
        for found in listing:
            if ties and (found.cost != ties[0].cost or len(ties) >= MOST_TIES):
                if found.cost == ties[0].cost and rest:
                    self.proven = False
                yield from self._sorted(ties, rest)
                ties = []
            ties.append(found)
        yield from self._sorted(ties, rest)

    def _both_prices(self, first: Preference, rest: Preferences) -> Callable[[Problem], Prices]:
        """The prices of a preference; of whole numbers with those of the next as a fraction too small to turn it."""
        prices = self._prices(first)
        if first.kind != "fewest changes" or not rest or rest[0].kind not in ("highest", "lowest", "least current"):
            return prices
        second = self._prices(rest[0])

        def both(problem: Problem) -> Prices:
            finer = second(problem)
            if rest[0].kind == "lowest":  # on at any frequency comes before off
                finer = finer.plus(Prices(lines={rest[0].node or "": (-_reach_of(finer, problem) - 1, 0)}))
            return prices(problem).plus(finer.times(1 / (2 * _reach_of(finer, problem) + 1)))

        return both

    def _sorted(self, ties: list[Found], rest: Preferences) -> list[Found]:
        if len(ties) < 2 or not rest:
            return ties
        return sorted(ties, key=lambda found: tuple(-self.value(each, found) for each in rest))

    def value(self, preference: Preference, found: Found) -> Score:
        """What a setting is worth by a preference."""
        return value_of(preference, self.question, found.judgement)

    def _by_threshold(self, first: Preference, rest: Preferences, limits: Limits) -> Iterator[Found]:
        """Batch by batch, each twice as large: the best so many by a value that is no sum."""
        given: set[Key] = set()
        wanted = max(self.wanted, 1)
        while True:
            batch = self._best_by_threshold(first, rest, limits, wanted)
            yield from (found for found in batch if is_new(found, given))
            if len(batch) < wanted:
                return
            wanted *= 2

    def _best_by_threshold(self, first: Preference, rest: Preferences, limits: Limits, wanted: int) -> list[Found]:
        """The so many best: raised until fewer lie above the threshold, the last places filled from those on it."""

        def taken(threshold: Score | None, belongs: bool) -> list[Found]:
            bound = limits if threshold is None else _at_least(first, limits, threshold, belongs)
            return list(islice(self.ordered(rest, bound), wanted))

        def worth(found: Found) -> Score:
            return self.value(first, found)

        at = taken(None, True)
        low = min(map(worth, at), default=-inf)
        if len(at) < wanted or isinf(low):
            return sorted(at, key=worth, reverse=True)
        high: Score = Fraction(0) if first.kind == "least error" else inf
        while low < high:
            above = taken(low, False)
            if len(above) < wanted:
                break
            at, low = above, min(map(worth, above))
            if isinf(low):
                return at
            middle = _between(low, _likely_end(low, high))
            if middle is not None:
                tried = taken(middle, True)
                if len(tried) < wanted:
                    high = middle
                else:
                    at, low = tried, min(map(worth, tried))
                    if isinf(low):
                        return at
        else:  # none can be better than the threshold
            above = []
        above.sort(key=worth, reverse=True)
        on_it = (found for found in self.ordered(rest, _at_least(first, limits, low, True)) if worth(found) == low)
        return above + list(islice(on_it, wanted - len(above)))


def _at_least(preference: Preference, limits: Limits, value: Score, belongs: bool) -> Limits:
    """The limits under which a value that is no sum is at least this, or above it."""
    if isinf(value):
        return limits
    bound = Fraction(value)
    match preference.kind:
        case "least error":
            return replace(limits, error=(-bound, belongs))
        case "most room":
            return replace(limits, room=(bound, not belongs))
    return replace(limits, detector=(bound, not belongs))


def _likely_end(low: Score, high: Score) -> Score:
    """Up to where to look for a better threshold: the proven end, else some way above what is reached."""
    if not isinf(high):
        return high
    return Fraction(1) if low < 1 else 4 * Fraction(low)


def _between(low: Score, high: Score) -> Fraction | None:
    """A short rational between two values; None where they are all but the same."""
    if isinf(low) or isinf(high) or float(high) - float(low) <= 1e-9 * max(abs(float(low)), abs(float(high))):
        return None
    low, high = Fraction(low), Fraction(high)
    size = Fraction(2) ** (round((high - low).numerator.bit_length() - (high - low).denominator.bit_length()) - 2)
    middle = round((low + high) / 2 / size) * size
    return middle if low < middle < high else (low + high) / 2


def _reach_of(prices: Prices, problem: Problem) -> Fraction:
    """More than what the sums of some prices can differ by."""
    fastest = problem.fastest()
    lines = (
        (abs(Fraction(base)), abs(Fraction(slope)) * fastest[name]) for name, (base, slope) in prices.lines.items()
    )
    return abs(Fraction(prices.once)) + sum((base + slope for base, slope in lines), Fraction(0))
