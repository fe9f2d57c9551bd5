"""What the Shelf page shows: kept plans with how they stood and their little ways down; two of them side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any
from urllib.parse import urlencode

from wheelwork.charts.axis import Axis, axis_over
from wheelwork.charts.ways import WayDown, draw_way
from wheelwork.findings import Problem
from wheelwork.judge import Judgement, judge
from wheelwork.pages.keeping import address_of, say_day
from wheelwork.pages.kept import Kept
from wheelwork.pages.kept_words import tell_differing
from wheelwork.pages.opened import Opened, open_raw
from wheelwork.pages.words import say_clock
from wheelwork.part.outline import outline_of
from wheelwork.plan.difference import difference
from wheelwork.quantities.units import CURRENT, say_quantity
from wheelwork.shelf.library import Library
from wheelwork.shelf.plans import Entry, Plans, Revision
from wheelwork.shelf.ways import KeptWay, way_of

PER_PAGE = 50
MOST_KEPT = 400
MOST_COMPARED = 12


@dataclass(frozen=True, slots=True)
class Row:
    """A kept plan, or a revision of one."""

    value: str
    """What its tick stands for: `skerry-3/7`."""
    name: str
    part: str
    way: WayDown | None
    spoken: str
    revision: int
    kept: str
    glyph: str
    words: str
    address: str
    history: str
    ticked: bool
    back: str = ""
    """The address that opens an earlier revision on top of the latest, to be kept as the next one."""


@dataclass(frozen=True, slots=True)
class Lane:
    """A frequency in both plans: where the marks stand, in percent of the axis; None where a clock does not run."""

    label: str
    one: str
    other: str
    filled: float | None = None
    hollow: float | None = None


@dataclass(frozen=True, slots=True)
class Beside:
    """Two plans side by side: only what differs, and what follows from it."""

    head: str
    one: str
    other: str
    settings: tuple[tuple[str, str, str], ...]
    follows: tuple[Lane, ...]
    from_to: str


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """The list with what was searched for, and the two that are side by side."""

    head: str
    rows: tuple[Row, ...]
    search: str
    retired: bool
    number: int
    pages: int
    count: int
    from_to: str
    beside: Beside | None
    ticked: tuple[str, ...]
    problem: Problem | None

    def at_page(self, number: int) -> str:
        """The address of another page of the list."""
        asked = {"search": self.search, "retired": "yes" if self.retired else "", "page": str(number)}
        return "/shelf?" + urlencode({key: value for key, value in asked.items() if value})


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """All revisions of one plan, the latest first."""

    entry: Entry
    rows: tuple[Row, ...]
    from_to: str
    beside: Beside | None
    problem: Problem | None


def build_shelf(
    library: Library, plans: Plans, search: str, retired: bool, number: int, beside: Sequence[str]
) -> ShelfPage:
    """A page of the list. Raises ShelfFault."""
    entries, count = plans.listed(search, retired, PER_PAGE, (number - 1) * PER_PAGE)
    revisions = plans.latest([entry.id for entry in entries])
    axis = _axis(library, [revisions[entry.id] for entry in entries if entry.id in revisions])
    rows = tuple(_row(library, entry, revisions.get(entry.id), axis, beside) for entry in entries)
    compared, problem = _compare(library, plans, beside)
    kind = "taken off the shelf" if retired else "on the shelf"
    head = f"{count or 'No'} {'plan' if count == 1 else 'plans'} {kind}"
    if search:
        head = f"{head} with “{search}”"
    return ShelfPage(
        head=head,
        rows=rows,
        search=search,
        retired=retired,
        number=number,
        pages=-(-count // PER_PAGE),
        count=count,
        from_to=_from_to(axis),
        beside=compared,
        ticked=tuple(beside),
        problem=problem,
    )


def build_history(library: Library, plans: Plans, id: str, beside: Sequence[str]) -> HistoryPage:
    """The history of a plan. Raises NotKept, ShelfFault."""
    entry, revisions = plans.entry(id), plans.revisions(id)
    axis = _axis(library, revisions[:PER_PAGE])
    latest = revisions[0].revision
    rows = tuple(
        _revision_row(library, each, axis, beside, place < PER_PAGE, latest) for place, each in enumerate(revisions)
    )
    compared, problem = _compare(library, plans, beside)
    return HistoryPage(entry, rows, _from_to(axis), compared, problem)


def _row(library: Library, entry: Entry, revision: Revision | None, axis: Axis, beside: Sequence[str]) -> Row:
    value = f"{entry.id}/{entry.revision}"
    way = None if revision is None else _way(library, revision)
    glyph, words = _standing(entry.legal, entry.inside, entry.windows, way)
    return Row(
        value=value,
        name=entry.name or "A plan without a name",
        part=entry.part_name,
        way=None if way is None else draw_way(axis, way.stops),
        spoken="" if way is None else _speak(way),
        revision=entry.revision,
        kept=f"{say_day(entry.kept_at)}, {entry.kept_by}",
        glyph=glyph,
        words=words,
        address="" if revision is None else address_of(revision),
        history=f"/shelf/{entry.id}",
        ticked=value in beside,
    )


def _revision_row(library: Library, each: Revision, axis: Axis, beside: Sequence[str], drawn: bool, latest: int) -> Row:
    value = f"{each.id}/{each.revision}"
    way = _way(library, each) if drawn else None
    glyph, words = _standing(each.legal, each.inside, each.windows, way)
    return Row(
        value=value,
        name=str(each.raw.get("name", "")) or "A plan without a name",
        part=each.part,
        way=None if way is None else draw_way(axis, way.stops),
        spoken="" if way is None else _speak(way),
        revision=each.revision,
        kept=f"{say_day(each.kept_at)}, {each.kept_by}",
        glyph=glyph,
        words=words,
        address=address_of(each),
        history=f"/shelf/{each.id}",
        ticked=value in beside,
        back="" if each.revision == latest else address_of(each, latest),
    )


def _standing(legal: bool, inside: int, windows: int, way: KeptWay | None) -> tuple[str, str]:
    """How a plan stood when it was kept."""
    words = f"{inside} of {windows} inside"
    if not legal:
        return "over", words
    return "tight-upper" if way is not None and way.tight else "inside", words


_WAYS: Kept[KeptWay] = Kept(MOST_KEPT)


def _way(library: Library, revision: Revision) -> KeptWay | None:
    """The way down as it was kept; of a revision that came without, judged with the sheet that is here.

    None where there is none and the plan cannot be opened any more.
    """
    if revision.way is not None:
        return revision.way
    opened = open_raw(library, dict(revision.raw))
    if opened.part is None or opened.plan is None:
        return None
    key = (outline_of(opened.part), revision.id, revision.revision)
    known = _WAYS.find(key)
    if known is None:
        made = way_of(judge(opened.part, opened.plan))
        return None if made is None else _WAYS.keep(key, made)
    return known


def _axis(library: Library, revisions: Sequence[Revision]) -> Axis:
    ways = (_way(library, revision) for revision in revisions)
    frequencies = [stop.frequency for way in ways if way is not None for stop in way.stops]
    return axis_over(frequencies or [Fraction(10**6)])


def _from_to(axis: Axis) -> str:
    low, high = (say_clock(Fraction(round(10**end))) for end in (axis.low, axis.high))
    return f"{low} to {high}"


def _speak(way: KeptWay) -> str:
    return f"Way down to a core clock of {say_clock(way.core)}"


def _compare(library: Library, plans: Plans, beside: Sequence[str]) -> tuple[Beside | None, Problem | None]:
    """The two that are ticked, side by side."""
    asked = [_reference(each) for each in beside]
    pairs = [each for each in asked if each is not None]
    if len(pairs) != 2:
        return None, None
    one, other = (plans.opened(*pair) for pair in pairs)
    return compare(library, one, other), None


def _reference(value: str) -> tuple[str, int] | None:
    name, _, revision = value.rpartition("/")
    return (name, int(revision)) if name and revision.isdecimal() and len(revision) < 10 else None


def compare(library: Library, one: Revision, other: Revision) -> Beside:
    """Two revisions side by side: only what differs, in words, and what follows from it."""
    opened = [open_raw(library, dict(each.raw)) for each in (one, other)]
    part = opened[0].part if opened[0].part is opened[1].part else None
    differs, same = difference(named(one.raw), named(other.raw))
    settings = tuple(tell_differing(part or opened[0].part or opened[1].part, differs))
    lanes, from_to = _follow(opened)
    count = "1 place differs" if len(differs) == 1 else f"{len(differs)} places differ"
    return Beside(
        head=f"Two plans side by side: {count}, {same} {'is' if same == 1 else 'are'} the same",
        one=_title(one),
        other=_title(other),
        settings=settings,
        follows=tuple(lanes),
        from_to=from_to,
    )


def named(raw: Mapping[str, Any]) -> dict[str, Any]:
    """A plan in which each link, target and phase stands by its name, told in one line: their numbers say nothing.

    >>> named({"link": [{"name": "Console", "load": "port", "family": "uart", "rate": "9600 Bd"}]})
    {'link': {'Console': '9600 Bd, port'}}
    """
    told = dict(raw)
    for kind, head in (("link", "name"), ("target", "node"), ("phase", "name")):
        if isinstance(raw.get(kind), list):
            told[kind] = {str(each.get(head, number)): _in_line(each, head) for number, each in enumerate(raw[kind], 1)}
    return told


def _in_line(table: Mapping[str, Any], head: str) -> str:
    """What a link, target or phase asks, its load last."""
    chosen = [f"{key} {value}" for key, value in dict(table.get("chosen") or {}).items()]
    asked = [str(value) for key, value in table.items() if key not in (head, "load", "family", "chosen")]
    return ", ".join([*asked, *chosen, *([str(table["load"])] if "load" in table else [])])


def _title(revision: Revision) -> str:
    return f"{revision.raw.get('name') or 'A plan'}, revision {revision.revision}"


def _follow(opened: Sequence[Opened]) -> tuple[list[Lane], str]:
    """What follows from the settings: the clocks that differ on one axis, the supply current."""
    judged = [judge(each.part, each.plan) for each in opened if each.part is not None and each.plan is not None]
    if len(judged) != 2:
        return [], ""
    pairs = list(_clock_pairs(judged[0], judged[1]))[:MOST_COMPARED]
    frequencies = [value for _, first, second in pairs for value in (first, second) if value is not None]
    axis = axis_over(frequencies or [Fraction(10**6)])
    lanes = [
        Lane(
            title,
            "not running" if first is None else say_clock(first),
            "not running" if second is None else say_clock(second),
            None if first is None else axis.x(first),
            None if second is None else axis.x(second),
        )
        for title, first, second in pairs
    ]
    currents = [say_quantity(each.current.typical, CURRENT) for each in judged]
    return [*lanes, Lane("Supply current, estimated", currents[0], currents[1])], _from_to(axis)


def _clock_pairs(one: Judgement, other: Judgement) -> Iterator[tuple[str, Fraction | None, Fraction | None]]:
    """The clocks that differ, those of the core and the buses first, by their titles."""
    for row in outline_of(one.part).rows:
        if row.role not in ("divider", "feedback", "scaler", "oscillator") or row.node not in other.part.nodes:
            continue
        first, second = one.clocks.get(row.node), other.clocks.get(row.node)
        values = (first.nominal if first else None, second.nominal if second else None)
        if values[0] != values[1]:
            yield one.part.nodes[row.node].title, *values
