"""What the report is about: plan, board, part sheet with its revision, and how it stands in one sentence."""

from __future__ import annotations

from collections.abc import Iterator

from wheelwork.findings import name_list
from wheelwork.handover.report import Chapter, Facts
from wheelwork.judge import Judgement
from wheelwork.quantities.spans import write_temperatures
from wheelwork.quantities.units import VOLTAGE, write_quantity

ORDER = 10


def write_chapter(judgement: Judgement) -> Chapter:
    """The job."""
    return Chapter("The job", (say_standing(judgement), Facts(tuple(_facts(judgement)))))


def say_standing(judgement: Judgement) -> str:
    """How a plan stands, in a sentence or two."""
    inside, windows = judgement.inside, len(judgement.windows)
    clocks = f"{inside} of {windows} clocks are inside their windows"
    failing = [link for link in judgement.links if not link.keeps]
    links = f"; {len(judgement.links) - len(failing)} of {len(judgement.links)} links keep what is asked"
    stops = sum(finding.severity == "stop" for finding in judgement.findings)
    told = "Nothing is outside." if not stops else f"{stops} of the findings below {_stop(stops)} it."
    return f"{clocks}{links if judgement.links else ''}. {told}"


def _stop(stops: int) -> str:
    return "stops" if stops == 1 else "stop"


def _facts(judgement: Judgement) -> Iterator[tuple[str, str]]:
    part, plan = judgement.part, judgement.plan
    yield "Plan", plan.name or "without a name"
    if plan.kept:
        yield "Opened as", f"{plan.kept.replace('/', ', revision ')} of the shelf"
    if plan.owner:
        yield "Owner", plan.owner
    if plan.board_name or plan.board_revision:
        yield "Board", ", revision ".join(filter(None, (plan.board_name, plan.board_revision)))
    yield "Part sheet", f"{part.name}{f', revision {part.revision}' if part.revision else ', no revision stated'}"
    if part.author:
        yield "Sheet written by", part.author
    if part.figures_from:
        yield "Its figures from", part.figures_from
    yield "Judged on", "the whole tolerance" if part.with_tolerance else "nominal frequencies; tolerance is told"
    yield "Supply", "not named" if plan.supply is None else write_quantity(plan.supply, VOLTAGE)
    yield "Temperature", "not named" if plan.temperature is None else write_temperatures(plan.temperature)
    in_use = [part.nodes[name].title for name in plan.in_use]
    if in_use:
        yield "In use", name_list(in_use)
