"""The shelf over HTTP: kept plans with their revisions. Nothing is ever overwritten."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Body, Header, Path, Query, Request

from wheelwork.api.described import ANSWER, Problems, RawPlan, RawSheet
from wheelwork.api.faults import Json, Refused
from wheelwork.api.kept_described import Differences, KeepBody, Kept, KeptPlan, NewRevision, Overtaken, PlanEntry
from wheelwork.api.routes import REFUSALS, library_of, read_body
from wheelwork.findings import Problem, quote
from wheelwork.judge import judge
from wheelwork.part.nodes import Part
from wheelwork.plan.difference import difference
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import sheet_in
from wheelwork.plan.writing import write_plan
from wheelwork.shelf import plans as kept
from wheelwork.shelf.plans import Entry, Plans, Revision, standing_of
from wheelwork.shelf.sheets import SheetRevision

router = APIRouter(prefix="/api/plans", tags=["the shelf"])

MOST_REVISION = 10**9
RETRY_AFTER = {"Retry-After": "2"}
Id = Annotated[str, Path(examples=["skerry-3"], max_length=100)]
DOWN: dict[int | str, dict[str, Any]] = {503: {"model": Problems, "description": "The shelf does not answer."}}
UNKNOWN: dict[int | str, dict[str, Any]] = {
    404: {"model": Problems, "description": "No such plan or revision."},
    **DOWN,
}


def plans_of(request: Request) -> Plans:
    """The kept plans of the running server. Raises Refused where it has no shelf."""
    store = request.app.state.store
    if store is None:
        what, allowed = "this server has no shelf", "start it with a data folder (WHEELWORK_DATA)"
        raise Refused([Problem("shelf", what, allowed)], 503)
    return Plans(store)


@router.get("", response_model=list[PlanEntry], responses=DOWN, response_description=ANSWER)
def list_plans(
    request: Request,
    search: Annotated[str, Query(max_length=200)] = "",
    retired: bool = False,
    most: Annotated[int | None, Query(ge=1, le=100_000)] = None,
    skip: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
) -> Json:
    """The kept plans, the latest first; those that hold every word of a search; those taken off the list.

    `X-Total-Count` says how many there are, where `most` asks for fewer.
    """
    entries, count = plans_of(request).listed(search, retired, most, skip)
    answer = Json([tell_entry(entry) for entry in entries])
    answer.headers["X-Total-Count"] = str(count)
    return answer


@router.post(
    "", status_code=201, response_model=NewRevision, responses={**REFUSALS, **DOWN}, response_description=ANSWER
)
def keep_plan(body: Annotated[KeepBody, Body()], request: Request) -> Json:
    """Keep a plan as the first revision of one of its own."""
    plans = plans_of(request)
    raw, standing = _judged(body.plan, body.part, request)
    made = plans.keep(raw, keeper_of(request, body.kept_by), standing)
    answer = Json({"id": made.id, "revision": made.revision}, 201)
    answer.headers.update({"Location": f"/api/plans/{made.id}", "ETag": etag(made.revision)})
    return answer


@router.get("/{id}", response_model=KeptPlan, responses=UNKNOWN, response_description=ANSWER)
def open_plan(id: Id, request: Request) -> Json:
    """The latest revision of a plan; its ETag is the revision."""
    return _told(plans_of(request).opened(id))


@router.get("/{id}/revisions", response_model=list[Kept], responses=UNKNOWN, response_description=ANSWER)
def list_revisions(id: Id, request: Request) -> Json:
    """All revisions of a plan without their texts, the latest first."""
    return Json([tell_kept(each) for each in plans_of(request).revisions(id)])


@router.get("/{id}/revisions/{n}", response_model=KeptPlan, responses=UNKNOWN, response_description=ANSWER)
def open_revision(id: Id, n: Annotated[int, Path(ge=1, le=MOST_REVISION)], request: Request) -> Json:
    """One revision of a plan."""
    return _told(plans_of(request).opened(id, n))


@router.put(
    "/{id}",
    response_model=NewRevision,
    responses={
        **REFUSALS,
        **UNKNOWN,
        412: {"model": Overtaken, "description": "Another revision was kept meanwhile; nothing was written."},
        428: {"model": Problems, "description": "If-Match is missing."},
    },
    response_description=ANSWER,
)
def revise_plan(
    id: Id, body: Annotated[KeepBody, Body()], request: Request, if_match: Annotated[str | None, Header()] = None
) -> Json:
    """Keep a plan as the revision after the one that was worked on, which `If-Match` names."""
    worked_on = read_if_match(if_match)
    plans = plans_of(request)
    raw, standing = _judged(body.plan, body.part, request)
    try:
        made = plans.revise(id, raw, keeper_of(request, body.kept_by), standing, worked_on)
    except kept.Overtaken as overtaken:
        return tell_overtaken(worked_on, overtaken.present, raw, dict(overtaken.present.raw))
    answer = Json({"id": made.id, "revision": made.revision})
    answer.headers["ETag"] = etag(made.revision)
    return answer


@router.get("/{id}/difference", response_model=Differences, responses=UNKNOWN, response_description=ANSWER)
def compare_revisions(
    id: Id,
    request: Request,
    earlier: Annotated[int, Query(alias="from", ge=1, le=MOST_REVISION)],
    later: Annotated[int, Query(alias="to", ge=1, le=MOST_REVISION)],
) -> Json:
    """What differs between two revisions of a plan."""
    plans = plans_of(request)
    return Json(tell_difference(plans.opened(id, earlier).raw, plans.opened(id, later).raw))


@router.post("/{id}/retire", response_model=PlanEntry, responses=UNKNOWN, response_description=ANSWER)
def retire_plan(id: Id, request: Request) -> Json:
    """Take a plan off the list; its revisions stay and can be opened."""
    return Json(tell_entry(plans_of(request).retire(id)))


@router.post("/{id}/bring-back", response_model=PlanEntry, responses=UNKNOWN, response_description=ANSWER)
def bring_plan_back(id: Id, request: Request) -> Json:
    """Put a plan that was taken off the list on it again."""
    return Json(tell_entry(plans_of(request).retire(id, retired=False)))


def keeper_of(request: Request, given: str) -> str:
    """Who keeps: the user that a trusted proxy names, else the name that was given."""
    return getattr(request.state, "user", "") or given


def _judged(raw_plan: RawPlan, raw_part: RawSheet | None, request: Request) -> tuple[dict[str, Any], kept.Standing]:
    """A plan as it is kept, and how it stands. Raises Refused with its problems."""
    part, plan = read_body(raw_plan, raw_part, library_of(request))
    return written_plan(plan, part, raw_plan), _standing(part, plan, raw_part is None, raw_plan, request)


def written_plan(plan: Plan, part: Part, raw: RawPlan) -> dict[str, Any]:
    """A plan as it is kept: with every value as we write it, on the sheet that it names."""
    return {**write_plan(replace(plan, kept=""), part), "part": sheet_in(raw) or part.name}


def _standing(part: Part, plan: Plan, stored: bool, raw: RawPlan, request: Request) -> kept.Standing:
    library = library_of(request)
    sheet = library.sheet(sheet_in(raw)) if stored else None
    revision = None if sheet is None else sheet.revision
    return standing_of(judge(part, plan), revision)


def read_if_match(if_match: str | None) -> int:
    """The revision that If-Match names. Raises Refused: 428 without it, 422 for what is none."""
    example = 'send If-Match: "3" with the revision that was worked on'
    if if_match is None:
        raise Refused([Problem("If-Match", "is missing", example)], 428)
    text = if_match.strip().removeprefix("W/").strip('"')
    if not text.isdecimal() or not 1 <= len(text) <= 9:
        raise Refused([Problem("If-Match", f"{quote(if_match)} is no revision", example)])
    return int(text)


def tell_overtaken(worked_on: int, present: Revision | SheetRevision, yours: Any, theirs: Any) -> Json:
    """What to keep on another revision than the latest is answered with: both texts, and how they differ."""
    what = f"{present.kept_by} kept revision {present.revision} meanwhile; you worked on revision {worked_on}"
    problem = Problem("If-Match", what, f'put the two together, then keep with If-Match: "{present.revision}"')
    body = {
        "problems": [problem.as_json()],
        "yours": yours,
        "theirs": theirs,
        "difference": tell_difference(theirs, yours),
    }
    answer = Json(body, 412)
    answer.headers["ETag"] = etag(present.revision)
    return answer


def tell_difference(before: Any, after: Any) -> dict[str, Any]:
    """Two plans beside each other, as JSON."""
    differs, same = difference(before, after)
    return {"differs": [{"where": d.where, "from": d.before, "to": d.after} for d in differs], "same": same}


def tell_entry(entry: Entry) -> dict[str, Any]:
    """A plan of the list, as JSON."""
    return {
        "id": entry.id,
        "name": entry.name,
        "part": entry.part,
        "revision": entry.revision,
        "kept_at": tell_time(entry.kept_at),
        "kept_by": entry.kept_by,
        "legal": entry.legal,
        "retired": entry.retired,
    }


def tell_kept(each: Revision) -> dict[str, Any]:
    """A revision without its text, as JSON."""
    return {
        "id": each.id,
        "revision": each.revision,
        "kept_at": tell_time(each.kept_at),
        "kept_by": each.kept_by,
        "legal": each.legal,
        "sheet_revision": each.sheet_revision,
        "sheet_hash": each.sheet_hash,
    }


def _told(revision: Revision) -> Json:
    answer = Json({**tell_kept(revision), "plan": dict(revision.raw)})
    answer.headers["ETag"] = etag(revision.revision)
    return answer


def tell_time(seconds: float) -> str:
    """A time as RFC 3339 has it, in whole seconds of UTC.

    >>> tell_time(0.9)
    '1970-01-01T00:00:00Z'
    """
    return datetime.fromtimestamp(int(seconds), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def etag(revision: int) -> str:
    """A revision as an entity tag (RFC 9110, section 8.8.3)."""
    return f'"{revision}"'
