"""Tables of offers: for each set of selectors served below a node, what that costs at least.

A set is a bit mask. *Exact* bits are selectors of which each takes one input, so that two branches that serve the same
one never go together. The other bits are *free*: selectors below which nothing costs anything and no selector hangs; of
those a row says that any subset can be served, and two branches may both offer one. That is right because serving
fewer never breaks a window and never adds cost; it keeps the sets from multiplying.

A cost is a line, base + slope * the node's frequency, so that one table serves a whole piece of the axis. Of several
lines for one set only those stay that no other undercuts at every frequency. All numbers are rationals.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from wheelwork.find.prices import FREE, Line, Number, Prices, plain
from wheelwork.find.question import StillTime
from wheelwork.find.tables import Key, Undecided

Lines = tuple[Line, ...]
Row = dict[int, Lines]
NO_COST: Lines = (FREE,)
MOST_SETS = 1024
"""Tables of more sets than this are not made: each selector more could double them."""


@dataclass
class Offers:
    """All tables met so far. `exact` are the bits that are exact, `prices` what is paid."""

    exact: int
    prices: Prices
    still_time: StillTime = lambda: True
    rows: list[Row] = field(default_factory=list)
    _keys: dict[tuple[tuple[int, Lines], ...], Key] = field(default_factory=dict)
    _products: dict[tuple[Key, Key], Key] = field(default_factory=dict)
    _scaled: dict[tuple[Key, int, int], Key] = field(default_factory=dict)
    _dearer: dict[tuple[Key, Line], Key] = field(default_factory=dict)
    _unions: dict[tuple[Key, Key], Key] = field(default_factory=dict)
    _off: dict[Key, Key] = field(default_factory=dict)
    _taken: dict[tuple[Key, int, bool], Key] = field(default_factory=dict)
    _flat: list[bool] = field(default_factory=list)
    """For each table whether it costs the same at every frequency."""

    def __post_init__(self) -> None:
        self.choices_cost = bool(self.prices.changed)
        self.none = self.keep({})
        self.one = self.keep({0: NO_COST})

    def tick(self) -> None:
        """Raises Undecided when the time is over."""
        if not self.still_time():
            raise Undecided

    def keep(self, row: Mapping[int, Lines]) -> Key:
        """The number of a table; the same table has the same number."""
        entries = tuple(sorted(row.items()))
        key = self._keys.get(entries)
        if key is None:
            if len(entries) > MOST_SETS:
                raise Undecided
            key = self._keys[entries] = len(self.rows)
            self.rows.append(dict(entries))
            self._flat.append(all(not slope for _, lines in entries for _, slope in lines))
        return key

    def product(self, one: Key, other: Key) -> Key:
        """Both at once."""
        if one == self.one or other == self.none:
            return other
        if other == self.one or one == self.none:
            return one
        pair = (one, other) if one < other else (other, one)
        key = self._products.get(pair)
        if key is None:
            key = self._products[pair] = self.keep(self._joined(self.rows[one], self.rows[other]))
        return key

    def _joined(self, one: Row, other: Row) -> Row:
        made: Row = {}
        exact = self.exact
        for mask, lines in one.items():
            self.tick()
            for more, others in other.items():
                if not mask & more & exact:
                    both = sums(lines, others)
                    old = made.get(mask | more)
                    made[mask | more] = both if old is None else cheapest(old + both)
            if len(made) > MOST_SETS:
                raise Undecided
        return self.pruned(made)

    def total(self, weighted: Iterable[tuple[Key, int]]) -> Key:
        """One way or another."""
        whole = self.none
        for key, _ in weighted:
            whole = self.either(whole, key)
        return whole

    def either(self, one: Key, other: Key) -> Key:
        """One of two tables."""
        if one == other or other == self.none:
            return one
        if one == self.none:
            return other
        pair = (one, other) if one < other else (other, one)
        key = self._unions.get(pair)
        if key is None:
            self.tick()
            made = dict(self.rows[one])
            for mask, lines in self.rows[other].items():
                old = made.get(mask)
                made[mask] = lines if old is None or old == lines else cheapest(old + lines)
            key = self._unions[pair] = self.keep(self.pruned(made))
        return key

    def scaled(self, key: Key, ratio: Fraction) -> Key:
        """Seen from a feeder that runs `ratio` times as fast: slopes are so much flatter."""
        if self._flat[key] or ratio == 1:
            return key
        made = self._scaled.get((key, ratio.numerator, ratio.denominator))
        if made is None:
            row = self.rows[key]
            made = self.keep(
                {mask: tuple([(base, over(slope, ratio)) for base, slope in lines]) for mask, lines in row.items()}
            )
            self._scaled[key, ratio.numerator, ratio.denominator] = made
        return made

    def charged(self, key: Key, name: str) -> Key:
        """With what a node costs while it is on."""
        return self._plus(key, self.prices.node(name))

    def chosen(self, key: Key, setting: str, value: Fraction | str) -> Key:
        """With what the choice of a value for a setting costs."""
        return self._plus(key, (self.prices.choice(setting, value), 0))

    def _plus(self, key: Key, line: Line) -> Key:
        if line == FREE or key == self.none:
            return key
        made = self._dearer.get((key, line))
        if made is None:
            row = {mask: sums(lines, (line,)) for mask, lines in self.rows[key].items()}
            made = self._dearer[key, line] = self.keep(row)
        return made

    def marked(self, key: Key, bit: int) -> Key:
        """With a bit that says that the node is on: where it serves something, since else it is off."""
        return self.keep({mask | bit if mask else 0: lines for mask, lines in self.rows[key].items()})

    def running(self, parts: list[Key]) -> RunningUnion:
        """A union that is kept up to date."""
        return RunningUnion(self, parts)

    def or_off(self, key: Key) -> Key:
        """On and serving some selector, or off: nothing is on for nothing."""
        made = self._off.get(key)
        if made is None:
            made = self._off[key] = self.keep(self.pruned({**self.rows[key], 0: NO_COST}))
        return made

    def or_not_chosen(self, key: Key, bit: int, needed: bool) -> Key:
        """A selector that takes this input and serves something (or is needed itself), or takes another."""
        made = self._taken.get((key, bit, needed))
        if made is None:
            taken = {mask | bit: lines for mask, lines in self.rows[key].items() if mask or needed}
            made = self._taken[key, bit, needed] = self.keep(self.pruned({**taken, 0: NO_COST}))
        return made

    def pruned(self, row: Row) -> Row:
        """The table without the rows that another row beats: as cheap at every frequency, and serving more."""
        groups: dict[int, list[int]] = {}
        for mask in row:
            groups.setdefault(mask & self.exact, []).append(mask)
        if len(groups) == len(row):
            return row
        kept: Row = {}
        for group in groups.values():
            group.sort(key=lambda mask: -mask.bit_count())
            left: list[int] = []
            for mask in group:
                lines = row[mask]
                for larger in left:
                    if not mask & ~larger and undercuts(row[larger], lines):
                        break
                else:
                    left.append(mask)
                    kept[mask] = lines
        return kept

    def at(self, key: Key, frequency: Fraction) -> dict[int, Number]:
        """What each set costs at one frequency of the node (in hertz)."""
        return {mask: plain(cost_at(lines, frequency)) for mask, lines in self.rows[key].items()}


class RunningUnion:
    """A union of tables in which one after another is exchanged: a tree of unions of two, each made once for all."""

    def __init__(self, offers: Offers, parts: list[Key]) -> None:
        self.offers = offers
        self.size = len(parts)
        self.tree = [offers.none] * self.size + parts
        for place in range(self.size - 1, 0, -1):
            self.tree[place] = offers.either(self.tree[2 * place], self.tree[2 * place + 1])

    def turn(self, place: int, key: Key) -> None:
        """Exchange the part at a place."""
        place += self.size
        tree, either = self.tree, self.offers.either
        while tree[place] != key:
            tree[place] = key
            if place < 2:
                return
            key = either(key, tree[place ^ 1])
            place >>= 1

    def key(self) -> Key:
        """The table of the whole."""
        return self.tree[1]


def over(slope: Number, ratio: Fraction) -> Number:
    """A slope seen from before a divider; it stays whole where the prices' scale is fine enough."""
    if not slope:
        return 0
    whole, rest = divmod(slope * ratio.denominator, ratio.numerator)
    return Fraction(slope) / ratio if rest else whole


def sums(one: Lines, other: Lines) -> Lines:
    """Every sum of two lines, the undercut ones left out."""
    if one == NO_COST:
        return other
    if other == NO_COST:
        return one
    if len(one) == len(other) == 1:
        (base, slope), (more, steeper) = one[0], other[0]
        return ((base + more, slope + steeper),)
    return cheapest(tuple([(base + more, slope + steeper) for base, slope in one for more, steeper in other]))


def cheapest(lines: Lines) -> Lines:
    """The lines that no other undercuts at every frequency: base rises, slope falls."""
    kept: list[Line] = []
    for line in sorted(set(lines)):
        if not kept or line[1] < kept[-1][1]:
            kept.append(line)
    return tuple(kept)


def undercuts(one: Lines, other: Lines) -> bool:
    """Whether for each line of the other there is one that is nowhere dearer."""
    if one == other:
        return True
    return all(any(base <= dear and slope <= steep for base, slope in one) for dear, steep in other)


def cost_at(lines: Lines, frequency: Fraction) -> Number:
    """The least cost at a frequency (in hertz)."""
    if len(lines) == 1:
        base, slope = lines[0]
        return base + slope * frequency if slope else base
    return min(base + slope * frequency for base, slope in lines)
