"""The Charge page: how long does the battery last?"""

from __future__ import annotations

from urllib.parse import urlencode

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from wheelwork.findings import Problem
from wheelwork.judge import Judgement, judge
from wheelwork.pages.before import put_before, take_before
from wheelwork.pages.changes import differing
from wheelwork.pages.charge_form import add_phase, drop_phase, read_charge_form
from wheelwork.pages.charge_view import NOTHING, Wanted, build_charge, say_sum
from wheelwork.pages.form import read_fields
from wheelwork.pages.keeping import Worker, lead_to, try_keeping, typed_worker, view_kept, worker_of
from wheelwork.pages.names import PageName
from wheelwork.pages.opened import open_link
from wheelwork.pages.plan import (
    count_changes,
    counters_of,
    first_judgement,
    first_page,
    library_of,
    permalink_of,
    refuse_kind,
    show_unopened,
)
from wheelwork.pages.rendering import render, wants_fragment
from wheelwork.shelf.library import Library

router = APIRouter(include_in_schema=False)
NAME = PageName("Charge", "/charge", 4)
Fields = dict[str, str]


@router.get("/charge")
def open_charge(request: Request, plan: str | None = None) -> Response:
    """The charge of a plan from its address; that of the demo's plan without one."""
    library = library_of(request)
    if plan is None:
        first = first_judgement(library)
        if first is None:
            return first_page(request)
        return RedirectResponse(f"/charge?{urlencode({'plan': permalink_of(first.plan, first.part)})}", 303)
    opened = open_link(library, plan)
    if opened.part is None or opened.plan is None:
        return show_unopened(library, opened, "This address opens no plan")
    return _show(library, judge(opened.part, opened.plan), NOTHING, worker_of(request))


@router.post("/charge")
async def change_charge(request: Request) -> Response:
    """The page after a change of a phase, of the battery, or one of its buttons."""
    refused = refuse_kind(request)
    if refused is not None:
        return refused
    body, fragment, worker = await request.body(), wants_fragment(request), worker_of(request)
    return await to_thread.run_sync(_count, library_of(request), body, fragment, worker, limiter=counters_of(request))


def _count(library: Library, body: bytes, fragment: bool, worker: Worker) -> Response:
    fields, problem = read_fields(body)
    if problem is not None:
        return render("problem.html", 413, problems=[problem], title="This form cannot be read")
    worker, link = typed_worker(fields, worker), fields.get("plan", "")
    if "back" in fields and fields.get("before", "").strip():
        link, fields["before"] = take_before(fields["before"])
        fields = {key: value for key, value in fields.items() if key in ("before", "opened")}
    opened = open_link(library, link)
    if opened.part is None or opened.plan is None:
        if fragment:
            return lead_to("/charge?" + urlencode({"plan": link}), fragment)
        return show_unopened(library, opened, "This form has lost its plan")
    part, before = opened.part, opened.plan
    read = read_charge_form(part, before, fields)
    plan, focus, fault = read.plan, "", None
    if "add" in fields:
        plan = add_phase(part, plan)
        focus = f"phase.{len(plan.phases) - 1}.name"
    elif fields.get("drop", "").isdecimal() and len(fields["drop"]) < 4:
        plan, focus = drop_phase(part, plan, int(fields["drop"])), "add"
    if "keep" in fields and not read.told:
        kept, fault = try_keeping(library, part, plan, worker[0], permalink_of(plan, part), fragment)
        if kept is not None:
            return kept
    changed = bool(differing(part, before, plan))
    judgement = judge(part, plan)
    said = next(iter(read.told.values()), "") or (say_sum(judgement) if changed else "")
    wanted = Wanted(
        typed=read.typed,
        told=read.told,
        opened=fields.get("opened", ""),
        before=put_before(fields.get("before", ""), link) if changed else fields.get("before", ""),
        changes=count_changes(library, part, plan, fields.get("opened", "")),
        said=said,
        focus=focus,
    )
    return _show(library, judgement, wanted, worker, fragment, fault)


def _show(
    library: Library,
    judgement: Judgement,
    wanted: Wanted,
    worker: Worker,
    fragment: bool = False,
    fault: Problem | None = None,
) -> Response:
    """The page of a plan, or its fragment with the address that carries it."""
    link = permalink_of(judgement.plan, judgement.part)
    page = build_charge(judgement, link, wanted)
    kept = view_kept(library, judgement.part, judgement.plan, worker, wanted.changes, fault)
    headers = {"HX-Replace-Url": "/charge?" + urlencode({"plan": link})} if fragment else None
    template = "charge/_form.html" if fragment else "charge/page.html"
    return render(template, 200, headers, page=page, kept=kept, fragment=fragment)
