"""Tables of counts: for each set of selectors served below a node, in how many ways that can be.

A set is a bit mask. Tables are kept once each and named by a number, so that a product or a sum asked before is only
looked up; the same few tables recur over all frequencies, which is what makes counting fast.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

Key = int
"""A table's number."""

MOST_ROWS = 2**15
"""Tables of more sets than this are not made: each selector more could double them."""


class Undecided(Exception):
    """The count cannot be had: by time, by memory, or by what a sheet holds that is not counted."""


@dataclass
class Tables:
    """All tables met so far, with the products already made. `still_time` is asked before each piece of work."""

    still_time: Callable[[], bool] = lambda: True
    rows: list[dict[int, int]] = field(default_factory=list)
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

    def or_off(self, key: Key) -> Key:
        """On and serving some selector, or off: nothing is on for nothing."""
        return self.keep({**self.rows[key], 0: 1})

    def or_not_chosen(self, key: Key, bit: int, needed: bool) -> Key:
        """A selector that takes this input and serves something (or is needed itself), or takes another."""
        taken = {mask | bit: count for mask, count in self.rows[key].items() if mask or needed}
        return self.keep({**taken, 0: 1})
