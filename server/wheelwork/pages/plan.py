"""The Plan page: where does each clock stand?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from time import monotonic
from typing import Any
from urllib.parse import urlencode

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from wheelwork.find.mends import Mends, offer_mends, seek_mends
from wheelwork.findings import Problem, quote
from wheelwork.judge import Judgement, judge
from wheelwork.pages.before import put_before, take_before
from wheelwork.pages.changes import differing
from wheelwork.pages.form import fresh_plan, read_fields, read_form, without_resets
from wheelwork.pages.keeping import Worker, try_keeping, typed_worker, view_kept, worker_of
from wheelwork.pages.kept import Kept
from wheelwork.pages.names import PageName
from wheelwork.pages.opened import Opened, open_link, open_raw
from wheelwork.pages.plan_view import Asked, PlanPage, build_page
from wheelwork.pages.rendering import render, wants_fragment
from wheelwork.pages.said import say_answer, say_changed
from wheelwork.part.nodes import Part
from wheelwork.part.outline import outline_of
from wheelwork.plan.permalink import write_permalink
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import sheet_in
from wheelwork.plan.writing import write_plan
from wheelwork.shelf.library import Library

router = APIRouter(include_in_schema=False)
NAME = PageName("Plan", "/plan", 1)

SECONDS_FOR_MENDS = 0.2
FORM = "application/x-www-form-urlencoded"
COUNTS_AT_ONCE = 2
MOST_OPEN = 40
MOST_MENDS_KEPT = 500

Fields = Mapping[str, str]


@router.get("/")
def first_page(request: Request) -> Response:
    """The demo's first plan with something to mend, so that a first visit shows what the page is for."""
    library = library_of(request)
    first = first_judgement(library)
    if first is None:
        problem = Problem("plans", "none is here", "open a part sheet")
        return render("problem.html", 404, problems=[problem], title="No plan")
    return _show(library, first, Asked(worker=worker_of(request)))


def first_judgement(library: Library) -> Judgement | None:
    """The demo's first plan with something to mend, else its first; None where there is none."""
    opened = [open_raw(library, stored.raw) for stored in library.plans().values()]
    judged = [judge(each.part, each.plan) for each in opened if each.part is not None and each.plan is not None]
    return next((judgement for judgement in judged if not judgement.legal), judged[0] if judged else None)


@router.get("/plan")
def open_plan(request: Request, plan: str | None = None, part: str | None = None) -> Response:
    """A plan from its address, or a first plan on a part sheet; the demo's where neither is named."""
    if plan is None and part is None:
        return first_page(request)
    library = library_of(request)
    if plan is None and part is not None:
        sheet = library.sheet(part)
        if sheet is None or sheet.part is None:
            return _unknown_sheet(library, part, {})
        fresh = judge(sheet.part, fresh_plan(sheet.part, sheet.id))
        return _show(library, fresh, Asked(worker=worker_of(request)))
    opened = open_link(library, plan or "")
    if opened.part is None or opened.plan is None:
        return show_unopened(library, opened, "This address opens no plan")
    return _show(library, judge(opened.part, opened.plan), Asked(worker=worker_of(request)))


@router.post("/plan")
async def count_plan(request: Request) -> Response:
    """The page after a change: the whole of it, or for htmx what stands inside the form."""
    refused = refuse_kind(request)
    if refused is not None:
        return refused
    body = await request.body()
    fragment = wants_fragment(request)
    worker = worker_of(request)
    return await to_thread.run_sync(_count, library_of(request), body, fragment, worker, limiter=counters_of(request))


def refuse_kind(request: Request) -> Response | None:
    """The refusal of a form that is sent as something else than a form."""
    kind = request.headers.get("content-type", FORM).partition(";")[0].strip().lower()
    if kind == FORM:
        return None
    problem = Problem("form", f"it is sent as {quote(kind)}", f"send it as {FORM}")
    return render("problem.html", 415, problems=[problem], title="This form cannot be read")


def counters_of(request: Request) -> CapacityLimiter:
    """At most two counts at a time in a worker: more would only share one core, and all come late."""
    state = request.app.state
    if not hasattr(state, "counters"):
        state.counters = CapacityLimiter(COUNTS_AT_ONCE)
    limiter: CapacityLimiter = state.counters
    return limiter


