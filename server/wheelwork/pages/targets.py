"""The Targets page: which settings would give me this?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import urlencode

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from wheelwork.find.asking import USUAL_SECONDS
from wheelwork.findings import Problem
from wheelwork.pages.form import read_fields
from wheelwork.pages.names import PageName
from wheelwork.pages.opened import Opened, open_link
from wheelwork.pages.plan import first_judgement, first_page, library_of, permalink_of, refuse_kind, show_unopened
from wheelwork.pages.rendering import render, wants_fragment
from wheelwork.pages.targets_form import (
    TargetsRead,
    Wishes,
    read_targets_form,
    read_targets_of,
    read_wishes,
    row_numbers,
)
from wheelwork.pages.targets_found import Address, Found, address_of, view_search
from wheelwork.pages.targets_list import write_list
from wheelwork.pages.targets_view import build_targets, next_clock
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.searches import Full, Searches
from wheelwork.shelf.library import Library

router = APIRouter(include_in_schema=False)
NAME = PageName("Targets", "/targets", 2)

SECONDS_AT_ONCE = 1.5
"""So long an answer waits for a search, so that a quick one comes without a look at its progress."""

Fields = dict[str, str]
NOT_KEPT = Found(
    "gone",
    "",
    "This search is not kept any more",
    "Answers are kept for a quarter of an hour. Searching again gives the same one.",
)


@router.get("/targets")
def open_targets(request: Request, plan: str | None = None) -> Response:
    """The page of a plan from its address, with the search that the address names; the demo's plan without one."""
    library = library_of(request)
    if plan is None:
        first = first_judgement(library)
        if first is None:
            return first_page(request)
        return RedirectResponse(f"/targets?{urlencode({'plan': permalink_of(first.plan, first.part)})}", 303)
    opened = _open(library, plan)
    if opened.part is None or opened.plan is None:
        return show_unopened(library, opened, "This address opens no plan")
    read = read_targets_of(opened.part, opened.plan, read_wishes(request.query_params))
    return _show(opened.part, read, _found(request, read, opened.part, request.query_params))


@router.get("/targets/found")
def look_again(request: Request, plan: str = "") -> Response:
    """The right side of the page alone: how far a search is, or what it found."""
    opened = _open(library_of(request), plan)
    if opened.part is None or opened.plan is None:
        return Response(status_code=204, headers={"HX-Redirect": "/targets?" + urlencode({"plan": plan})})
    read = read_targets_of(opened.part, opened.plan, read_wishes(request.query_params))
    found = _found(request, read, opened.part, request.query_params)
    page = build_targets(read, opened.part, _link_of(opened.part), found)
    return render("targets/_look.html", 200, page=page)


