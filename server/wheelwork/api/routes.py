"""The routes of the interface: part sheets, the check of a plan."""

from __future__ import annotations

from time import monotonic
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request

from wheelwork.api.answers import tell_judgement
from wheelwork.api.described import ANSWER, EXAMPLES, CheckBody, Checked, PartEntry, Problems, RawSheet
from wheelwork.api.faults import Json, Refused
from wheelwork.clocks.propagate import unfitted
from wheelwork.find.mends import with_mends
from wheelwork.findings import Problem, name_list, quote
from wheelwork.judge import judge
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan, sheet_in
from wheelwork.shelf.library import Library

router = APIRouter(prefix="/api", tags=["plans and part sheets"])

SECONDS_FOR_MENDS = 0.25


REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": Problems, "description": what}
    for status, what in (
        (400, "The body is no JSON."),
        (413, "The body is too large."),
        (415, "The body is packed, or not sent as JSON."),
        (422, "Problems, each with its place."),
    )
}
NOT_FOUND: dict[int | str, dict[str, Any]] = {404: {"model": Problems, "description": "No such part sheet."}}


def library_of(request: Request) -> Library:
    """The library of the running server."""
    library: Library = request.app.state.library
    return library


@router.get("/parts", response_model=list[PartEntry], response_description=ANSWER)
def list_parts(request: Request) -> Json:
    """The part sheets that can be used, by id; a faulty one is not among them."""
    sheets = library_of(request).sheets().values()
    usable = ((sheet.id, sheet.part) for sheet in sheets if sheet.part is not None)
    return Json([{"id": name, "name": part.name, "about": part.about} for name, part in usable])


@router.get(
    "/parts/{id}",
    responses={**NOT_FOUND, 422: REFUSALS[422]},
    response_model=RawSheet,
    response_description=ANSWER,
)
def show_part(id: Annotated[str, Path(examples=["turnstone-58"])], request: Request) -> Json:
    """A part sheet as it was written, as JSON; of one on the shelf the ETag is the revision."""
    part, revision = _stored(library_of(request), id, "id")
    answer = Json(dict(part.written))
    if revision is not None:
        answer.headers["ETag"] = f'"{revision}"'
    return answer


@router.post("/check", responses=REFUSALS, response_model=Checked, response_description=ANSWER)
def check(body: Annotated[CheckBody, Body(openapi_examples=EXAMPLES)], request: Request) -> Json:
    """Judge a plan: every clock with its verdict, core voltage, wait states, current, findings with tried mends."""
    part, plan = read_body(body.plan, body.part, library_of(request))
    ends = monotonic() + SECONDS_FOR_MENDS
    return Json(tell_judgement(with_mends(judge(part, plan), lambda: monotonic() < ends)))


def read_body(raw_plan: dict[str, Any], raw_part: dict[str, Any] | None, library: Library) -> tuple[Part, Plan]:
    """Part and plan of a request that takes a plan. Raises Refused with all problems."""
    part = inline_part(raw_part) if raw_part is not None else stored_part(library, sheet_in(raw_plan), "plan.part")
    plan, problems = read_plan(raw_plan, part)
    if plan is not None:
        problems = unfitted(part, plan)
    if plan is None or problems:
        raise Refused(problems)
    return part, plan


def inline_part(raw: dict[str, Any]) -> Part:
    """A part from a sheet in the body. Raises Refused with all its problems."""
    part, problems = read_sheet_json(raw)
    if part is None:
        raise Refused(Problem(f"part.{p.where}" if p.where != "part" else p.where, p.what, p.allowed) for p in problems)
    return part


def stored_part(library: Library, name: str, where: str) -> Part:
    """A part of the library. Raises Refused: 404 for a path, 422 for a plan that names an unknown or faulty sheet."""
    return _stored(library, name, where)[0]


def _stored(library: Library, name: str, where: str) -> tuple[Part, int | None]:
    """A part of the library, and its revision where it is one of the shelf."""
    sheet = library.sheet(name)
    status = 404 if where == "id" else 422
    if sheet is None:
        like = library.nearest(name)
        offer = f"did you mean {like}?" if like else f"{name_list(list(library.sheets()))} are on the shelf"
        what = f"{quote(name)} is no part sheet here" if name else "names no part sheet"
        raise Refused([Problem(where, what, offer)], status)
    if sheet.part is None:
        raise Refused(sheet.problems or [Problem(where, f"{quote(name)} is a faulty sheet", "mend it first")], 422)
    return sheet.part, sheet.revision