def _count(library: Library, body: bytes, fragment: bool, worker: Worker) -> Response:
    fields, problem = read_fields(body)
    if problem is not None:
        return render("problem.html", 413, problems=[problem], title="This form cannot be read")
    worker = typed_worker(fields, worker)
    link = fields.pop("plan", "")
    opened = open_link(library, link)
    if opened.part is None or opened.plan is None:
        return (
            leave_to_plan({"plan": link}) if fragment else show_unopened(library, opened, "This form has lost its plan")
        )
    if "back" in fields and fields.get("before", "").strip():
        return _take_back(library, opened, fields, fragment, worker)
    if fields.get("part", opened.plan.part) != opened.plan.part:
        before = put_before(fields.get("before", ""), link)
        return _other_sheet(library, fields["part"], opened.plan, before, fragment, worker)
    return _answer(library, opened.part, opened.plan, link, fields, fragment, worker)


def leave_to_plan(query: Mapping[str, str]) -> Response:
    """Sends htmx to the page that says why a plan cannot be counted: its sheet may have changed or gone meanwhile."""
    return Response(status_code=204, headers={"HX-Redirect": "/plan?" + urlencode(query)})


def show_unopened(library: Library, opened: Opened, title: str) -> Response:
    """Why a plan cannot be opened: a broken address, a sheet that is not here, settings that do not suit it."""
    if opened.raw is None:
        return render("problem.html", 400, problems=opened.problems, title=title)
    if opened.part is None:
        return _unknown_sheet(library, sheet_in(opened.raw), opened.raw)
    return render("problem.html", 422, problems=opened.problems, title="This plan does not suit its part sheet")


def _answer(
    library: Library,
    part: Part,
    before: Plan,
    link: str,
    fields: dict[str, str],
    fragment: bool,
    worker: Worker,
) -> Response:
    """Judge the form's plan, which started from the one before, and show it, or keep it where that is asked."""
    acts = dict(acts_of(fields.pop("mend", "")))
    read = read_form(part, before, {**fields, **acts})
    fault = None
    if "keep" in fields and not read.problems:
        kept, fault = try_keeping(library, part, read.plan, worker[0], permalink_of(read.plan, part), fragment)
        if kept is not None:
            return kept
    changed = differing(part, before, read.plan)
    asked = Asked(
        open=toggled(fields),
        wishes={name.removeprefix("wish."): text for name, text in fields.items() if name.startswith("wish.") and text},
        faults=read.faults,
        problems=read.problems,
        opened=fields.get("opened", ""),
        before=put_before(fields.get("before", ""), link) if changed else fields.get("before", ""),
        changes=count_changes(library, part, read.plan, fields.get("opened", "")),
        focus=next(iter(acts), ""),
        heard=_heard(fields),
        worker=worker,
        shelf_fault=fault,
    )
    judgement = judge(part, read.plan)
    return _show(library, judgement, asked, fragment, say_answer(judgement, changed, read))


def _take_back(library: Library, present: Opened, fields: Fields, fragment: bool, worker: Worker) -> Response:
    """The plan that stood before the last change, with those that stood before it."""
    link, earlier = take_before(fields["before"])
    last = open_link(library, link)
    if last.part is None or last.plan is None or present.plan is None:
        return (
            leave_to_plan({"plan": link})
            if fragment
            else show_unopened(library, last, "What stood before cannot be opened")
        )
    same = present.part is last.part
    changed = differing(last.part, present.plan, last.plan) if same else ["part"]
    opened = fields.get("opened", "") if same else link
    asked = Asked(
        open=toggled(fields),
        opened=opened,
        before=earlier,
        changes=count_changes(library, last.part, last.plan, opened),
        focus="" if earlier else next(iter(changed), ""),
        worker=worker,
    )
    judgement = judge(last.part, last.plan)
    return _show(library, judgement, asked, fragment, f"Taken back. {say_changed(judgement, changed)}")


def count_changes(library: Library, part: Part, plan: Plan, opened: str) -> int:
    """In how many places the plan differs from the one the page was opened with; another sheet is one change."""
    first = open_link(library, opened) if opened else None
    if first is None or first.plan is None or first.part is None:
        return 0
    return len(differing(part, first.plan, plan)) if first.part is part else 1


