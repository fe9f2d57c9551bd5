"""The Plan page as a whole: what its template gets, built from a judgement."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from wheelwork.charts.axis import Axis
from wheelwork.clocks.verdicts import Verdict
from wheelwork.findings import Finding, Problem
from wheelwork.judge import Judgement
from wheelwork.judge.places import place_rows
from wheelwork.pages.controls import NO_FAULTS, Faults, Field, Option
from wheelwork.pages.drawers import DrawerView, open_drawer
from wheelwork.pages.form import field_of
from wheelwork.pages.mend_words import MendView, MendWords, row_of
from wheelwork.pages.rows import HeadView, RowView, draw_rows
from wheelwork.pages.standing import page_axis
from wheelwork.part.nodes import Part, Step
from wheelwork.part.outline import Outline, OutlineRow, outline_of
from wheelwork.plan.plan import Plan
from wheelwork.quantities.numbers import MINUS, write_exact
from wheelwork.quantities.spans import write_temperatures
from wheelwork.quantities.units import CURRENT, VOLTAGE, say_frequency, say_quantity, write_quantity

LONGEST_WAIT_LIST = 16
DEGREES = "\u00a0°C"
LIKE_TEMPERATURES = f"like {MINUS}20 to 50{DEGREES}"
NAMES = {"name": "Name of the plan", "owner": "Owner", "board_revision": "Board revision"}
"""The fields of the title line."""
FACTS = NAMES | {
    "part": "Part sheet",
    "board_name": "Board",
    "supply": "Supply",
    "temperature": "Temperature span",
    "core_voltage": "Core voltage",
    "wait_states": "Flash wait states",
}
"""Those and the fields under Part and board."""


@dataclass(frozen=True, slots=True)
class FindingView:
    """A finding in the list: glyph, bold sentence, quiet line, and its nearest mend's button or where to go.

    Whether it speaks of a link: no setting is searched for then, the Links page shows the choices.
    """

    severity: str
    glyph: str
    what: str
    detail: str
    mend: MendView | None
    show: str
    show_key: str
    tried: str
    link: bool


@dataclass(frozen=True, slots=True)
class SumView:
    """The sum line: clocks inside, core voltage, wait states, supply current, the first open finding."""

    inside: int
    windows: int
    glyph: str
    verdict: str
    inside_more: str
    volts: str
    volts_more: str
    waits: str
    waits_more: str
    current: str
    current_more: str
    first: FindingView | None
    stops: int
    findings: int


@dataclass(frozen=True, slots=True)
class ToldProblem:
    """A problem in the list above the form: the field it leads to (nothing where none shows it) and what is wrong."""

    field: str
    label: str
    what: str
    allowed: str


@dataclass(frozen=True, slots=True)
class PlanPage:
    """What the Plan page's template gets."""

    plan: Plan
    part: Part
    permalink: str
    opened: str
    before: str
    changes: int
    names: Mapping[str, Field]
    facts: tuple[Field, ...]
    findings: tuple[FindingView, ...]
    groups: list[tuple[HeadView, list[RowView]]]
    axis: Axis
    sum: SumView
    open: tuple[str, ...]
    first_load: OutlineRow | None
    sheet_problems: tuple[Problem, ...]
    """What is wrong with the sheet's file, while what was read of it last is used."""
    told: tuple[ToldProblem, ...] = ()
    said: str = ""
    focus: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a request asks of the page besides the plan: open drawers, wishes typed there, faults, where to go."""

    open: tuple[str, ...] = ()
    wishes: Mapping[str, str] = field(default_factory=dict)
    faults: Faults = NO_FAULTS
    problems: tuple[Problem, ...] = ()
    opened: str = ""
    before: str = ""
    changes: int = 0
    focus: str = ""
    heard: str = ""
    """The row in whose drawer something was asked; its answer is said."""
    sheet_problems: tuple[Problem, ...] = ()
    worker: tuple[str, bool] = ("", False)
    shelf_fault: Problem | None = None


def build_page(judgement: Judgement, permalink: str, sheets: Mapping[str, str], asked: Asked) -> PlanPage:
    """The page of a judgement (with its mends). `sheets` are the part sheets offered: id to name."""
    part, plan = judgement.part, judgement.plan
    outline = outline_of(part)
    places = place_rows(judgement, outline)
    axis = page_axis(outline, plan.core_voltage, places)
    said = MendWords(judgement, outline, permalink)
    findings = tuple(_finding(said, finding) for finding in judgement.findings)
    drawers = _drawers(judgement, outline, asked)
    mends = _mends_at_rows(said)
    names = {field.name: asked.faults.mark(field) for field in _names(plan)}
    facts = tuple(asked.faults.mark(fact) for fact in board_facts(judgement, sheets))
    groups = draw_rows(judgement, outline, places, axis, asked.faults, mends, drawers)
    return PlanPage(
        plan=plan,
        part=part,
        permalink=permalink,
        opened=asked.opened or permalink,
        before=asked.before,
        changes=asked.changes,
        names=names,
        facts=facts,
        findings=findings,
        groups=groups,
        axis=axis,
        sum=_sum(judgement, findings),
        open=tuple(key for key in asked.open if key in drawers),
        first_load=next((row for row in outline.rows if row.role == "load"), None),
        sheet_problems=asked.sheet_problems,
        told=_tell(asked.problems, facts, groups) if asked.problems else (),
        said=_say_wish(drawers.get(asked.heard)),
        focus=asked.focus,
    )


def _say_wish(drawer: DrawerView | None) -> str:
    return "" if drawer is None else drawer.answer or drawer.fault


def _tell(
    problems: Sequence[Problem], facts: Sequence[Field], groups: Sequence[tuple[HeadView, Sequence[RowView]]]
) -> tuple[ToldProblem, ...]:
    """The problems that need a list, in the order of the page: several, or one that no field shows.

    A lone one stands at its field already.
    """
    labels = NAMES | {fact.name: fact.label for fact in facts}
    for setting in (row.setting for _, rows in groups for row in rows):
        named = f"{setting.number} {setting.title}"
        labels |= {field.name: named for field in (setting.chooser, *setting.fields) if field is not None}
    order = {name: place for place, name in enumerate(labels)}
    placed = [(problem, field_of(problem)) for problem in problems]
    told = sorted(placed, key=lambda each: order.get(each[1], len(order)))
    if len(told) == 1 and told[0][1] in labels:
        return ()
    return tuple(
        ToldProblem(name if name in labels else "", labels.get(name, problem.where), problem.what, problem.allowed)
        for problem, name in told
    )


def _drawers(judgement: Judgement, outline: Outline, asked: Asked) -> dict[str, DrawerView]:
    rows = (row for row in outline.rows if row.key in asked.open)
    drawn = ((row.key, open_drawer(judgement, row, asked.wishes.get(row.key, ""))) for row in rows)
    return {key: drawer for key, drawer in drawn if drawer is not None}


def _names(plan: Plan) -> tuple[Field, ...]:
    values = {"name": plan.name, "owner": plan.owner, "board_revision": plan.board_revision}
    return tuple(Field(name, "text", label, values[name]) for name, label in NAMES.items())


def board_facts(judgement: Judgement, sheets: Mapping[str, str]) -> tuple[Field, ...]:
    """The fields under Part and board."""
    part, plan = judgement.part, judgement.plan
    supply = "" if plan.supply is None else write_quantity(plan.supply, VOLTAGE)
    temperature = "" if plan.temperature is None else write_temperatures(plan.temperature)
    span = [write_quantity(end, VOLTAGE) for end in (part.supply.lowest, part.supply.highest) if end is not None]
    allowed = " to ".join(span)
    return (
        Field("part", "choice", FACTS["part"], plan.part, options=_sheet_options(part, plan, sheets)),
        Field("board_name", "text", FACTS["board_name"], plan.board_name, placeholder="name of the board"),
        Field("supply", "text", FACTS["supply"], supply, allowed=allowed, placeholder="like 3.0 V"),
        Field(
            "temperature", "text", FACTS["temperature"], say_temperatures(temperature), placeholder=LIKE_TEMPERATURES
        ),
        Field("core_voltage", "choice", FACTS["core_voltage"], plan.core_voltage, options=_step_options(part, plan)),
        Field("wait_states", "choice", FACTS["wait_states"], _waits(plan), options=_wait_options(judgement)),
    )


def say_temperatures(written: str) -> str:
    """A temperature span as the page shows it; it reads back the same.

    >>> say_temperatures("-20 °C .. 50 °C") == "\\u221220 to 50\\u00a0°C"
    True
    """
    low, _, high = written.replace("-", MINUS).replace(" °C", DEGREES).partition(" .. ")
    return f"{low.removesuffix(DEGREES)} to {high}" if high else low


def _sheet_options(part: Part, plan: Plan, sheets: Mapping[str, str]) -> tuple[Option, ...]:
    revision = f", revision {part.revision}" if part.revision else ""
    named = {**sheets, plan.part: f"{part.name}{revision}"}
    return tuple(Option(name, label, name == plan.part) for name, label in named.items())


def _step_options(part: Part, plan: Plan) -> tuple[Option, ...]:
    return tuple(Option(step.id, _say_step(part, step), step.id == plan.core_voltage) for step in part.steps)


def _say_step(part: Part, step: Step) -> str:
    window = part.nodes[part.core_clock].window(step.id)
    reach = f", up to {say_frequency(window.highest)}" if window is not None and window.highest is not None else ""
    return f"{write_exact(step.volts)}\u00a0V{reach}"


def _waits(plan: Plan) -> str:
    return "" if plan.wait_states is None else str(plan.wait_states)


def _wait_options(judgement: Judgement) -> tuple[Option, ...]:
    plan, needed = judgement.plan, judgement.wait_states_needed
    rows = [row.wait_states for step in judgement.part.steps for row in step.flash]
    most = min(max([*rows, plan.wait_states or 0, 0]), LONGEST_WAIT_LIST)
    by_sheet = "by the sheet" if needed is None else f"{needed}, by the sheet"
    counts = sorted({*range(most + 1), *([] if plan.wait_states is None else [plan.wait_states])})
    fixed = tuple(Option(str(n), f"{n}, chosen", n == plan.wait_states) for n in counts)
    return (Option("", by_sheet, plan.wait_states is None), *fixed)


def _finding(said: MendWords, finding: Finding) -> FindingView:
    mend = None if not finding.mend else said.view(finding, at="")
    row = row_of(said.outline, finding)
    detail = f"{finding.detail} {mend.sentence}" if mend is not None and mend.sentence else finding.detail
    return FindingView(
        severity=finding.severity,
        glyph=_glyph(said.judgement, finding),
        what=finding.what,
        detail=detail,
        mend=mend,
        show="" if row is None else f"Show {row.number}",
        show_key="" if row is None else row.key,
        tried=finding.tried,
        link=bool(finding.link),
    )


def _glyph(judgement: Judgement, finding: Finding) -> str:
    if finding.severity == "stop":
        return "under" if any(f" {word} by " in finding.what for word in ("under", "slow", "short")) else "over"
    judged = (judgement.phase_detectors if finding.detector else judgement.nodes).get(finding.node)
    if judged is None or judged.verdict != "tight":
        return "note"
    return "tight-lower" if "lower limit" in finding.what else "tight-upper"


def _mends_at_rows(said: MendWords) -> dict[str, MendView]:
    """The nearest mend of each finding that stands in a row, shown in that row."""
    found: dict[str, MendView] = {}
    for finding in said.judgement.findings:
        row = row_of(said.outline, finding)
        if row is not None and finding.mend and row.key not in found:
            found[row.key] = said.view(finding, at=row.key)
    return found


def view_sum(judgement: Judgement, permalink: str) -> SumView:
    """The sum line of a judgement (with its mends), for every page that has one."""
    said = MendWords(judgement, outline_of(judgement.part), permalink)
    return _sum(judgement, tuple(_finding(said, finding) for finding in judgement.findings))


def _sum(judgement: Judgement, findings: tuple[FindingView, ...]) -> SumView:
    part, plan = judgement.part, judgement.plan
    first = next(iter(findings), None)
    stops = sum(finding.severity == "stop" for finding in findings)
    lowest, needed = judgement.lowest_that_does, judgement.wait_states_needed
    does = "none yet" if lowest is None else f"{write_exact(part.step(lowest).volts)}\u00a0V"
    verdicts = Counter(judged.verdict for judged in judgement.windows)
    tight = verdicts["tight"]
    chosen = judgement.wait_states_chosen
    glyph = "over" if not judgement.legal else "tight-upper" if tight else "inside"
    return SumView(
        inside=judgement.inside,
        windows=len(judgement.windows),
        glyph=glyph,
        verdict="outside" if glyph == "over" else "tight" if tight else "inside",
        inside_more=_count_words(judgement, verdicts),
        volts=f"{write_exact(part.step(plan.core_voltage).volts)}\u00a0V",
        volts_more=f"lowest that would do: {does}",
        waits="none suffices" if chosen is None else str(chosen),
        waits_more=f"needed: {'past the table' if needed is None else needed}",
        current=_say_current(judgement),
        current_more=_current_words(judgement),
        first=first,
        stops=stops,
        findings=len(findings),
    )


def _count_words(judgement: Judgement, verdicts: Counter[Verdict]) -> str:
    stopped = sum(judged.clock is None for judged in judgement.nodes.values())
    counts = ((verdicts["over"], "over"), (verdicts["under"], "under"), (verdicts["tight"], "on a limit"))
    told = [f"{count} {what}" for count, what in (*counts, (stopped, "not running")) if count]
    return ", ".join(told) or "all run well inside"


def _say_current(judgement: Judgement) -> str:
    """The typical current; a sum of nothing is no current."""
    current = judgement.current
    return "not stated" if current.not_stated and not current.typical else say_quantity(current.typical, CURRENT)


def _current_words(judgement: Judgement) -> str:
    missing = len(judgement.current.not_stated)
    if missing:
        return f"typical; the sheet leaves out {missing} {'figure' if missing == 1 else 'figures'}"
    highest = judgement.current.highest
    if highest is None:
        return "typical; the sheet states no span"
    return f"typical; up to {say_quantity(highest, CURRENT)}"
