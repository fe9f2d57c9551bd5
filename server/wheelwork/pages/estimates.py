"""The estimates of a plan's oscillators: load capacitors, margins, the budget of a frequency. Reached from Charge."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from wheelwork.judge import judge
from wheelwork.pages.estimates_view import build_estimates
from wheelwork.pages.opened import open_link
from wheelwork.pages.plan import first_judgement, first_page, library_of, permalink_of, show_unopened
from wheelwork.pages.rendering import render, wants_fragment

router = APIRouter(include_in_schema=False)


@router.get("/estimates")
def open_estimates(request: Request, plan: str | None = None) -> Response:
    """The calculators for an oscillator of a plan, one of them with its fields and its answer."""
    library = library_of(request)
    if plan is None:
        first = first_judgement(library)
        if first is None:
            return first_page(request)
        return RedirectResponse(f"/estimates?{urlencode({'plan': permalink_of(first.plan, first.part)})}", 303)
    opened = open_link(library, plan)
    if opened.part is None or opened.plan is None:
        return show_unopened(library, opened, "This address opens no plan")
    permalink = permalink_of(opened.plan, opened.part)
    page = build_estimates(judge(opened.part, opened.plan), permalink, dict(request.query_params))
    fragment = wants_fragment(request)
    headers = {"HX-Replace-Url": page.address} if fragment else None
    return render(f"estimates/{'_form' if fragment else 'page'}.html", 200, headers, page=page)
