"""The shelf over HTTP: part sheets with their revisions, and what a revision changes for the plans kept on it.

What plans are judged with is listed and shown by `GET /api/parts`, whether it lies in a file or on the shelf.
"""

from __future__ import annotations

from contextlib import closing
from time import monotonic
from typing import Annotated, Any

from fastapi import APIRouter, Body, Header, Path, Query, Request

from wheelwork.api.described import ANSWER, Problems
from wheelwork.api.faults import Json, Refused
from wheelwork.api.kept_described import Differences, NewRevision
from wheelwork.api.routes import REFUSALS, library_of
from wheelwork.api.sheets_described import (
    KeptSheet,
    NewSheet,
    OpenedSheet,
    OvertakenSheet,
    PutInBody,
    ReviseBody,
    SheetEntry,
    Verdicts,
)
from wheelwork.api.shelf import (
    DOWN,
    MOST_REVISION,
    etag,
    keeper_of,
    plans_of,
    read_if_match,
    tell_difference,
    tell_overtaken,
    tell_time,
)
from wheelwork.findings import Problem, quote
from wheelwork.part.reading import LARGEST_SHEET, read_sheet
from wheelwork.part.text import read_toml
from wheelwork.shelf import sheets as kept
from wheelwork.shelf.rejudging import Change, Stand, judge_again
from wheelwork.shelf.revisions import NotKept, id_from
from wheelwork.shelf.sheets import (
    CheckedSheet,
    SheetOvertaken,
    SheetRevision,
    Sheets,
    SheetText,
    Taken,
    check_tables,
    check_text,
    id_problem,
)

router = APIRouter(prefix="/api", tags=["the shelf"])

SECONDS_FOR_VERDICTS = 1.0
Id = Annotated[str, Path(examples=["buoy-16"], max_length=100)]
UNKNOWN: dict[int | str, dict[str, Any]] = {
    404: {"model": Problems, "description": "No such part sheet or revision on the shelf."},
    **DOWN,
}


def sheets_of(request: Request) -> Sheets:
    """The kept sheets of the running server. Raises Refused where it has no shelf."""
    return Sheets(plans_of(request).store)


@router.get("/sheets", response_model=list[SheetEntry], responses=DOWN, response_description=ANSWER)
def list_sheets(request: Request, retired: bool = False) -> Json:
    """The part sheets of the shelf, or those taken off the list; `GET /api/parts` also has those of files."""
    return Json([tell_entry(entry) for entry in sheets_of(request).listed(retired)])


@router.post(
    "/parts",
    status_code=201,
    response_model=NewSheet,
    responses={**REFUSALS, **DOWN, 409: {"model": Problems, "description": "The id is taken."}},
    response_description=ANSWER,
)
def put_sheet_in(body: Annotated[PutInBody, Body()], request: Request) -> Json:
    """Keep a part sheet as the first revision of an id; a faulty one is refused with all its problems."""
    sheets = sheets_of(request)
    checked = _checked(body)
    id = body.id or id_from(checked.part.name, "sheet")
    problem = id_problem(id)
    if problem is not None:
        raise Refused([problem])
    in_a_file = library_of(request).has_file(id)
    if in_a_file and not body.instead_of_file:
        what = f"a sheet {quote(id)} lies in a file of this server"
        allowed = 'give another id, or send "instead_of_file": true to have the shelf\'s go before it'
        raise Refused([Problem("id", what, allowed)], 409)
    try:
        made = sheets.put_in(checked, keeper_of(request, body.kept_by), id)
    except Taken as taken:
        raise Refused([taken.problem], 409) from taken
    answer = Json({"id": made.id, "revision": made.revision, "instead_of_file": in_a_file}, 201)
    answer.headers.update({"Location": f"/api/parts/{made.id}", "ETag": etag(made.revision)})
    return answer


@router.put(
    "/parts/{id}",
    response_model=NewRevision,
    responses={
        **REFUSALS,
        **UNKNOWN,
        412: {"model": OvertakenSheet, "description": "Another revision was kept meanwhile; nothing was written."},
        428: {"model": Problems, "description": "If-Match is missing."},
    },
    response_description=ANSWER,
)
def revise_sheet(
    id: Id, body: Annotated[ReviseBody, Body()], request: Request, if_match: Annotated[str | None, Header()] = None
) -> Json:
    """Keep a part sheet as the revision after the one that was worked on, which `If-Match` names."""
    worked_on = read_if_match(if_match)
    sheets = sheets_of(request)
    checked = _checked(body)
    try:
        made = sheets.revise(id, checked, keeper_of(request, body.kept_by), worked_on)
    except SheetOvertaken as overtaken:
        yours = dict(checked.part.written)
        return tell_overtaken(worked_on, overtaken.present, yours, _tables(overtaken.present))
    except NotKept as fault:
        if not library_of(request).has_file(id):
            raise
        allowed = 'put it in first: POST /api/parts with "instead_of_file": true'
        raise NotKept(Problem("id", f"{quote(id)} lies in a file and is not on the shelf", allowed)) from fault
    answer = Json({"id": made.id, "revision": made.revision})
    answer.headers["ETag"] = etag(made.revision)
    return answer


