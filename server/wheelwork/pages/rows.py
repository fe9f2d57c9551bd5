"""The rows of the outline as the page shows them: the setting, where its clock stands, and what opens below."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from wheelwork.charts.axis import Axis
from wheelwork.charts.lanes import Stop, Threads, thread_rows
from wheelwork.clocks.propagate import factor_of, factors_of
from wheelwork.findings import lower_first
from wheelwork.judge import Judgement
from wheelwork.judge.places import Place
from wheelwork.pages.controls import Faults, Field, chooser_field, no_setting, row_fields
from wheelwork.pages.drawers import DrawerView
from wheelwork.pages.kept import Kept
from wheelwork.pages.mend_words import MendView
from wheelwork.pages.standing import Sheet, Standing, draw_standing, say_tolerances
from wheelwork.part.nodes import Divider, Oscillator, Part, Pll, Scaler, Selector
from wheelwork.part.outline import Group, Outline, OutlineRow, row_title
from wheelwork.plan.plan import Plan

MOST_KEPT = 4000


@dataclass(frozen=True, slots=True, eq=False)
class SettingView:
    """A row's name and controls. The same setting is the same object, so that its markup is kept by it."""

    key: str
    number: str
    indent: int
    title: str
    origin: str
    chooser: Field | None
    fields: tuple[Field, ...]
    no_setting: str
    held: bool
    typed: bool = False
    """Whether something stands in it that was typed and does not count; such a setting is drawn for one answer only."""

    @property
    def faulty(self) -> tuple[Field, ...]:
        """The controls in which something cannot be taken."""
        return tuple(field for field in (self.chooser, *self.fields) if field is not None and field.fault)


@dataclass(frozen=True, slots=True)
class RowView:
    """A row: its setting, where its clock stands, and what opens below it."""

    setting: SettingView
    standing: Standing
    mend: MendView | None
    drawer: DrawerView | None

    @property
    def opens(self) -> bool:
        """Whether anything stands below the row."""
        return self.mend is not None or self.drawer is not None or bool(self.setting.faulty)


@dataclass(frozen=True, slots=True)
class HeadView:
    """The head of a group, with the threads that pass it."""

    number: int
    title: str
    threads: Threads


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
    by_key = {place.row.key: place for place in places}
    stops = [stop for group in outline.groups for stop in (None, *_stops(judgement, outline, group, by_key))]
    threads = iter(thread_rows(axis, stops))
    sheet = Sheet(judgement, outline, axis, say_tolerances(judgement))
    groups = []
    for group in outline.groups:
        head = HeadView(group.number, group.title, next(threads))
        rows = []
        for row in group.rows:
            drawer = drawers.get(row.key)
            standing = draw_standing(sheet, by_key[row.key], next(threads), drawer is not None)
            setting = draw_setting(judgement.part, outline, judgement.plan, row, faults)
            rows.append(RowView(setting, standing, mends.get(row.key), drawer))
        groups.append((head, rows))
    return groups


def _stops(judgement: Judgement, outline: Outline, group: Group, by_key: Mapping[str, Place]) -> list[Stop]:
    return [_stop(judgement, outline, by_key[row.key]) for row in group.rows]


def _stop(judgement: Judgement, outline: Outline, place: Place) -> Stop:
    """A row on the way down: its feeder's row and the ratio between the two."""
    row = place.row
    if place.judged.clock is None:
        return Stop(row.key, None, None, "")
    feeder, ratio, label = _step_from_feeder(judgement, row)
    feeder_row = outline.row_of.get(feeder) if feeder else None
    if feeder_row is not None and row.role != "feedback" and feeder_row.chooser == feeder:
        feeder_row = None
    return Stop(row.key, place.judged.clock.nominal, feeder_row.key if feeder_row else None, label, ratio)


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


_SETTINGS: Kept[SettingView] = Kept(MOST_KEPT)


def draw_setting(part: Part, outline: Outline, plan: Plan, row: OutlineRow, faults: Faults) -> SettingView:
    """The setting of a row, kept by what the plan says of it, with what was typed where that cannot be taken."""
    chosen = (plan.settings.get(row.key), plan.settings.get(row.chooser or ""), plan.fitted.get(row.node))
    runs = (row.node in plan.in_use, row.node in plan.keep_running, _is_held(plan, row))
    setting = _SETTINGS.get((outline, row.key, *chosen, *runs), lambda: _draw_setting(part, plan, row))
    return _mark(setting, faults) if faults.told or faults.typed else setting


def _mark(setting: SettingView, faults: Faults) -> SettingView:
    chooser = None if setting.chooser is None else faults.mark(setting.chooser)
    fields = tuple(faults.mark(field) for field in setting.fields)
    if chooser is setting.chooser and all(one is other for one, other in zip(fields, setting.fields, strict=True)):
        return setting
    return replace(setting, chooser=chooser, fields=fields, typed=True)


def _is_held(plan: Plan, row: OutlineRow) -> bool:
    return bool(plan.held) and any(key in plan.held for key in (row.key, row.node, row.chooser))


def _draw_setting(part: Part, plan: Plan, row: OutlineRow) -> SettingView:
    chooser = chooser_field(part, plan, row)
    return SettingView(
        key=row.key,
        number=row.number,
        indent=row.indent,
        title=row_title(part, row),
        origin=_origin(part, row) if chooser is None else "",
        chooser=chooser,
        fields=row_fields(part, plan, row),
        no_setting=no_setting(part, row),
        held=_is_held(plan, row),
    )


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
