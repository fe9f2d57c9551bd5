"""The routes of the search: ask, look again, stop. A search runs aside; who asks waits a moment and may come again."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Mapping
from time import monotonic
from typing import Annotated, Any

from fastapi import APIRouter, Body, Header, Path, Request
from fastapi.concurrency import run_in_threadpool

from wheelwork.api.described import ANSWER, Problems
from wheelwork.api.faults import Json, Refused, refuse
from wheelwork.api.found import tell_answer, tell_progress
from wheelwork.api.found_described import FIND_EXAMPLES, Found, RawFind, Running
from wheelwork.api.routes import REFUSALS, inline_part, library_of, stored_part
from wheelwork.find.asking import MOST_SECONDS, Asked, read_asked
from wheelwork.find.question import Answer, Question
from wheelwork.findings import Problem, quote
from wheelwork.part.nodes import Part
from wheelwork.plan.reading import read_plan, sheet_in
from wheelwork.searches import Full, Search, Searches
from wheelwork.shelf.library import Library

router = APIRouter(prefix="/api/find", tags=["search"])

SECONDS_TO_WAIT = 2.0
SECONDS_TO_STOP = 5.0
LONGEST_HEADER = 200

_WAIT = re.compile(r"(?:^|[,;\s])wait\s*=\s*\"?(\d{1,6})\b", re.I)
_AT_ONCE = re.compile(r"(?:^|[,;\s])respond-async(?:$|[,;\s])", re.I)

_RUNNING: dict[int | str, dict[str, Any]] = {
    202: {
        "model": Running,
        "description": "The search goes on; its address is in Location.",
        "headers": {"Location": {"schema": {"type": "string"}}, "Retry-After": {"schema": {"type": "integer"}}},
    }
}
_LOST: dict[int | str, dict[str, Any]] = {500: {"model": Problems, "description": "The search was lost, and why."}}
_FULL: dict[int | str, dict[str, Any]] = {503: {"model": Problems, "description": "Too many searches wait in turn."}}
_GONE: dict[int | str, dict[str, Any]] = {404: {"model": Problems, "description": "No such search, or none any more."}}

SearchId = Annotated[str, Path(description="The last part of a search's address.", examples=["k3JYxw1Qb0fZ7a5c"])]
Wish = Annotated[str | None, Header(alias="Prefer", description="`wait=20` waits longer, `respond-async` not at all.")]


@router.post(
    "",
    responses={**REFUSALS, **_RUNNING, **_LOST, **_FULL},
    response_model=Found,
    response_description=ANSWER,
)
async def find(
    body: Annotated[RawFind, Body(openapi_examples=FIND_EXAMPLES)], request: Request, wish: Wish = None
) -> Json:
    """Search every setting: how many meet the targets, the best of them, or what is to blame where none does.

    The answer comes within 2 seconds (or as long as a header `Prefer: wait=…` allows), or else an address at which to
    ask for it.
    """
    searches = searches_of(request)
    question, asked = await run_in_threadpool(read_find, body, library_of(request))
    try:
        id = searches.start(question, asked.seconds, asked.crystal)
    except Full as full:
        return _after(1, refuse([full.problem], 503))
    return await _tell(searches, id, _seconds_in(wish, SECONDS_TO_WAIT))


@router.get(
    "/{id}",
    responses={422: REFUSALS[422], **_RUNNING, **_GONE, **_LOST},
    response_model=Found,
    response_description=ANSWER,
)
async def show_search(id: SearchId, request: Request, wish: Wish = None) -> Json:
    """The answer of a search, or how far it is."""
    return await _tell(searches_of(request), id, _seconds_in(wish, 0.0))


@router.delete(
    "/{id}",
    responses={422: REFUSALS[422], **_RUNNING, **_GONE, **_LOST},
    response_model=Found,
    response_description="What was found.",
)
async def stop_search(id: SearchId, request: Request) -> Json:
    """Stop a search and keep what it has found; its address goes on giving that."""
    searches = searches_of(request)
    searches.stop(id)
    return await _tell(searches, id, SECONDS_TO_STOP)


def searches_of(request: Request) -> Searches:
    """The searches of the running server."""
    searches: Searches = request.app.state.searches
    return searches


def read_find(body: Mapping[str, Any], library: Library) -> tuple[Question, Asked]:
    """What a body asks. Raises Refused with all problems; those of plan and wishes are told together."""
    part = _part_in(body, library)
    asked, problems = read_asked({key: value for key, value in body.items() if key not in ("plan", "part")}, part)
    plan, more = read_plan(body["plan"], part)
    if plan is None or asked is None:
        raise Refused([*more, *problems])
    return asked.of(part, plan), asked


def _part_in(body: Mapping[str, Any], library: Library) -> Part:
    plan, sheet = body.get("plan"), body.get("part")
    if not isinstance(plan, dict):
        what = f"{quote(plan)} is no table" if "plan" in body else "is missing"
        raise Refused([Problem("plan", what, 'the body has plan, such as {"plan": {"part": "turnstone-58"}}')])
    if sheet is None:
        return stored_part(library, sheet_in(plan), "plan.part")
    if not isinstance(sheet, dict):
        raise Refused([Problem("part", f"{quote(sheet)} is no table", "a whole sheet stands here, or nothing")])
    return inline_part(sheet)


def _seconds_in(wish: str | None, usual: float) -> float:
    """How long to wait, by a header Prefer (RFC 7240, sections 4.1 and 4.3); what it has besides is left aside."""
    text = (wish or "")[:LONGEST_HEADER]
    found = _WAIT.search(text)
    if found is not None:
        return float(min(int(found[1]), MOST_SECONDS))
    return 0.0 if _AT_ONCE.search(text) else usual


async def _tell(searches: Searches, id: str, seconds: float) -> Json:
    """The answer of a search that is over within so many seconds, else where it stands."""
    search = await _look(searches, id, seconds)
    if search is None:
        return refuse(
            [Problem("id", f"{quote(id)} is no search here", "answers are kept for 15 minutes; ask anew")], 404
        )
    if search.state == "failed":
        return refuse([Problem("search", search.why, "ask again, for less: fewer targets, or count false")], 500)
    if not search.settled:
        return _tell_running(search)
    return await run_in_threadpool(_tell_over, search)


async def _look(searches: Searches, id: str, seconds: float) -> Search | None:
    """A search as soon as it is over, after so many seconds at the latest; no thread waits for it."""
    ends, pause = monotonic() + seconds, 0.002
    while (search := searches.look(id)) is not None and not search.settled and (left := ends - monotonic()) > 0:
        await asyncio.sleep(min(pause, left))
        pause = min(pause * 1.5, 0.05)
    return search


def _tell_running(search: Search) -> Json:
    address = f"/api/find/{search.id}"
    told = {
        "search": address,
        "state": search.state,
        "seconds": round(search.seconds, 3),
        "limit": search.limit,
        "progress": tell_progress(search.progress),
    }
    answer = Json(told, 202)
    answer.headers["Location"] = address
    return _after(1, answer)


def _tell_over(search: Search) -> Json:
    from wheelwork.find.answering import FullAnswer

    full = search.answer or FullAnswer(Answer(question=search.question, fits=None, complete=False))
    return Json(tell_answer(full, search.crystal is not None))


def _after(seconds: int, answer: Json) -> Json:
    answer.headers["Retry-After"] = str(seconds)
    return answer
