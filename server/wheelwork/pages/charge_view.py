"""What the Charge page shows: one sentence of sum, one round of work, the battery, what the current is made of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from wheelwork.findings import Finding
from wheelwork.judge import Judgement
from wheelwork.judge.charge import Charge, Estimate, PhaseCharge, reckon_charge
from wheelwork.judge.charge_words import (
    say_charge,
    say_charge_of,
    say_estimate,
    say_often,
    say_span,
)
from wheelwork.pages.charge_form import BATTERY_KEYS, write_draws
from wheelwork.pages.charge_points import PointsView, view_points
from wheelwork.pages.controls import Field, Option
from wheelwork.pages.plan_view import SumView, board_facts, view_sum
from wheelwork.part.nodes import Part
from wheelwork.plan.cells import CELLS
from wheelwork.plan.phases import RUN
from wheelwork.plan.plan import Plan
from wheelwork.plan.writing import write_plan
from wheelwork.quantities.units import CURRENT, TIME, say_quantity

LABELS = {
    "cell": "Cell",
    "series": "Cells in series",
    "capacity": "Capacity",
    "usable": "Usable of it",
    "self_discharge": "Lost a year",
    "ends_at": "Ends at",
    "resistance": "Resistance of a cell",
    "peak": "Peak current",
    "pulse": "Peak lasts",
    "capacitor": "Capacitor beside it",
}
EXAMPLES = {
    "capacity": "225 mAh",
    "usable": "85 %",
    "self_discharge": "1 %",
    "ends_at": "2.2 V",
    "resistance": "10 Ω",
    "peak": "30 mA",
    "pulse": "20 ms",
    "capacitor": "2 mF",
}
FACTS = ("supply", "core_voltage", "temperature")
NAMES = {"run_current": "Core, by its clock", "base_current": "Core, offset"}
LITHIUM = "Lithium primary cells: never charge, short or mix them; keep them from children (IEC 60086-4, UN 38.3)."


@dataclass(frozen=True, slots=True)
class PhaseRow:
    """A phase of the round: what it is and what it costs; its fields where the plan wrote it."""

    place: int
    name: str
    about: str
    lasts: str
    current: str
    charge: str
    share: str
    derived: bool
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class ChargePage:
    """The whole page."""

    part: Part
    plan: Plan
    permalink: str
    opened: str
    before: str
    changes: int
    head: str
    line: str
    rows: tuple[PhaseRow, ...]
    battery: tuple[Field, ...]
    facts: tuple[Field, ...]
    parts: tuple[tuple[str, str], ...]
    missing: tuple[str, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    sum: SumView
    points: PointsView
    estimates: str
    said: str
    focus: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a request asks besides the plan: what was typed and cannot be taken, and where to go."""

    typed: Mapping[str, str]
    told: Mapping[str, str]
    opened: str = ""
    before: str = ""
    changes: int = 0
    said: str = ""
    focus: str = ""


NOTHING = Wanted({}, {})


def build_charge(judgement: Judgement, permalink: str, wanted: Wanted = NOTHING) -> ChargePage:
    """The page of a judged plan."""
    part, plan = judgement.part, judgement.plan
    charge = reckon_charge(judgement)
    return ChargePage(
        part=part,
        plan=plan,
        permalink=permalink,
        opened=wanted.opened or permalink,
        before=wanted.before,
        changes=wanted.changes,
        head=say_charge(charge),
        line=say_span(charge),
        rows=tuple(_rows(charge, wanted)),
        battery=tuple(_battery_fields(plan, wanted)),
        facts=tuple(_mark(each, wanted) for each in board_facts(judgement, {}) if each.name in FACTS),
        parts=tuple(_parts(charge)),
        missing=tuple(_title(part, name) for name in charge.not_stated),
        findings=charge.findings,
        cautions=tuple(_cautions(plan, charge)),
        sum=view_sum(judgement, permalink),
        points=view_points(charge, permalink),
        estimates="/estimates?" + urlencode({"plan": permalink}),
        said=wanted.said,
        focus=wanted.focus,
    )


def say_sum(judgement: Judgement) -> str:
    """The sentence of sum, for those who hear the page."""
    return f"{say_charge(reckon_charge(judgement))}."


def _title(part: Part, name: str) -> str:
    """A node by its title, anything else by its words."""
    return part.nodes[name].title if name in part.nodes else name.replace("_", " ").replace(".", " ")


