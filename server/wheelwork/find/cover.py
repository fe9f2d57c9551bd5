"""The whole of a problem: one row, or off, for each item below the oscillators, so that every selector is served.

An *item* is what hangs directly below oscillators: a consumer of one oscillator, or a selector that oscillators feed.
For each choice of the oscillators with a list, items are joined one by one; a state is the set of selectors served so
far and of oscillators used. A selector is forgotten after the last item that can serve it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

from wheelwork.find.cheapest import Cheapest
from wheelwork.find.prices import Number, plain
from wheelwork.find.problem import holds
from wheelwork.find.tables import MOST_ROWS, Undecided
from wheelwork.part.nodes import Oscillator, Selector

Frequencies = tuple[tuple[str, Fraction], ...]
"""The frequency of each oscillator that can run, by id."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A row of an item: fed from this oscillator, the set that its table has there. `source` None: off."""

    source: str | None
    mask: int


@dataclass(frozen=True, slots=True)
class Item:
    """What hangs below oscillators, with its offers: for each set (oscillators used among it) its cheapest ones.

    In a listing every offer is kept.
    """

    name: str
    rows: Mapping[int, tuple[tuple[Number, Offer], ...]]


@dataclass(frozen=True, slots=True)
class Step:
    """How a state came about: its least cost, and the pairs (state before, set of the item) with their costs."""

    cost: Number
    pairs: tuple[tuple[Number, int, int], ...]


@dataclass(frozen=True, slots=True)
class Cover:
    """The joined items at some frequencies of the oscillators: levels of states, and each end with its least cost."""

    frequencies: Frequencies
    items: tuple[Item, ...]
    levels: tuple[Mapping[int, Step], ...]
    ends: Mapping[int, Number]


