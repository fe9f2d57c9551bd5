"""The Shelf page: what have we kept? The list, two plans side by side, the history of one."""

from __future__ import annotations

from urllib.parse import urlencode

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from wheelwork.findings import Problem
from wheelwork.pages.form import read_fields
from wheelwork.pages.keeping import worker_of
from wheelwork.pages.names import PageName
from wheelwork.pages.plan import counters_of, library_of, refuse_kind
from wheelwork.pages.rendering import render
from wheelwork.pages.shelf_together import keep_together, show_together
from wheelwork.pages.shelf_view import PER_PAGE, build_history, build_shelf
from wheelwork.shelf.plans import NotKept, Plans
from wheelwork.shelf.store import ShelfFault

router = APIRouter(include_in_schema=False)
NAME = PageName("Shelf", "/shelf", 7, of_a_plan=False)


def plans_of(request: Request) -> Plans:
    """The kept plans of the running server. Raises ShelfFault where it has no shelf."""
    plans = library_of(request).kept
    if plans is None:
        what, allowed = "this server has no shelf", "start it with a data folder (WHEELWORK_DATA)"
        raise ShelfFault(Problem("shelf", what, allowed), passing=False)
    return plans


@router.get("/shelf")
def show_shelf(request: Request, search: str = "", retired: str = "", page: str = "1") -> Response:
    """The kept plans, the latest first, and those that are ticked side by side."""
    plans, beside = plans_of(request), request.query_params.getlist("beside")[:2]
    number = int(page) if page.isdecimal() and 0 < len(page) < 7 else 1
    view = build_shelf(library_of(request), plans, search[:200], bool(retired), max(number, 1), beside)
    return render("shelf/page.html", 200, page=view, per_page=PER_PAGE, worker=worker_of(request))


@router.get("/shelf/{id}")
def show_history(request: Request, id: str) -> Response:
    """All revisions of a plan, and two of them side by side."""
    plans, beside = plans_of(request), request.query_params.getlist("beside")[:2]
    view = build_history(library_of(request), plans, id, beside)
    return render("shelf/history.html", 200, page=view, worker=worker_of(request))


@router.get("/shelf/{id}/together")
def put_together(request: Request, id: str, plan: str = "") -> Response:
    """Two that were kept at once: what each changed, and which of the two is to stand."""
    return show_together(library_of(request), plans_of(request), id, plan, worker_of(request))


@router.post("/shelf/{id}/together")
async def keep_both(request: Request, id: str) -> Response:
    """Keep what was chosen of both as the next revision, or mine as a plan of its own."""
    refused = refuse_kind(request)
    if refused is not None:
        return refused
    fields, problem = read_fields(await request.body())
    if problem is not None:
        return render("problem.html", 413, problems=[problem], title="This form cannot be read")
    worker, library, plans = worker_of(request), library_of(request), plans_of(request)
    return await to_thread.run_sync(keep_together, library, plans, id, fields, worker, limiter=counters_of(request))


@router.post("/shelf/{id}/retire")
def retire(request: Request, id: str) -> Response:
    """Take a plan off the list; its revisions stay."""
    return _retire(plans_of(request), id, True)


@router.post("/shelf/{id}/bring-back")
def bring_back(request: Request, id: str) -> Response:
    """Put a plan on the list again."""
    return _retire(plans_of(request), id, False)


def _retire(plans: Plans, id: str, retired: bool) -> Response:
    plans.retire(id, retired)
    return RedirectResponse(f"/shelf?{urlencode({'retired': 'yes'})}" if retired else "/shelf", 303)


__all__ = ["NAME", "NotKept", "router"]
