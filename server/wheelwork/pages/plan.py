"""The Plan page: where does each clock stand?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from time import monotonic
from typing import Any
from urllib.parse import parse_qsl, urlencode

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, Response

from wheelwork.clocks.propagate import unfitted
from wheelwork.find.mends import find_mends, offer_mends
from wheelwork.findings import Mend, Problem, quote
from wheelwork.judge import Judgement, judge
from wheelwork.pages.form import FormRead, fresh_plan, read_form, without_resets
from wheelwork.pages.outline import outline_of
from wheelwork.pages.plan_view import Asked, PlanPage, build_page
from wheelwork.pages.rendering import render, wants_fragment
from wheelwork.pages.standing import row_title
from wheelwork.part.nodes import Part
from wheelwork.plan.permalink import read_permalink, write_permalink
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan, sheet_in
from wheelwork.plan.writing import write_plan
from wheelwork.quantities.units import say_frequency
from wheelwork.shelf.library import Library

router = APIRouter(include_in_schema=False)

SECONDS_FOR_MENDS = 0.2
MOST_FIELDS = 4000
MOST_MENDS_KEPT = 2000

Fields = Mapping[str, str]


@router.get("/")
def first_page(request: Request) -> Response:
    """The demo's first plan with something to mend, so that a first visit shows what the page is for."""
    library = _library(request)
    for stored in library.plans().values():
        part, plan, problems = _read(library, stored.raw)
        if part is not None and plan is not None and not problems:
            return _show(library, part, plan, Asked())
    return render(
        "problem.html", 404, problems=[Problem("plans", "none is here", "open a part sheet")], title="No plan"
    )


@router.get("/plan")
def open_plan(request: Request, plan: str = "", part: str = "") -> Response:
    """A plan from its address, or a first plan on a part sheet."""
    library = _library(request)
    if part and not plan:
        sheet = library.sheet(part)
        if sheet is None or sheet.part is None:
            return _unknown_sheet(library, part, {}, [] if sheet is None else list(sheet.problems))
        return _show(library, sheet.part, fresh_plan(sheet.part, sheet.id), Asked())
    raw, problems = read_permalink(plan)
    if raw is None:
        return render("problem.html", 400, problems=problems, title="This address opens no plan")
    known, found, problems = _read(library, raw)
    if known is None:
        sheet = library.sheet(sheet_in(raw))
        return _unknown_sheet(library, sheet_in(raw), raw, [] if sheet is None else list(sheet.problems))
    if found is None or problems:
        return render("problem.html", 422, problems=problems, title="This plan does not suit its part sheet")
    return _show(library, known, found, Asked())


@router.post("/plan")
async def count_plan(request: Request) -> Response:
    """The page after a change: the whole of it, or for htmx what stands inside the form."""
    body = await request.body()
    fragment = wants_fragment(request)
    return await run_in_threadpool(_count, _library(request), body, fragment)


def _count(library: Library, body: bytes, fragment: bool) -> Response:
    try:
        fields = dict(parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=MOST_FIELDS))
    except ValueError:
        problem = Problem("form", "it cannot be read", f"send at most {MOST_FIELDS} fields as a form does")
        return render("problem.html", 400, problems=[problem], title="This form cannot be read")
    raw, problems = read_permalink(fields.pop("plan", ""))
    if raw is None:
        return render("problem.html", 400, problems=problems, title="This form has lost its plan")
    part, before, problems = _read(library, raw)
    if part is None:
        return _unknown_sheet(library, sheet_in(raw), raw, [])
    if before is None or problems:
        return render("problem.html", 422, problems=problems, title="This plan does not suit its part sheet")
    if fields.get("part", before.part) != before.part:
        return _other_sheet(library, fields["part"], before, fragment)
    return _answer(library, part, before, fields, fragment)


def _answer(library: Library, part: Part, before: Plan, fields: dict[str, str], fragment: bool) -> Response:
    """Judge the form's plan and show it."""
    acts = dict(_acts(fields.pop("mend", "")))
    read = read_form(part, before, {**fields, **acts})
    changed = sorted(_differing(part, before, read.plan))
    link = permalink_of(read.plan, part)
    asked = Asked(
        open=_toggled(fields),
        wishes={name.removeprefix("wish."): text for name, text in fields.items() if name.startswith("wish.") and text},
        faults=read.faults,
        problems=read.problems,
        opened=fields.get("opened", ""),
        before=fields.get("before", "") if not changed else permalink_of(before, part),
        changes=_count_changes(part, read.plan, fields.get("opened", "")),
        focus=next(iter(acts), ""),
    )
    judgement = judge(part, read.plan)
    return _show(library, part, read.plan, asked, fragment, judgement, _say(judgement, changed, read), link)


def _show(
    library: Library,
    part: Part,
    plan: Plan,
    asked: Asked,
    fragment: bool = False,
    judgement: Judgement | None = None,
    said: str = "",
    link: str = "",
) -> HTMLResponse:
    """The page of a plan, or its fragment with the address that carries it."""
    link = link or permalink_of(plan, part)
    judged = _with_kept_mends(judgement or judge(part, plan), link)
    sheets = {sheet.id: sheet.part.name for sheet in library.sheets().values() if sheet.part is not None}
    page: PlanPage = build_page(judged, link, sheets, asked)
    headers = {"HX-Replace-Url": "/plan?" + urlencode({"plan": link})} if fragment else None
    return render("plan/_form.html" if fragment else "plan/page.html", 200, headers, page=page, said=said)


