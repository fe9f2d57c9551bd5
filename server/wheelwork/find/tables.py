"""Tables of counts: for each set of selectors served below a node, in how many ways that can be.

A set is a bit mask. Tables are kept once each and named by a number, so that a product or a sum asked before is only
looked up; the same few tables recur over all frequencies, which is what makes counting fast.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Protocol

Key = int
"""A table's number."""

MOST_ROWS = 2**15
"""Tables of more sets than this are not made: each selector more could double them."""


class Undecided(Exception):
    """The count cannot be had: by time, by memory, or by what a sheet holds that is not counted."""


class Running(Protocol):
    """A union of tables in which one after another is exchanged."""

    def turn(self, place: int, key: Key) -> None:
        """Exchange the part at a place."""

    def key(self) -> Key:
        """The table of the whole."""


class Algebra(Protocol):
    """What a walk over the tree of nodes asks of the tables it combines (`forest.py`)."""

    none: Key
    one: Key
    choices_cost: bool
    """Whether any choice costs something."""

    def tick(self) -> None:
        """Raises Undecided when the time is over."""

    def product(self, one: Key, other: Key) -> Key:
        """Both at once, over sets that share no selector."""

    def total(self, weighted: Iterable[tuple[Key, int]]) -> Key:
        """One way or another, each so many times."""

    def scaled(self, key: Key, ratio: Fraction) -> Key:
        """Seen from a feeder that runs `ratio` times as fast."""

    def charged(self, key: Key, name: str) -> Key:
        """With what a node costs while it is on."""

    def chosen(self, key: Key, setting: str, value: Fraction | str) -> Key:
        """With what the choice of a value for a setting costs."""

    def marked(self, key: Key, bit: int) -> Key:
        """With a bit that says that the node is on."""

    def running(self, parts: list[Key]) -> Running:
        """A union that is kept up to date."""

    def or_off(self, key: Key) -> Key:
        """On and serving some selector, or off."""

    def or_not_chosen(self, key: Key, bit: int, needed: bool) -> Key:
        """A selector that takes this input, or takes another."""


@dataclass
class Tables:
    """All tables met so far, with the products already made. `still_time` is asked before each piece of work."""

    still_time: Callable[[], bool] = lambda: True
    rows: list[dict[int, int]] = field(default_factory=list)
    choices_cost: bool = field(default=False, init=False)
    _keys: dict[tuple[tuple[int, int], ...], Key] = field(default_factory=dict)
    _products: dict[tuple[Key, Key], Key] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.none = self.keep({})
        self.one = self.keep({0: 1})

    def tick(self) -> None:
        """Raises Undecided when the time is over."""
        if not self.still_time():
            raise Undecided

    def keep(self, row: Mapping[int, int]) -> Key:
        """The number of a table; the same table has the same number."""
        entries = tuple(sorted(row.items()))
        key = self._keys.get(entries)
        if key is None:
            key = self._keys[entries] = len(self.rows)
            self.rows.append(dict(entries))
        return key

    def product(self, one: Key, other: Key) -> Key:
        """Both at once: counts multiply over sets that share no selector, for each takes exactly one input."""
        if one == self.one or other == self.none:
            return other
        if other == self.one or one == self.none:
            return one
        pair = (one, other) if one < other else (other, one)
        key = self._products.get(pair)
        if key is None:
            key = self._products[pair] = self.keep(self.joined(self.rows[one], self.rows[other]))
        return key

    def joined(self, one: Mapping[int, int], other: Mapping[int, int]) -> dict[int, int]:
        """Two rows at once. Raises Undecided where more than MOST_ROWS sets would come of it."""
        made: dict[int, int] = {}
        for mask, count in one.items():
            self.tick()
            for more, times in other.items():
                if not mask & more:
                    made[mask | more] = made.get(mask | more, 0) + count * times
            if len(made) > MOST_ROWS:
                raise Undecided
        return made

    def total(self, weighted: Iterable[tuple[Key, int]]) -> Key:
        """The sum of tables, each so many times."""
        made: dict[int, int] = {}
        for key, times in weighted:
            self.tick()
            for mask, count in self.rows[key].items():
                made[mask] = made.get(mask, 0) + count * times
        return self.keep(made)

    def scaled(self, key: Key, ratio: Fraction) -> Key:
        """Seen from a feeder that runs `ratio` times as fast: a count knows no frequency."""
        return key

    def charged(self, key: Key, name: str) -> Key:
        """With what a node costs while it is on: a count knows no costs."""
        return key

    def chosen(self, key: Key, setting: str, value: Fraction | str) -> Key:
        """With what a choice costs: a count knows no costs."""
        return key

    def marked(self, key: Key, bit: int) -> Key:
        """With a bit that says that the node is on: where it serves something, since else it is off."""
        return self.keep({mask | bit if mask else 0: count for mask, count in self.rows[key].items()})

    def running(self, parts: list[Key]) -> Running:
        """A sum of tables that is kept up to date while one after another is exchanged."""
        return _RunningSum(self, parts)

    def or_off(self, key: Key) -> Key:
        """On and serving some selector, or off: nothing is on for nothing."""
        return self.keep({**self.rows[key], 0: 1})

    def or_not_chosen(self, key: Key, bit: int, needed: bool) -> Key:
        """A selector that takes this input and serves something (or is needed itself), or takes another."""
        taken = {mask | bit: count for mask, count in self.rows[key].items() if mask or needed}
        return self.keep({**taken, 0: 1})


class _RunningSum:
    """A sum of tables in which one after another is exchanged."""

    def __init__(self, tables: Tables, parts: list[Key]) -> None:
        self.tables = tables
        self.parts = parts
        self.row: dict[int, int] = {}
        for part in parts:
            self._add(part, 1)

    def turn(self, place: int, key: Key) -> None:
        """Exchange the part at a place."""
        if self.parts[place] != key:
            self._add(self.parts[place], -1)
            self._add(key, 1)
            self.parts[place] = key

    def key(self) -> Key:
        """The table of the sum."""
        return self.tables.keep(self.row)

    def _add(self, key: Key, sign: int) -> None:
        for mask, count in self.tables.rows[key].items():
            total = self.row.get(mask, 0) + sign * count
            if total:
                self.row[mask] = total
            else:
                self.row.pop(mask, None)
