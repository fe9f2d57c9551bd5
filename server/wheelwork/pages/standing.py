"""Where a row's clock stands: its figure, lane, room to the limit and verdict, as the page shows them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from wheelwork.charts.axis import Axis, axis_over
from wheelwork.charts.lanes import WHISKER_FROM, Lane, Mark, Room, Threads, draw_band, draw_room, draw_whisker
from wheelwork.clocks.propagate import tolerance_of
from wheelwork.clocks.words import leans_up, say_verdict
from wheelwork.findings import lower_first
from wheelwork.judge import Judgement
from wheelwork.judge.places import Place
from wheelwork.pages.kept import Kept
from wheelwork.pages.words import Figure, draw_figure, say_clock
from wheelwork.part.nodes import Oscillator
from wheelwork.part.outline import Outline, row_title
from wheelwork.quantities.spans import Span, say_tolerance, say_window

MOST_KEPT = 4000


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """What a row shows of its clock. The same standing is the same object, so that its markup is kept by it.

    `verdict` is the row's class: inside, tight, outside, stopped, ring or blank.
    """

    key: str
    number: str
    title: str
    figure: Figure | None
    tolerance: str
    formula: bool
    open: bool
    lane: Lane
    threads: Threads
    room: Room | None
    verdict: str
    glyph: str
    words: str
    spoken: str


_EDGES: Kept[tuple[Fraction, ...]] = Kept(200)


def page_axis(outline: Outline, step: str, places: list[Place]) -> Axis:
    """The axis over all windows, frequencies and whiskers shown; the windows of a part at a step do not change."""
    edges = _EDGES.get((outline, step), lambda: _outer_edges(places))
    return axis_over([*edges, *_frequencies(places)])


def _outer_edges(places: list[Place]) -> tuple[Fraction, ...]:
    windows = [place.window for place in places if place.window is not None]
    edges = [edge for window in windows for edge in (window.lowest, window.highest) if edge is not None]
    return (min(edges), max(edges)) if edges else ()


def _frequencies(places: list[Place]) -> Iterator[Fraction]:
    """The frequencies shown, with the ends of the whiskers that are wide enough to be drawn."""
    wide: dict[str, bool] = {}
    for clock in (place.shown for place in places if place.shown is not None):
        yield clock.nominal
        if clock.source not in wide:
            wide[clock.source] = max(clock.tolerance.highest, -clock.tolerance.lowest) > WHISKER_FROM
        if wide[clock.source]:
            yield clock.lowest
            yield clock.highest


def say_tolerances(judgement: Judgement) -> dict[str, str]:
    """The tolerance of each source in words; it is that of every clock made from it."""
    sources = (node for node in judgement.part.nodes.values() if isinstance(node, Oscillator))
    return {node.id: _say_tolerance(tolerance_of(node, judgement.plan)) for node in sources}


@lru_cache(200)
def _say_tolerance(stated: Span | None) -> str:
    return "no tolerance stated" if stated is None else say_tolerance(stated)


_STANDINGS: Kept[Standing] = Kept(MOST_KEPT)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What all rows of a page are drawn on: outline and judgement, axis, each source's tolerance in words."""

    judgement: Judgement
    outline: Outline
    axis: Axis
    tolerances: Mapping[str, str]


def draw_standing(sheet: Sheet, place: Place, threads: Threads, opened: bool) -> Standing:
    """The standing of a row; kept by all that it is made from, which is little: row, step, clock and threads."""
    clock = place.shown
    tolerance = "" if clock is None else sheet.tolerances[clock.source]
    ground = (sheet.outline, sheet.judgement.plan.core_voltage, sheet.axis.low, sheet.axis.high)
    key = (*ground, place.row.key, threads, tolerance, opened, *_clock_key(place))
    return _STANDINGS.get(key, lambda: _draw(sheet, place, threads, tolerance, opened))


def _clock_key(place: Place) -> tuple[int | str | bool, ...]:
    """A clock in whole numbers, which are much faster to hash than the rationals they make."""
    clock = place.shown
    if clock is None:
        return ()
    low, high = clock.tolerance.lowest, clock.tolerance.highest
    nominal = (clock.nominal.numerator, clock.nominal.denominator)
    tolerance = (low.numerator, low.denominator, high.numerator, high.denominator)
    return (place.judged.clock is not None, *nominal, *tolerance)


def _draw(sheet: Sheet, place: Place, threads: Threads, tolerance: str, opened: bool) -> Standing:
    row, judged = place.row, place.judged
    title = row_title(sheet.judgement.part, row)
    verdict, glyph = _look(place)
    words = "" if row.role == "fraction" else say_verdict(judged)
    return Standing(
        key=row.key,
        number=row.number,
        title=title,
        figure=None if place.shown is None else draw_figure(place.shown.nominal),
        tolerance=tolerance,
        formula=judged.clock is not None and row.role not in ("oscillator", "fraction"),
        open=opened,
        lane=_draw_lane(place, sheet.axis, glyph),
        threads=threads,
        room=_draw_room(place, glyph),
        verdict=verdict,
        glyph=glyph,
        words=words,
        spoken=_speak(title, place, words),
    )


def _look(place: Place) -> tuple[str, str]:
    """The class of a row's verdict, and which glyph says it."""
    judged = place.judged
    if place.row.role == "fraction":
        return "blank", "none"
    if judged.clock is None:
        return "stopped", "stopped"
    if judged.window is None:
        return "ring", "ring"
    if judged.outside:
        return "outside", "over" if judged.verdict == "over" else "under"
    if judged.verdict == "tight":
        return "tight", "tight-upper" if leans_up(judged) else "tight-lower"
    return "inside", "inside"


_MARKS: Mapping[str, Mark] = {
    "inside": "inside",
    "ring": "ring",
    "over": "outside",
    "under": "outside",
    "tight-upper": "tight-upper",
    "tight-lower": "tight-lower",
    "stopped": "stopped",
}


def _draw_lane(place: Place, axis: Axis, glyph: str) -> Lane:
    band = None if place.window is None else draw_band(axis, place.window.lowest, place.window.highest)
    if place.shown is None:
        return Lane(band=band)
    clock = place.shown
    whisker = None
    if place.judged.clock is not None:
        whisker = draw_whisker(axis, clock.nominal, clock.lowest, clock.highest)
    return Lane(_MARKS[glyph], axis.x(clock.nominal), band, whisker)


def _draw_room(place: Place, glyph: str) -> Room | None:
    clock, window = place.judged.clock, place.judged.window
    if clock is None or window is None:
        return None
    return draw_room(_MARKS[glyph], clock.nominal, clock.lowest, clock.highest, window.lowest, window.highest)


def _speak(title: str, place: Place, words: str) -> str:
    """The picture of a lane in a sentence, for those who hear the page."""
    if place.judged.clock is None:
        return f"{title}: {words.lower() or 'adds to the feedback multiplier'}"
    told = [f"{title}: {say_clock(place.judged.clock.nominal)}"]
    if place.judged.window is not None:
        told.append(f"allowed {say_window(place.judged.window)}")
        told.append(place.judged.verdict)
    return ", ".join([*told, lower_first(words)])