_MENDS: dict[tuple[int, str], tuple[Part, tuple[Mend, ...]]] = {}


def _with_kept_mends(judgement: Judgement, link: str) -> Judgement:
    """The judgement with its mends; those of a plan that was asked before are kept, for the same answer at once."""
    if judgement.legal:
        return judgement
    key = (id(judgement.part), link)
    known = _MENDS.get(key)
    if known is not None and known[0] is judgement.part:
        return offer_mends(judgement, known[1], True)
    ends = monotonic() + SECONDS_FOR_MENDS
    mends, finished = find_mends(judgement.part, judgement.plan, lambda: monotonic() < ends)
    if finished:
        if len(_MENDS) >= MOST_MENDS_KEPT:
            _MENDS.clear()
        _MENDS[key] = (judgement.part, mends)
    return offer_mends(judgement, mends, finished)


def permalink_of(plan: Plan, part: Part) -> str:
    """The text that carries a plan in its address; settings that only repeat reset values are left out."""
    return write_permalink(write_plan(without_resets(plan, part), part))


def _library(request: Request) -> Library:
    library: Library = request.app.state.library
    return library


def _read(library: Library, raw: dict[str, Any]) -> tuple[Part | None, Plan | None, list[Problem]]:
    """Part and plan of a raw plan; no part where its sheet is unknown or faulty."""
    sheet = library.sheet(sheet_in(raw))
    if sheet is None or sheet.part is None:
        return None, None, []
    plan, problems = read_plan(raw, sheet.part)
    return sheet.part, plan, problems if plan is None else unfitted(sheet.part, plan)


def _acts(mend: str) -> Iterator[tuple[str, str]]:
    """The fields that a mend's button sets: `set.main_converter=9;core_voltage=full`."""
    for act in mend[:1000].split(";"):
        name, _, value = act.partition("=")
        if name.startswith("set.") or name in ("core_voltage", "wait_states"):
            yield name, value


def _toggled(fields: Fields) -> tuple[str, ...]:
    """The open drawers after a click on one of the `=` buttons; asking in a drawer keeps it open."""
    opened = dict.fromkeys(fields.get("open", "").split()[:100])
    toggle = fields.get("toggle", "")
    if toggle in opened:
        del opened[toggle]
    elif toggle:
        opened[toggle] = None
    return tuple(opened)


def _flat(part: Part, plan: Plan) -> dict[str, Any]:
    """A plan as flat places and values, for telling two plans apart."""
    written = write_plan(plan, part)
    places: dict[str, Any] = {f"set.{key}": value for key, value in plan.complete(part).items()}
    for key, value in written.items():
        if key == "board":
            places |= {f"board.{name}.{what}": text for name, fitted in value.items() for what, text in fitted.items()}
        elif key in ("in_use", "keep_running"):
            places |= {f"{key}.{name}": True for name in value}
        elif key != "set":
            places[key] = value
    return places


def _differing(part: Part, one: Plan, other: Plan) -> set[str]:
    """The places in which two plans differ."""
    before, after = _flat(part, one), _flat(part, other)
    return {place for place in before.keys() | after.keys() if before.get(place) != after.get(place)}


def _count_changes(part: Part, plan: Plan, opened: str) -> int:
    """In how many places the plan differs from the one the page was opened with."""
    raw, _ = read_permalink(opened) if opened else (None, [])
    first, _ = read_plan(raw, part) if raw is not None else (None, [])
    return 0 if first is None else len(_differing(part, first, plan))


def _say(judgement: Judgement, changed: list[str], read: FormRead) -> str:
    """One sentence for those who hear the page: what changed, and how many clocks stand inside."""
    inside = f"{judgement.inside} of {len(judgement.windows)} clocks inside."
    if read.faults.told:
        return f"{next(iter(read.faults.told.values()))}. {inside}"
    for place in changed:
        row = outline_of(judgement.part).row_of.get(place.removeprefix("set."))
        clock = None if row is None else judgement.clocks.get(row.node)
        if row is not None and clock is not None:
            title = (
                judgement.part.nodes[row.node].title
                if row.role != "reference_divider"
                else row_title(judgement.part, row)
            )
            return f"{title} {say_frequency(clock.nominal)}. {inside}"
    return inside if changed else ""


def _other_sheet(library: Library, name: str, before: Plan, fragment: bool) -> Response:
    sheet = library.sheet(name)
    if sheet is None or sheet.part is None:
        return _unknown_sheet(library, name, {}, [] if sheet is None else list(sheet.problems))
    plan = fresh_plan(sheet.part, sheet.id, before)
    return _show(library, sheet.part, plan, Asked(), fragment, said=f"A first plan on {sheet.part.name}.")


def _unknown_sheet(library: Library, name: str, raw: dict[str, Any], problems: list[Problem]) -> Response:
    """A plan whose part sheet is not here, or is faulty: shown for reading only, the nearest sheet offered."""
    like = library.nearest(name)
    near = library.sheet(like) if like is not None else None
    offer = None
    if near is not None and near.part is not None:
        link = write_permalink({**raw, "part": near.id}) if raw else ""
        query = {"plan": link} if raw else {"part": near.id}
        offer = (near.part.name, "/plan?" + urlencode(query))
    title = f"No part sheet {quote(name)}" if not problems else f"The part sheet {quote(name)} is faulty"
    return render("plan/unknown.html", 404, title=title, name=name, raw=raw, offer=offer, problems=problems)