@router.get("/targets/list.csv")
def keep_list(request: Request, search: str = "") -> Response:
    """The settings that a search listed, as CSV."""
    found = searches_of(request).look(search)
    if found is None or found.answer is None:
        problem = Problem("search", "it is not kept any more", "search again, then keep the list")
        return render("problem.html", 404, problems=[problem], title="This list is not kept any more")
    headers = {"Content-Disposition": 'attachment; filename="settings.csv"'}
    return Response(write_list(found.answer.answer), media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/targets")
async def ask_targets(request: Request) -> Response:
    """The page after one of its buttons: searching, a row more or less, all cleared, a search stopped."""
    refused = refuse_kind(request)
    if refused is not None:
        return refused
    body = await request.body()
    return await to_thread.run_sync(_answer, request, body)


def _answer(request: Request, body: bytes) -> Response:
    fields, problem = read_fields(body)
    if problem is not None:
        return render("problem.html", 413, problems=[problem], title="This form cannot be read")
    link = fields.get("instead") or fields.get("plan", "")
    opened = _open(library_of(request), link)
    if opened.part is None or opened.plan is None:
        if wants_fragment(request):
            return Response(status_code=204, headers={"HX-Redirect": "/targets?" + urlencode({"plan": link})})
        return show_unopened(library_of(request), opened, "This form has lost its plan")
    return _act(request, opened.part, opened.plan, fields)


def _act(request: Request, part: Part, plan: Plan, fields: Fields) -> Response:
    """What the button asked for; any other way to send the form searches."""
    if "instead" in fields:
        return _search(request, part, read_targets_of(part, plan, read_wishes(fields)))
    if "stop" in fields:
        searches = searches_of(request)
        searches.stop(fields["stop"])
        searches.wait(fields["stop"], SECONDS_AT_ONCE)
        return _lead(request, part, read_targets_form(part, plan, fields), fields["stop"])
    if "clear" in fields:
        empty = read_targets_of(part, replace(plan, targets=(), held=()), Wishes())
        return _show(part, empty, Found("nothing", said="Cleared."), fragment=wants_fragment(request))
    if "add" in fields or "drop" in fields:
        focus = _change_rows(part, plan, fields)
        read = replace(read_targets_form(part, plan, fields), problems=())
        found = _found(request, read, part, fields)
        return _show(part, read, replace(found, said=""), focus, wants_fragment(request))
    return _search(request, part, read_targets_form(part, plan, fields))


def _change_rows(part: Part, plan: Plan, fields: Fields) -> str:
    """Add a row to the form's fields, or take one out; the field to go to."""
    numbers = row_numbers(fields)
    if "drop" in fields:
        for what in ("node", "wanted", "within"):
            fields.pop(f"target.{fields['drop']}.{what}", None)
        return "add"
    taken = [fields.get(f"target.{number}.node", "") for number in numbers]
    fields[f"target.{max(numbers, default=-1) + 1}.node"] = next_clock(part, plan, taken)
    return f"target.{len(numbers)}.wanted"


def _search(request: Request, part: Part, read: TargetsRead) -> Response:
    """Begin a search and wait a little for it; a form that cannot be taken is shown with what is wrong."""
    fragment = wants_fragment(request)
    if read.problems or read.asked is None:
        return _show(part, read, Found("faulty", said=_say_problems(read)), read.problems[0].where, fragment)
    searches = searches_of(request)
    try:
        search = searches.start(read.asked.of(part, read.plan), USUAL_SECONDS, read.asked.crystal)
    except Full as full:
        found = Found("full", "", "Not searched", f"{full.problem.what.capitalize()}; {full.problem.allowed}.")
        return _show(part, read, found, fragment=fragment)
    searches.wait(search, SECONDS_AT_ONCE)
    return _lead(request, part, read, search)


def _lead(request: Request, part: Part, read: TargetsRead, search: str) -> Response:
    """To the address of a search: by itself without script, else the page's form with the address it now has."""
    address = address_of(_link_of(part)(read.plan), read.wishes, search)
    if not wants_fragment(request):
        return RedirectResponse(f"{address}#found", 303)
    found = _found(request, read, part, {"search": search})
    return _show(part, read, found, "found", fragment=True, address=address)


def _say_problems(read: TargetsRead) -> str:
    first = read.problems[0]
    more = f" and {len(read.problems) - 1} more" if len(read.problems) > 1 else ""
    return f"Not searched: {first.what}; {first.allowed}{more}."


def _found(request: Request, read: TargetsRead, part: Part, fields: Mapping[str, str]) -> Found:
    """The right side for the search that a form or an address names."""
    name = fields.get("search", "")
    if not name:
        return Found("nothing")
    search = searches_of(request).look(name)
    if search is None:
        return NOT_KEPT
    return view_search(search, read, _link_of(part), fields.get("all") == "yes")


def _show(
    part: Part, read: TargetsRead, found: Found, focus: str = "", fragment: bool = False, address: str = ""
) -> Response:
    page = build_targets(read, part, _link_of(part), found, focus)
    headers = {"HX-Push-Url": address} if address else None
    return render("targets/_form.html" if fragment else "targets/page.html", 200, headers, page=page, fragment=fragment)


def _link_of(part: Part) -> Address:
    return lambda plan: permalink_of(plan, part)


def _open(library: Library, link: str) -> Opened:
    """The plan of an address; an oscillator that is left open is no hindrance to a search."""
    opened = open_link(library, link)
    if opened.plan is not None or opened.part is None or opened.raw is None:
        return opened
    plan, problems = read_plan(opened.raw, opened.part)
    return opened if plan is None else replace(opened, plan=plan, problems=problems)


def searches_of(request: Request) -> Searches:
    """The searches that run aside for the application that is asked."""
    searches: Searches = request.app.state.searches
    return searches
