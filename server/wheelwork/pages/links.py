"""The Links page: do my serial links and timers keep their rate?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from time import monotonic
from urllib.parse import urlencode

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from wheelwork.find.link_mends import seek_link_mend
from wheelwork.findings import Mend
from wheelwork.judge import Judgement, judge
from wheelwork.judge.link_words import say_errors
from wheelwork.judge.rates import JudgedLink, judge_links
from wheelwork.pages.before import put_before, take_before
from wheelwork.pages.changes import differing
from wheelwork.pages.form import read_fields, read_form
from wheelwork.pages.keeping import Worker, try_keeping, typed_worker, view_kept, worker_of
from wheelwork.pages.kept import Kept
from wheelwork.pages.links_fields import first_on
from wheelwork.pages.links_form import NEW, LinksRead, read_links_form, start_link, without_link
from wheelwork.pages.links_target import with_target
from wheelwork.pages.links_view import Wanted, build_links, nearest_mends, say_sum
from wheelwork.pages.names import PageName
from wheelwork.pages.opened import Opened, open_link
from wheelwork.pages.plan import (
    acts_of,
    add_mends,
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
from wheelwork.part.nodes import Part
from wheelwork.part.outline import outline_of
from wheelwork.plan.plan import Plan
from wheelwork.shelf.library import Library

router = APIRouter(include_in_schema=False)
NAME = PageName("Links", "/links", 3)

Fields = dict[str, str]
MOST_OPEN = 64
SECONDS_FOR_MENDS = 0.15
MOST_MENDS_KEPT = 500


@router.get("/links")
def open_links(request: Request, plan: str | None = None, open: str = "") -> Response:
    """The links of a plan from its address, some of them open; those of the demo's plan without one."""
    library = library_of(request)
    if plan is None:
        first = first_judgement(library)
        if first is None:
            return first_page(request)
        return RedirectResponse(f"/links?{urlencode({'plan': permalink_of(first.plan, first.part)})}", 303)
    opened = open_link(library, plan)
    if opened.part is None or opened.plan is None:
        return show_unopened(library, opened, "This address opens no plan")
    wanted = Wanted(open=_places(open, opened.plan), worker=worker_of(request))
    return _show(library, judge(opened.part, opened.plan), wanted)


@router.post("/links")
async def change_links(request: Request) -> Response:
    """The page after a change of a link, or one of its buttons: the whole of it, or for htmx what the form holds."""
    refused = refuse_kind(request)
    if refused is not None:
        return refused
    body = await request.body()
    fragment = wants_fragment(request)
    worker = worker_of(request)
    return await to_thread.run_sync(_count, library_of(request), body, fragment, worker, limiter=counters_of(request))


def _count(library: Library, body: bytes, fragment: bool, worker: Worker) -> Response:
    fields, problem = read_fields(body)
    if problem is not None:
        return render("problem.html", 413, problems=[problem], title="This form cannot be read")
    worker = typed_worker(fields, worker)
    link = fields.get("plan", "")
    opened = open_link(library, link)
    if opened.part is None or opened.plan is None:
        return _lead("/links", {"plan": link}, fragment, show_unopened(library, opened, "This form has lost its plan"))
    if "back" in fields and fields.get("before", "").strip():
        return _take_back(library, opened, fields, fragment, worker)
    return _answer(library, opened.part, opened.plan, fields, fragment, worker)


def _lead(path: str, query: Mapping[str, str], fragment: bool, otherwise: Response | None = None) -> Response:
    """To another address: by htmx, else by what the browser follows, or with what is shown in its place."""
    address = f"{path}?{urlencode(query)}"
    if fragment:
        return Response(status_code=204, headers={"HX-Redirect": address})
    return RedirectResponse(address, 303) if otherwise is None else otherwise


def _answer(library: Library, part: Part, before: Plan, fields: Fields, fragment: bool, worker: Worker) -> Response:
    """Read the form's links, do what its button says, and show the plan that this makes."""
    read = read_links_form(part, before, fields)
    plan, places = _act(part, read, fields)
    judgement = judge(part, plan)
    if "target" in fields:
        aimed = with_target(judgement, _number(fields["target"]))
        if aimed is not None:
            return _lead("/targets", {"plan": permalink_of(aimed, part)}, fragment)
    fault = None
    if "keep" in fields and not read.faults.told:
        kept, fault = try_keeping(library, part, plan, worker[0], permalink_of(plan, part), fragment)
        if kept is not None:
            return kept
    changed = bool(differing(part, before, plan))
    link, earlier = fields.get("plan", ""), fields.get("before", "")
    wanted = Wanted(
        open=places if read.added is None else tuple(dict.fromkeys((*places, read.added))),
        faults=read.faults,
        draft=_draft(part, plan, read, fields),
        opened=fields.get("opened", ""),
        before=put_before(earlier, link) if changed else earlier,
        changes=count_changes(library, part, plan, fields.get("opened", "")),
        said=_say(judgement, read, changed, fields),
        focus=_focus(read, fields),
        worker=worker,
        shelf_fault=fault,
    )
    return _show(library, judgement, wanted, fragment)


def _act(part: Part, read: LinksRead, fields: Fields) -> tuple[Plan, tuple[int, ...]]:
    """The plan after the button that was pressed, and the rows that are open then."""
    plan = read.plan
    places = _toggled(_places(fields.get("open", ""), plan), fields.get("toggle", ""))
    drop = _number(fields.get("drop", ""))
    if 0 <= drop < len(plan.links):
        return without_link(part, plan, drop), tuple(p - (p > drop) for p in places if p != drop)
    nearest = _number(fields.get("nearest", ""))
    if 0 <= nearest < len(plan.links):
        links = (replace(each, chosen={}) if n == nearest else each for n, each in enumerate(plan.links))
        return replace(plan, links=tuple(links)), places
    acts = dict(acts_of(fields.get("mend", "")))
    return (read_form(part, plan, acts).plan if acts else plan), places


