"""The Hand-over page: what do I give the firmware?"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from wheelwork.handover.forms import file_name
from wheelwork.judge import judge
from wheelwork.pages.handover_view import Wanted, build_handover, read_wanted
from wheelwork.pages.names import PageName
from wheelwork.pages.opened import Opened, open_link
from wheelwork.pages.plan import first_judgement, first_page, library_of, permalink_of, show_unopened
from wheelwork.pages.rendering import render, wants_fragment

router = APIRouter(include_in_schema=False)
NAME = PageName("Hand-over", "/hand-over", 6)


@router.get("/hand-over")
def open_handover(request: Request, plan: str | None = None) -> Response:
    """A plan in the form that is asked for; that of the demo without one."""
    library = library_of(request)
    if plan is None:
        first = first_judgement(library)
        if first is None:
            return first_page(request)
        return RedirectResponse(f"/hand-over?{urlencode({'plan': permalink_of(first.plan, first.part)})}", 303)
    opened = open_link(library, plan)
    if opened.part is None or opened.plan is None:
        return show_unopened(library, opened, "This address opens no plan")
    return _show(request, opened, read_wanted(request.query_params))


@router.get("/hand-over/file")
def save_file(request: Request, plan: str = "") -> Response:
    """The text of a plan as a file; with a fault in the asking the page that tells it."""
    opened = open_link(library_of(request), plan)
    if opened.part is None or opened.plan is None:
        return show_unopened(library_of(request), opened, "This address opens no plan")
    wanted = read_wanted(request.query_params)
    if wanted.form is None or wanted.fault:
        return _show(request, opened, wanted, 422)
    judgement = judge(opened.part, opened.plan)
    text = wanted.form.write(judgement, wanted.wish)
    headers = {"Content-Disposition": f'attachment; filename="{file_name(judgement, wanted.form)}"'}
    return Response(text.encode(), media_type=wanted.form.media_type, headers=headers)


def _show(request: Request, opened: Opened, wanted: Wanted, status: int = 200) -> Response:
    """The page, or for htmx what its form holds, with the address that shows it again."""
    assert opened.part is not None
    assert opened.plan is not None
    page = build_handover(judge(opened.part, opened.plan), permalink_of(opened.plan, opened.part), wanted)
    fragment = wants_fragment(request)
    headers: Mapping[str, str] = {"HX-Replace-Url": page.address} if fragment else {}
    return render(
        f"handover/{'_form' if fragment else 'page'}.html", status, dict(headers), page=page, fragment=fragment
    )
