"""Plans and sheets: what can be opened here."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import Response

from wheelwork.clocks.propagate import unfitted
from wheelwork.findings import Problem
from wheelwork.judge import judge
from wheelwork.pages.plan import permalink_of
from wheelwork.pages.rendering import render
from wheelwork.plan.reading import read_plan, sheet_in
from wheelwork.shelf.library import Library, StoredPlan, StoredSheet

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class PlanEntry:
    """A plan that can be opened, with how it stands."""

    name: str
    address: str
    part: str
    board: str
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """A part sheet with the faults of its file; it has an address where it can be used."""

    id: str
    name: str
    about: str
    revision: str
    author: str
    address: str
    problems: tuple[Problem, ...]


@router.get("/plans")
def list_plans(request: Request) -> Response:
    """The demo's plans and all part sheets."""
    library: Library = request.app.state.library
    plans = [entry for stored in library.plans().values() if (entry := _plan_entry(library, stored)) is not None]
    sheets = [_sheet_entry(sheet) for sheet in library.sheets().values()]
    return render("plans.html", plans=plans, sheets=sheets)


def _plan_entry(library: Library, stored: StoredPlan) -> PlanEntry | None:
    sheet = library.sheet(sheet_in(stored.raw))
    if sheet is None or sheet.part is None:
        return None
    plan, problems = read_plan(stored.raw, sheet.part)
    if plan is None or problems or unfitted(sheet.part, plan):
        return None
    judgement = judge(sheet.part, plan)
    tight = any(judged.verdict == "tight" for judged in judgement.windows)
    verdict = "outside" if not judgement.legal else "tight" if tight else "inside"
    stops = sum(finding.severity == "stop" for finding in judgement.findings)
    words = f"{judgement.inside} of {len(judgement.windows)} inside" + (f", {stops} to mend" if stops else "")
    address = "/plan?" + urlencode({"plan": permalink_of(plan, sheet.part)})
    board = f"{plan.board_name}, revision {plan.board_revision}" if plan.board_revision else plan.board_name
    return PlanEntry(plan.name, address, sheet.part.name, board, verdict, words)


def _sheet_entry(sheet: StoredSheet) -> SheetEntry:
    part = sheet.part
    address = "/plan?" + urlencode({"part": sheet.id})
    if part is None:
        return SheetEntry(sheet.id, sheet.id, "", "", "", "", sheet.problems)
    return SheetEntry(sheet.id, part.name, part.about, part.revision, part.author, address, sheet.problems)
