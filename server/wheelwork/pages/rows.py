"""The rows of the outline as the page shows them: figure, lane, room, verdict, mend and drawer of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.charts.axis import Axis, axis_over
from wheelwork.charts.lanes import Lane, Mark, Room, Stop, Threads, draw_band, draw_room, draw_whisker, thread_rows
from wheelwork.clocks.propagate import Clock, factor_of, factors_of, source_clock, tolerance_of
from wheelwork.clocks.verdicts import STOPPED, Judged
from wheelwork.judge import Judgement
from wheelwork.pages.controls import Faults, Field, chooser_field, no_setting, row_fields
from wheelwork.pages.drawers import DrawerView
from wheelwork.pages.outline import Outline, OutlineRow
from wheelwork.pages.words import Figure, draw_figure, leans_up, lower_first, say_verdict
from wheelwork.part.nodes import Divider, Node, Oscillator, Part, Pll, Scaler, Selector
from wheelwork.quantities.spans import Span, Window, say_tolerance, say_window
from wheelwork.quantities.units import say_frequency

WORTH_A_WORD = 12


@dataclass(frozen=True, slots=True)
class MendView:
    """A mend at its row: what it gives, and the button that does it."""

    sentence: str
    label: str
    act: str


@dataclass(frozen=True, slots=True)
class RowView:
    """Everything a row's template draws. `verdict` is its class: inside, tight, outside, stopped, ring or blank."""

    key: str
    number: str
    indent: int
    title: str
    origin: str
    chooser: Field | None
    fields: tuple[Field, ...]
    no_setting: str
    held: bool
    figure: Figure | None
    tolerance: str
    formula: bool
    lane: Lane
    threads: Threads
    grid: tuple[float, ...]
    room: Room | None
    verdict: str
    glyph: str
    words: str
    spoken: str
    mend: MendView | None
    drawer: DrawerView | None


@dataclass(frozen=True, slots=True)
class HeadView:
    """The head of a group, with the threads that pass it."""

    number: int
    title: str
    threads: Threads
    grid: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """A row with what it is judged on: its clock (also of a stopped oscillator, for the picture) and its verdict."""

    row: OutlineRow
    judged: Judged
    shown: Clock | None
    window: Window | None


def place_rows(judgement: Judgement, outline: Outline) -> list[Place]:
    """Each row with its verdict: a PLL's reference divider is judged by its phase detector, its feedback by the VCO."""
    return [_place(judgement, row) for row in outline.rows]


def _place(judgement: Judgement, row: OutlineRow) -> Place:
    node, step = judgement.part.nodes[row.node], judgement.plan.core_voltage
    if row.role == "reference_divider" and isinstance(node, Pll):
        judged = judgement.phase_detectors.get(row.node, STOPPED)
        return Place(row, judged, judged.clock, node.phase_detector_window(step))
    if row.role == "fraction":
        return Place(row, STOPPED, None, None)
    judged = judgement.nodes[row.node]
    shown = judged.clock or _stopped_source(judgement, node)
    return Place(row, judged, shown, node.window(step))


def _stopped_source(judgement: Judgement, node: Node) -> Clock | None:
    """The frequency a stopped oscillator would have, where it has one."""
    if not isinstance(node, Oscillator):
        return None
    fitted = judgement.plan.fitted.get(node.id)
    if node.fitted is not None and (fitted is None or fitted.frequency is None):
        return None
    return source_clock(node, judgement.plan, judgement.settings)


def page_axis(places: list[Place]) -> Axis:
    """The axis over all windows, frequencies and whiskers shown."""
    shown: list[Fraction] = []
    for place in places:
        if place.shown is not None:
            shown += [place.shown.lowest, place.shown.highest]
        if place.window is not None:
            shown += [edge for edge in (place.window.lowest, place.window.highest) if edge is not None]
    return axis_over(shown)


def draw_rows(
    judgement: Judgement,
    outline: Outline,
    places: list[Place],
    axis: Axis,
    faults: Faults,
    mends: Mapping[str, MendView],
    drawers: Mapping[str, DrawerView],
) -> list[tuple[HeadView, list[RowView]]]:
    """All groups with their rows, ready for the template."""
    grid = axis.grid()
    by_key = {place.row.key: place for place in places}
    stops: list[Stop | None] = []
    for group in outline.groups:
        stops.append(None)
        stops += [_stop(judgement, outline, by_key[row.key]) for row in group.rows]
    threads = iter(thread_rows(axis, stops))
    groups = []
    for group in outline.groups:
        head = HeadView(group.number, group.title, next(threads), grid)
        rows = [
            _view(judgement, by_key[row.key], axis, grid, next(threads), faults, mends.get(row.key), drawers.get(row.key))
            for row in group.rows
        ]
        groups.append((head, rows))
    return groups


def _stop(judgement: Judgement, outline: Outline, place: Place) -> Stop:
    """A row on the way down: its feeder's row and the ratio between the two."""
    row = place.row
    frequency = None if place.judged.clock is None else place.judged.clock.nominal
    feeder, ratio, label = _step_from_feeder(judgement, row)
    feeder_row = outline.row_of.get(feeder) if feeder else None
    if feeder is not None and row.role != "feedback" and feeder_row is not None and feeder_row.chooser == feeder:
        feeder_row = None
    return Stop(row.key, frequency, feeder_row.key if feeder_row else None, label, ratio)