def _number(text: str) -> int:
    """A place in the list of links; −1 for what is none."""
    return int(text) if text.isdecimal() and len(text) < 4 else -1


def _places(text: str, plan: Plan) -> tuple[int, ...]:
    """The rows that are open, as their places stand in a field or an address."""
    numbers = (_number(each) for each in text.split()[:MOST_OPEN])
    return tuple(dict.fromkeys(number for number in numbers if 0 <= number < len(plan.links)))


def _toggled(places: tuple[int, ...], toggle: str) -> tuple[int, ...]:
    """The open rows after a click on the name of one."""
    place = _number(toggle)
    if place < 0:
        return places
    return tuple(each for each in places if each != place) if place in places else (*places, place)


def _draft(part: Part, plan: Plan, read: LinksRead, fields: Fields) -> dict[str, object] | None:
    """The link that is being added: what was typed of it, or a fresh one where it was just asked for."""
    if "leave" in fields:
        return None
    if "add" in fields and read.draft is None:
        return start_link(first_on(part, plan))
    return read.draft


def _focus(read: LinksRead, fields: Fields) -> str:
    """Where to go after a button: to what it made, to the row it acts in, to the sentence of sum."""
    if "add" in fields:
        return f"link.{NEW}.on"
    if read.added is not None:
        return f"link.{read.added}.name"
    if "drop" in fields or "leave" in fields:
        return "add"
    if "mend" in fields:
        return "links-sum"
    place = _number(fields.get("toggle", fields.get("nearest", "")))
    return f"eq-link-{place}" if place >= 0 else ""


def _say(judgement: Judgement, read: LinksRead, changed: bool, fields: Fields) -> str:
    """One sentence for those who hear the page: what a change makes of its link, or what cannot be taken."""
    if read.faults.told:
        fault = next(iter(read.faults.told.values()))
        return f"{fault}{'' if fault.endswith('?') else '.'} {say_sum(judgement)}"
    if not changed:
        return ""
    return " ".join(filter(None, (read.gave_way, _say_link(judgement, read, fields), say_sum(judgement))))


def _say_link(judgement: Judgement, read: LinksRead, fields: Fields) -> str:
    """What became of the link that was changed."""
    links = judge_links(judgement)
    place = read.added if read.added is not None else _changed_place(fields)
    link: JudgedLink | None = links[place] if place is not None and 0 <= place < len(links) else None
    if "drop" in fields:
        return "Taken out."
    return "" if link is None else f"{link.title}: {say_errors(link, link.choice).words}."


def _changed_place(fields: Fields) -> int | None:
    places = {name.split(".")[1] for name in fields if name.startswith("link.")}
    nearest = fields.get("nearest", "")
    return _number(nearest) if nearest else _number(next(iter(places))) if len(places) == 1 else None


def _take_back(library: Library, present: Opened, fields: Fields, fragment: bool, worker: Worker) -> Response:
    """The plan that stood before the last change, with those that stood before it."""
    link, earlier = take_before(fields["before"])
    last = open_link(library, link)
    if last.part is None or last.plan is None or last.part is not present.part:
        return _lead("/plan", {"plan": link}, fragment)
    judgement = judge(last.part, last.plan)
    opened = fields.get("opened", "")
    wanted = Wanted(
        open=_places(fields.get("open", ""), last.plan),
        opened=opened,
        before=earlier,
        changes=count_changes(library, last.part, last.plan, opened),
        said=f"Taken back. {say_sum(judgement)}",
        focus="" if earlier else "links-sum",
        worker=worker,
    )
    return _show(library, judgement, wanted, fragment)


_MENDS: Kept[dict[int, Mend]] = Kept(MOST_MENDS_KEPT)


def _seek_mends(judgement: Judgement, link: str) -> dict[int, Mend]:
    """The mends of the links that fail, as far as the time goes; those of a plan that was asked before are kept."""
    failing = [each.place for each in judge_links(judgement) if not each.keeps and not nearest_mends(each)]
    if not failing:
        return {}
    key = (outline_of(judgement.part), link)
    known = _MENDS.find(key)
    if known is not None:
        return known
    ends = monotonic() + SECONDS_FOR_MENDS
    sought = {place: seek_link_mend(judgement, place, lambda: monotonic() < ends) for place in failing}
    mends = {place: found.mend for place, found in sought.items() if found.mend is not None}
    return _MENDS.keep(key, mends) if all(found.finished for found in sought.values()) else mends


def _show(library: Library, judgement: Judgement, wanted: Wanted, fragment: bool = False) -> Response:
    """The page of a plan, or its fragment with the address that carries it."""
    link = permalink_of(judgement.plan, judgement.part)
    page = build_links(add_mends(judgement, link), link, wanted, _seek_mends(judgement, link))
    kept = view_kept(library, judgement.part, judgement.plan, wanted.worker, wanted.changes, wanted.shelf_fault)
    headers = {"HX-Replace-Url": "/links?" + urlencode({"plan": link})} if fragment else None
    template = "links/_form.html" if fragment else "links/_page.html"
    return render(template, 200, headers, page=page, fragment=fragment, kept=kept)