class Coverings:
    """All ways to serve every selector of a problem that must be, at each choice of the oscillators."""

    def __init__(self, cheapest: Cheapest, listing: bool = False) -> None:
        self.cheapest, self.problem, self.listing = cheapest, cheapest.problem, listing
        self.tables, self.prices = cheapest.tables, cheapest.prices
        self.selectors = self.problem.all_bits & ~sum(self.problem.marks.get(s.id, 0) for s in self._sources())
        """Bits of what items can serve; whether an oscillator that must be used is, is known by its own bit."""
        self.used = {
            source.id: (self.problem.all_bits + 1) << place
            for place, source in enumerate(self._sources())
            if self._counts(source)
        }

        self.first: dict[str, Fraction] = {}
        self.priced = self._find_priced()
        self._known_items: dict[Frequencies, list[Item]] = {}
        self.bound: Number | None = None
        """Covers that cost this or more are left out."""

    def _find_priced(self) -> set[str]:
        """The nodes at or below which something costs."""
        priced: set[str] = set()
        for name in reversed(self.problem.part.order):
            costs = not self.prices.is_free(self.cheapest.nodes[name])
            if costs or any(each in priced for each in self.problem.consumers[name]):
                priced.add(name)
        return priced

    def _sources(self) -> list[Oscillator]:
        return [source for source in self.problem.sources if self.problem.useful[source.id]]

    def _counts(self, source: Oscillator) -> bool:
        """Whether it has to be known if an oscillator is on: it costs something, or its choice is a setting."""
        if self.problem.needed[source.id]:
            return False
        if source.id in self.problem.required:
            return True
        return not self.prices.is_free(source) or (self.listing and len(self.problem.frequencies(source)) > 1)

    def __iter__(self) -> Iterator[Cover]:
        """The cover at each choice of the oscillators' frequencies; nothing where none can be."""
        choices = self._choices()
        if choices is None:
            return
        self.first = {name: frequency for (name, frequency), *_ in choices}
        if self._is_hopeless():
            return
        for chosen in product(*choices):
            self.tables.tick()
            cover = self._cover(chosen)
            if cover is not None and cover.ends:
                yield cover

    def _choices(self) -> list[list[tuple[str, Fraction]]] | None:
        """The frequencies of each oscillator that can run; None where one that must run has none."""
        choices = []
        for source in self._sources():
            span = self.problem.span(source, self.problem.kind_of[source.id])
            tried = [(source.id, f) for f in self.problem.frequencies(source) if holds(span, f)]
            if not tried and self.problem.needed[source.id]:
                return None
            if tried:
                choices.append(tried)
        return choices

    def without(self, name: str, bits: int, source: str, frequency: Fraction) -> Iterator[Cover]:
        """Covers of all items but one, open for it and these bits; an oscillator stands at a frequency."""
        for chosen in product(*(self._choices() or ())):
            self.tables.tick()
            if (source, frequency) not in chosen:
                continue
            if chosen not in self._known_items:
                self._known_items[chosen] = list(self._items(dict(chosen)))
            items = [item for item in self._known_items[chosen] if item.name != name]
            if all(item.rows for item in items):
                cover = self._join(chosen, items, bits)
                if cover is not None:
                    yield cover

    def closed(self, cover: Cover, item: Item, bits: int) -> Cover | None:
        """A cover that was open for an item and its bits, with one row of it; None where it is none with that row."""
        state = {mask: step.cost for mask, step in cover.levels[-1].items()} if cover.levels else {0: 0}
        due = self.problem.must & self.selectors & bits & ~_bits_of(item)
        level = self._joined({mask: cost for mask, cost in state.items() if not due & ~mask}, item, 0)
        costs = {mask: step.cost for mask, step in level.items()}
        ends = self._ends(costs, dict(cover.frequencies))
        return Cover(cover.frequencies, (*cover.items, item), (*cover.levels, level), ends) if ends else None

    def _is_hopeless(self) -> bool:
        """Whether some selector that must be on cannot be at any frequency: seen before any PLL is asked."""
        problem, none = self.problem, self.tables.none
        kinds = dict.fromkeys(problem.kind_of[source.id] for source in self._sources())
        if self.cheapest.pointwise:
            return False
        must = (name for name in problem.bits if problem.needed[name] and not problem.pll_below[name])
        return any(all(key == none for kind in kinds for key in self.cheapest.body(name, kind).keys) for name in must)

    def _cover(self, frequencies: Frequencies) -> Cover | None:
        promising = self._promising_items(dict(frequencies))
        if not promising and any(self.problem.consumers[name] for name, _ in frequencies):
            return None
        cover = self._join(frequencies, promising, 0)
        if cover is None:
            return None
        state = {mask: step.cost for mask, step in cover.levels[-1].items()} if cover.levels else {0: 0}
        return replace(cover, ends=self._ends(state, dict(frequencies)))

    def _join(self, frequencies: Frequencies, promising: list[Item], open_: int) -> Cover | None:
        """Items joined one by one, without ends; `open_` are bits that can still be served afterwards."""
        items = _ordered(self._simplified(promising))
        later = [open_]
        for item in reversed(items):
            later.append(later[-1] | _bits_of(item))
        later.reverse()
        if self.problem.must & self.selectors & ~later[0]:
            return None
        state: dict[int, Number] = {0: 0}
        levels = []
        for item, after in zip(items, later[1:], strict=True):
            level = self._joined(state, item, after)
            levels.append(level)
            state = {mask: step.cost for mask, step in level.items()}
        return Cover(frequencies, tuple(items), tuple(levels), {})

    def _promising_items(self, frequencies: Mapping[str, Fraction]) -> list[Item]:
        """The items at these frequencies, the priced ones first; nothing where they cannot be below the bound."""
        least = self._least_of_oscillators(frequencies)
        items = []
        for item in self._items(frequencies):
            if not item.rows:
                return []
            if item.name not in self.priced and self._is_beyond(least):
                return []
            items.append(item)
            least += min(offers[0][0] for offers in item.rows.values())
        return [] if self._is_beyond(least) else items

    def _is_beyond(self, least: Number) -> bool:
        """Whether what all priced items cost at least is too much already."""
        return self.bound is not None and least >= self.bound * self.cheapest.scale

    def _least_of_oscillators(self, frequencies: Mapping[str, Fraction]) -> Number:
        """What the step and the oscillators cost at least."""
        prices = (
            (self._price(source, frequencies[source.id]), self.problem.needed[source.id])
            for source in self._on(frequencies)
        )
        return self.prices.once + sum(price if needed else min(price, 0) for price, needed in prices)

    def _on(self, frequencies: Mapping[str, Fraction]) -> Iterator[Oscillator]:
        return (source for source in self._sources() if source.id in frequencies)

    def _items(self, frequencies: Mapping[str, Fraction]) -> Iterator[Item]:
        """What hangs below the oscillators at these frequencies, what costs something first."""
        sources: dict[str, list[str]] = {}
        for source in frequencies:
            for name in self.problem.consumers[source]:
                sources.setdefault(name, []).append(source)
        for name in sorted(sources, key=lambda name: name not in self.priced):
            may_be_off = isinstance(self.cheapest.nodes[name], Selector) or not self.problem.needed[name]
            rows: dict[int, list[tuple[Number, Offer]]] = {0: [(0, Offer(None, 0))]} if may_be_off else {}
            for source in sources[name]:
                frequency, kind = frequencies[source], self.problem.kind_of[source]
                table = self.cheapest.child_value(name, source, frequency, kind, ())
                for mask, cost in self.tables.at(table, frequency).items():
                    if mask or not may_be_off:
                        rows.setdefault(mask | self.used.get(source, 0), []).append((cost, Offer(source, mask)))
            yield Item(name, {mask: self._kept(offers) for mask, offers in rows.items()})

    def _kept(self, offers: list[tuple[Number, Offer]]) -> tuple[tuple[Number, Offer], ...]:
        if self.listing:
            return tuple(sorted(offers, key=lambda offer: offer[0]))
        return (min(offers, key=lambda offer: offer[0]),)

    def _simplified(self, items: list[Item]) -> list[Item]:
        """Items whose one row beats all their others are taken as they are, and what they serve is served.

        Rows of the others that differ only in what is served anyway become one.
        """
        if self.listing:
            return items
        while True:
            served = 0
            slim = []
            for item in items:
                rows = self._pruned({mask: offers[0][0] for mask, offers in item.rows.items()})
                slim.append(Item(item.name, {mask: item.rows[mask] for mask in rows}))
                if len(rows) == 1:
                    served |= next(iter(rows))
            stripped = [item if len(item.rows) == 1 else self._without(item, served & self._free) for item in slim]
            if all(len(one.rows) == len(other.rows) for one, other in zip(stripped, items, strict=True)):
                return stripped
            items = stripped

    @property
    def _grouping(self) -> int:
        """The bits in which states must agree to be compared: what is exact, and oscillators that must be used."""
        required = sum(bit for name, bit in self.used.items() if name in self.problem.required)
        return (self.tables.exact & self.selectors) | required

    @property
    def _free(self) -> int:
        return self.selectors & ~self.tables.exact

    def _without(self, item: Item, served: int) -> Item:
        rows: dict[int, tuple[tuple[Number, Offer], ...]] = {}
        for mask, offers in item.rows.items():
            old = rows.get(mask & ~served)
            if old is None or offers[0][0] < old[0][0]:
                rows[mask & ~served] = offers
        return Item(item.name, rows)

    def _joined(self, state: Mapping[int, Number], item: Item, later: int) -> dict[int, Step]:
        """One item more. Selectors that no later item serves are closed: those that must be on have to be served."""
        bits = _bits_of(item)
        due = self.problem.must & bits & ~later
        keep = later | ~self.selectors
        ways: dict[int, list[tuple[Number, int, int]]] = {}
        for before, cost in state.items():
            self.tables.tick()
            for mask, offers in item.rows.items():
                if not before & mask & self.tables.exact and not due & ~(before | mask):
                    ways.setdefault((before | mask) & keep, []).append((cost + offers[0][0], before, mask))
            if len(ways) > MOST_ROWS:
                raise Undecided
        return self._steps(ways)

    def _steps(self, ways: Mapping[int, list[tuple[Number, int, int]]]) -> dict[int, Step]:
        if self.listing:
            for pairs in ways.values():
                pairs.sort()
            return {mask: Step(pairs[0][0], tuple(pairs)) for mask, pairs in ways.items()}
        best = {mask: min(pairs) for mask, pairs in ways.items()}
        kept = self._pruned({mask: way[0] for mask, way in best.items()})
        return {mask: Step(best[mask][0], (best[mask],)) for mask in kept}

    def _pruned(self, costs: Mapping[int, Number]) -> dict[int, Number]:
        """States that no other beats: serving more of what is free, with the same oscillators or fewer, no dearer."""
        free = self._free
        if self.listing or not free:
            return dict(costs)
        kept: dict[int, list[tuple[int, int, Number]]] = {}
        left: dict[int, Number] = {}
        grouping = self._grouping
        for mask in sorted(costs, key=lambda mask: (-(mask & free).bit_count(), (mask & ~self.selectors).bit_count())):
            group = kept.setdefault(mask & grouping, [])
            mine, used = mask & free, mask & ~self.selectors
            if not any(
                not mine & ~served and not others & ~used and cost <= costs[mask] for served, others, cost in group
            ):
                group.append((mine, used, costs[mask]))
                left[mask] = costs[mask]
        return left

    def _ends(self, state: Mapping[int, Number], frequencies: Mapping[str, Fraction]) -> dict[int, Number]:
        """The cost of each end with the oscillators that are on, and the step's own."""
        ends: dict[int, Number] = {}
        for mask, cost in state.items():
            total = cost + self.prices.once
            whole = True
            for source in self._sources():
                if source.id in frequencies and self._is_on(source, mask):
                    total += self._price(source, frequencies[source.id])
                elif source.id in self.problem.required:
                    whole = False
                elif self.listing and source.id in frequencies:
                    whole &= frequencies[source.id] == self.first[source.id]  # one that is off counts once
            if whole:
                ends[mask] = Fraction(total) / self.cheapest.scale
        return ends

    def _is_on(self, source: Oscillator, mask: int) -> bool:
        return self.problem.needed[source.id] or bool(mask & self.used.get(source.id, 0))

    def _price(self, source: Oscillator, frequency: Fraction) -> Number:
        base, slope = self.prices.node(source.id)
        chosen = self.prices.choice(source.id, frequency) if len(source.choices) > 1 else 0
        return plain(base + slope * frequency + chosen)

    def settings_of(self, cover: Cover, mask: int) -> dict[str, Fraction]:
        """The oscillators' settings at an end: the frequency of each that is on and has a choice."""
        on = {source.id: source for source in self._sources() if len(source.choices) > 1}
        listed = self.used_at(cover, mask)
        return {name: frequency for name, frequency in cover.frequencies if name in on and name in listed}

    def used_at(self, cover: Cover, mask: int) -> set[str]:
        """The oscillators that are on at an end; in a listing only of those with a choice or a price this is known."""
        return {source.id for source in self._sources() if self._is_on(source, mask)}


def _bits_of(item: Item) -> int:
    bits = 0
    for mask in item.rows:
        bits |= mask
    return bits


def _ordered(items: list[Item]) -> list[Item]:
    """Items in an order that keeps few selectors open at a time."""
    left = {index: _bits_of(item) for index, item in enumerate(items)}
    order: list[Item] = []
    seen = 0
    while left:
        best = min(left, key=lambda index: (_open_after(left, index, seen), len(items[index].rows), index))
        seen |= left.pop(best)
        order.append(items[best])
    return order


def _open_after(left: Mapping[int, int], index: int, seen: int) -> int:
    """How many selectors stay open when an item comes next."""
    later = 0
    for other, bits in left.items():
        if other != index:
            later |= bits
    return ((seen | left[index]) & later).bit_count()