def _show(library: Library, judgement: Judgement, asked: Asked, fragment: bool = False, said: str = "") -> HTMLResponse:
    """The page of a plan, or its fragment with the address that carries it."""
    link = permalink_of(judgement.plan, judgement.part)
    sheets = {sheet.id: sheet.part.name for sheet in library.sheets().values() if sheet.part is not None}
    stored = library.sheet(judgement.plan.part)
    if stored is not None and stored.problems:
        asked = replace(asked, sheet_problems=stored.problems)
    page: PlanPage = build_page(add_mends(judgement, link), link, sheets, asked)
    said = said or page.said
    kept = view_kept(library, judgement.part, judgement.plan, asked.worker, asked.changes, asked.shelf_fault)
    headers = {"HX-Replace-Url": "/plan?" + urlencode({"plan": link})} if fragment else None
    template = "plan/_form.html" if fragment else "plan/page.html"
    return render(template, 200, headers, page=page, said=said, fragment=fragment, kept=kept)


_MENDS: Kept[Mends] = Kept(MOST_MENDS_KEPT)


def add_mends(judgement: Judgement, link: str) -> Judgement:
    """The judgement with its mends; those of a plan that was asked before are kept, for the same answer at once."""
    if judgement.legal:
        return judgement
    key = (outline_of(judgement.part), link)
    known = _MENDS.find(key)
    if known is not None:
        return offer_mends(judgement, known)
    ends = monotonic() + SECONDS_FOR_MENDS
    mends = seek_mends(judgement, lambda: monotonic() < ends)
    if mends.finished:
        _MENDS.keep(key, mends)
    return offer_mends(judgement, mends)


def permalink_of(plan: Plan, part: Part) -> str:
    """The text that carries a plan in its address; settings that only repeat reset values are left out."""
    return write_permalink(write_plan(without_resets(plan, part), part))


def library_of(request: Request) -> Library:
    """The sheets and plans of the application that is asked."""
    library: Library = request.app.state.library
    return library


def acts_of(mend: str) -> Iterator[tuple[str, str]]:
    """The fields that a mend's button sets: `set.main_converter=9;core_voltage=full`."""
    for act in mend[:1000].split(";"):
        name, _, value = act.partition("=")
        if name.startswith("set.") or name in ("core_voltage", "wait_states"):
            yield name, value


def toggled(fields: Fields) -> tuple[str, ...]:
    """The open drawers after a click on one of the `=` buttons; asking in a drawer keeps it open."""
    opened = dict.fromkeys(fields.get("open", "").split()[:MOST_OPEN])
    toggle = fields.get("toggle", "")
    if toggle in opened:
        del opened[toggle]
    elif toggle:
        opened[toggle] = None
    return tuple(opened)


def _heard(fields: Fields) -> str:
    """The row whose drawer was asked for something: by its button, or by Enter in the only wish there is."""
    wishes = [name.removeprefix("wish.") for name, text in fields.items() if name.startswith("wish.") and text]
    alone = wishes[0] if len(wishes) == 1 and "toggle" not in fields else ""
    return fields.get("ask", alone)


def _other_sheet(library: Library, name: str, plan: Plan, before: str, fragment: bool, worker: Worker) -> Response:
    """A first plan on another sheet; the plan one was at is kept as what can be taken back."""
    sheet = library.sheet(name)
    if sheet is None or sheet.part is None:
        return leave_to_plan({"part": name[:200]}) if fragment else _unknown_sheet(library, name, {})
    asked = Asked(before=before, changes=1, worker=worker)
    return _show(
        library,
        judge(sheet.part, fresh_plan(sheet.part, sheet.id, plan)),
        asked,
        fragment,
        f"A first plan on {sheet.part.name}.",
    )


def _unknown_sheet(library: Library, name: str, raw: Mapping[str, Any]) -> Response:
    """A plan whose part sheet is not here, or is faulty: shown for reading only, the nearest sheet offered."""
    sheet = library.sheet(name)
    problems = () if sheet is None else sheet.problems
    title = f"No part sheet {quote(name)}" if not problems else f"The part sheet {quote(name)} is faulty"
    offer = _nearest_sheet(library, name, raw)
    return render("plan/unknown.html", 404, title=title, name=name, raw=raw, offer=offer, problems=problems)


def _nearest_sheet(library: Library, name: str, raw: Mapping[str, Any]) -> tuple[str, str] | None:
    """The name of the sheet most like a name that is not here, and the address that opens the plan with it."""
    like = library.nearest(name)
    near = library.sheet(like) if like is not None else None
    if near is None or near.part is None:
        return None
    query = {"plan": write_permalink({**raw, "part": near.id})} if raw else {"part": near.id}
    return near.part.name, "/plan?" + urlencode(query)