def _rows(charge: Charge, wanted: Wanted) -> Iterator[PhaseRow]:
    raw = write_plan(charge.judgement.plan, charge.judgement.part).get("phase", [])
    for phase in charge.phases:
        often = say_often(phase, charge.round)
        written = raw[phase.place] if phase.place < len(raw) and not phase.derived else None
        fields = () if written is None else tuple(_phase_fields(charge.judgement.part, phase, written, wanted))
        yield PhaseRow(
            place=phase.place,
            name=phase.name,
            about=", ".join(filter(None, (phase.about, often))),
            lasts=say_quantity(phase.lasts, TIME),
            current=say_estimate(phase.current),
            charge=say_charge_of(phase),
            share=_say_share(charge, phase),
            derived=phase.derived or written is None,
            fields=fields,
        )


def _say_share(charge: Charge, phase: PhaseCharge) -> str:
    """How much of the mean a phase makes."""
    if charge.mean is None or not charge.mean.typical:
        return ""
    percent = 100 * phase.current.typical * phase.share / charge.mean.typical
    return "under 1 %" if percent < 1 else f"{round(percent)} %"


def _phase_fields(part: Part, phase: PhaseCharge, written: Mapping[str, object], wanted: Wanted) -> Iterator[Field]:
    head = f"phase.{phase.place}"
    modes = [(RUN, "run, as planned" if "plan" not in written else "run, otherwise")]
    modes += [(mode.id, mode.title) for mode in part.modes.values()]
    chosen = str(written.get("mode", RUN))
    options = tuple(Option(value, label, value == chosen) for value, label in modes)
    lasts = str(written.get("lasts", "")) or (f"{written['cycles']} clocks" if "cycles" in written else "")
    for field in (
        Field(f"{head}.name", "text", "Phase", value=str(written.get("name", ""))),
        Field(f"{head}.mode", "choice", "Runs", options=options),
        Field(f"{head}.lasts", "text", "Lasts", value=lasts, placeholder="what is left"),
        Field(f"{head}.every", "text", "Once in", value=str(written.get("every", "")), placeholder="each round"),
        Field(f"{head}.draws", "text", "Also draws", value=write_draws(written.get("draws")), placeholder="radio 9 mA"),
    ):
        yield _mark(field, wanted)


def _mark(field: Field, wanted: Wanted) -> Field:
    """A field with what was typed in it and what is wrong with that, where something is."""
    fault = wanted.told.get(field.name, "")
    if not fault:
        return field
    still = f"Still counted: {field.shown or 'nothing'}."
    typed = wanted.typed.get(field.name, field.value)
    options = tuple(replace(option, chosen=option.value == typed) for option in field.options)
    return replace(field, value=typed, options=options, fault=fault, still=still, counted=field.value)


def _battery_fields(plan: Plan, wanted: Wanted) -> Iterator[Field]:
    raw = {} if plan.battery is None else dict(plan.battery.raw)
    for key in BATTERY_KEYS:
        value = str(raw.get(key, ""))
        name = f"battery.{key}"
        if key == "cell":
            options = [Option("", "none of these", not value)]
            options += [Option(cell, f"{cell}, {CELLS[cell].chemistry.title}", cell == value) for cell in CELLS]
            yield _mark(Field(name, "choice", LABELS[key], options=tuple(options)), wanted)
        else:
            yield _mark(Field(name, "text", LABELS[key], value=value, placeholder=EXAMPLES.get(key, "1")), wanted)


def _parts(charge: Charge) -> Iterator[tuple[str, str]]:
    nodes = charge.judgement.part.nodes
    for share in sorted(charge.judgement.current.parts, key=lambda each: -each.typical):
        title = NAMES.get(share.of) or (nodes[share.of].title if share.of in nodes else share.of)
        yield title, say_estimate(Estimate(share.typical, share.highest), CURRENT)


def _cautions(plan: Plan, charge: Charge) -> Iterator[str]:
    yield "Estimates: typical is not highest, and leakage grows many times over in the heat."
    if charge.mean is not None:
        yield "The mean misjudges many real boards: pulses, temperature and cut-off change a life by tens of per cent."
    if plan.battery is not None:
        yield "A battery ends at the brown-out threshold plus what the regulator drops, not where its cells would."
        cell = CELLS.get(plan.battery.cell)
        if cell is not None and cell.chemistry.lithium:
            yield LITHIUM