@router.get("/parts/{id}/revisions", response_model=list[KeptSheet], responses=UNKNOWN, response_description=ANSWER)
def list_sheet_revisions(id: Id, request: Request) -> Json:
    """All revisions of a part sheet without their texts, the latest first."""
    return Json([tell_kept(each) for each in sheets_of(request).revisions(id)])


@router.get("/parts/{id}/revisions/{n}", response_model=OpenedSheet, responses=UNKNOWN, response_description=ANSWER)
def open_sheet_revision(id: Id, n: Annotated[int, Path(ge=1, le=MOST_REVISION)], request: Request) -> Json:
    """One revision of a part sheet, as it was written and as JSON."""
    opened = sheets_of(request).opened(id, n)
    answer = Json({**tell_kept(opened), "sheet": opened.text, "part": _tables(opened)})
    answer.headers["ETag"] = etag(opened.revision)
    return answer


@router.get("/parts/{id}/difference", response_model=Differences, responses=UNKNOWN, response_description=ANSWER)
def compare_sheet_revisions(
    id: Id,
    request: Request,
    earlier: Annotated[int, Query(alias="from", ge=1, le=MOST_REVISION)],
    later: Annotated[int, Query(alias="to", ge=1, le=MOST_REVISION)],
) -> Json:
    """What differs between two revisions of a part sheet."""
    sheets = sheets_of(request)
    return Json(tell_difference(_tables(sheets.opened(id, earlier)), _tables(sheets.opened(id, later))))


@router.get(
    "/parts/{id}/verdicts",
    response_model=Verdicts,
    responses={**UNKNOWN, 422: REFUSALS[422]},
    response_description=ANSWER,
)
def judge_plans_again(
    id: Id,
    request: Request,
    revision: Annotated[int | None, Query(ge=1, le=MOST_REVISION)] = None,
    skip: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
) -> Json:
    """The kept plans on a sheet that stand otherwise with that revision of it, by default its latest."""
    opened, plans = sheets_of(request).opened(id, revision), plans_of(request)
    part, problems = read_sheet(opened.text)
    if part is None:
        raise Refused(problems)
    ends = monotonic() + SECONDS_FOR_VERDICTS
    with closing(plans.on_sheet(id, skip)) as on_sheet:
        changes, looked_at = judge_again(on_sheet, part, lambda: monotonic() < ends)
    left = max(0, plans.count_on_sheet(id) - skip - looked_at)
    told = [_tell_change(change) for change in changes]
    body = {"id": id, "revision": opened.revision, "looked_at": looked_at, "not_looked_at": left, "changes": told}
    return Json(body)


@router.post("/parts/{id}/retire", response_model=SheetEntry, responses=UNKNOWN, response_description=ANSWER)
def retire_sheet(id: Id, request: Request) -> Json:
    """Take a part sheet off the list; its revisions stay, and plans that name it can still be opened."""
    return Json(tell_entry(sheets_of(request).retire(id)))


@router.post("/parts/{id}/bring-back", response_model=SheetEntry, responses=UNKNOWN, response_description=ANSWER)
def bring_sheet_back(id: Id, request: Request) -> Json:
    """Put a part sheet that was taken off the list on it again."""
    return Json(tell_entry(sheets_of(request).retire(id, retired=False)))


def _checked(body: ReviseBody) -> CheckedSheet:
    """The sheet of a body. Raises Refused with all its problems."""
    if (body.sheet is None) == (body.part is None):
        what = "is missing" if body.sheet is None else "stands beside part"
        raise Refused([Problem("sheet", what, "send one of the two: sheet with TOML, or part with JSON")])
    checked, problems = check_tables(body.part) if body.sheet is None else check_text(body.sheet)
    if checked is None:
        raise Refused(problems)
    return checked


def _tables(sheet: SheetText) -> dict[str, Any]:
    """The tables of a kept sheet; none where they cannot be read any more."""
    return read_toml(sheet.text, "sheet", LARGEST_SHEET)[0] or {}


def tell_entry(entry: kept.SheetEntry) -> dict[str, Any]:
    """A sheet of the list, as JSON."""
    return {
        "id": entry.id,
        "name": entry.name,
        "revision": entry.revision,
        "kept_at": tell_time(entry.kept_at),
        "kept_by": entry.kept_by,
        "retired": entry.retired,
    }


def tell_kept(each: SheetRevision) -> dict[str, Any]:
    """A revision without its text, as JSON."""
    return {
        "id": each.id,
        "revision": each.revision,
        "kept_at": tell_time(each.kept_at),
        "kept_by": each.kept_by,
        "hash": each.hash,
    }


def _tell_change(change: Change) -> dict[str, Any]:
    plan = change.plan
    return {
        "id": plan.id,
        "name": str(plan.raw.get("name", "")),
        "revision": plan.revision,
        "sheet_revision": plan.sheet_revision,
        "before": _tell_stand(change.before),
        "after": _tell_stand(change.after),
    }


def _tell_stand(stand: Stand) -> dict[str, Any]:
    problems = [problem.as_json() for problem in stand.problems]
    return {"legal": stand.legal, "inside": stand.inside, "windows": stand.windows, "problems": problems}