def _step_from_feeder(judgement: Judgement, row: OutlineRow) -> tuple[str | None, Fraction, str]:
    """What feeds a row (through the choice that stands in it), by which factor, and the label of that step."""
    node = judgement.part.nodes[row.node]
    feeder = judgement.way.feeder.get(row.node)
    if row.chooser is not None and feeder == row.chooser:
        feeder = judgement.way.feeder.get(row.chooser)
    match node:
        case Pll() if row.role == "reference_divider":
            ratio = factors_of(node, judgement.settings).reference_divider
            return feeder, ratio, _label("÷", ratio)
        case Pll():
            factors = factors_of(node, judgement.settings)
            factor = factors.feedback + factors.fraction / node.fraction_of
            label = _label("×", factors.feedback) if factors.fraction == 0 else f"×{int(factors.feedback)}…"
            return f"{node.id}.reference_divider", factor, label
        case Divider():
            ratio = Fraction(judgement.settings[node.id])
            return feeder, ratio, _label("÷", ratio)
        case Scaler():
            factor = factor_of(node, judgement.settings)
            return feeder, factor, _label("÷", 1 / factor) if factor < 1 else _label("×", factor)
    return feeder, Fraction(1), ""


def _label(sign: str, ratio: Fraction) -> str:
    return "" if ratio == 1 else f"{sign}{ratio}"


def _view(
    judgement: Judgement,
    place: Place,
    axis: Axis,
    grid: tuple[float, ...],
    threads: Threads,
    faults: Faults,
    mend: MendView | None,
    drawer: DrawerView | None,
) -> RowView:
    part, row, judged = judgement.part, place.row, place.judged
    chooser = chooser_field(part, judgement.plan, row)
    title = row_title(part, row)
    verdict, glyph = _look(place)
    words = "" if row.role == "fraction" else say_verdict(judged)
    return RowView(
        key=row.key,
        number=row.number,
        indent=row.indent,
        title=title,
        origin=_origin(part, row) if chooser is None else "",
        chooser=None if chooser is None else faults.mark(chooser),
        fields=tuple(faults.mark(field) for field in row_fields(part, judgement.plan, row)),
        no_setting=no_setting(part, row),
        held=row.key in judgement.plan.held or row.node in judgement.plan.held or row.chooser in judgement.plan.held,
        figure=None if place.shown is None else draw_figure(place.shown.nominal),
        tolerance=_tolerance(judgement, place),
        formula=judged.clock is not None and row.role not in ("oscillator", "fraction"),
        lane=_draw_lane(place, axis),
        threads=threads,
        grid=grid,
        room=_room(place, verdict),
        verdict=verdict,
        glyph=glyph,
        words=words,
        spoken=_speak(title, place, words),
        mend=mend,
        drawer=drawer,
    )


def row_title(part: Part, row: OutlineRow) -> str:
    """A row's name: its node's title; the parts of a PLL are named by what they do."""
    titles = {"reference_divider": "Reference divider", "feedback": "Feedback multiplier", "fraction": "Fraction"}
    return titles.get(row.role, part.nodes[row.node].title)


_SOURCES = {
    "rc": "on the chip",
    "crystal": "fitted on the board",
    "resonator": "fitted on the board",
    "external": "from outside",
}


def _origin(part: Part, row: OutlineRow) -> str:
    """The quiet line under a row's name."""
    node = part.nodes[row.node]
    match node:
        case Oscillator():
            return _SOURCES[node.source]
        case Pll() if row.role == "feedback":
            return "sets the VCO"
        case Pll() if row.role == "fraction":
            return f"adds parts of {node.fraction_of}"
        case Selector():
            return f"one of {len(node.feeders)} clocks"
    feeder = part.nodes[node.feeders[0]]
    return "from VCO" if isinstance(feeder, Pll) else f"from {lower_first(feeder.title)}"


def _tolerance(judgement: Judgement, place: Place) -> str:
    if place.shown is None:
        return ""
    source = judgement.part.nodes[place.shown.source]
    stated: Span | None = tolerance_of(source, judgement.plan) if isinstance(source, Oscillator) else None
    return "no tolerance stated" if stated is None else say_tolerance(stated)


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


def _draw_lane(place: Place, axis: Axis) -> Lane:
    band = None if place.window is None else draw_band(axis, place.window.lowest, place.window.highest)
    if place.shown is None:
        return Lane(band=band)
    clock = place.shown
    whisker = None
    if place.judged.clock is not None:
        whisker = draw_whisker(axis, clock.nominal, clock.lowest, clock.highest)
    return Lane(_MARKS[_look(place)[1]], axis.x(clock.nominal), band, whisker)


def _room(place: Place, verdict: str) -> Room | None:
    clock, window = place.judged.clock, place.judged.window
    if clock is None or window is None:
        return None
    mark = _MARKS[_look(place)[1]]
    return draw_room(mark, clock.nominal, clock.lowest, clock.highest, window.lowest, window.highest)


def _speak(title: str, place: Place, words: str) -> str:
    """The picture of a lane in a sentence, for those who hear the page."""
    if place.judged.clock is None:
        return f"{title}: {words.lower() or 'adds to the feedback multiplier'}"
    told = [f"{title}: {say_frequency(place.judged.clock.nominal)}"]
    if place.judged.window is not None:
        told.append(f"allowed {say_window(place.judged.window)}")
        told.append(place.judged.verdict)
    return ", ".join([*told, lower_first(words)])
