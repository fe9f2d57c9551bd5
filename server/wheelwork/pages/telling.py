"""A problem as a page for who reads pages, as JSON for everyone else."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import Scope

from wheelwork.api.faults import refuse
from wheelwork.findings import Problem
from wheelwork.pages.rendering import render

TITLES: Mapping[int, str] = {
    401: "Who is there?",
    403: "This is not taken from there",
    404: "Nothing stands here",
    429: "Too much at once",
    500: "A fault of the server",
}
OTHER = "This cannot be answered"


def tell(scope: Scope, problems: Iterable[Problem], status: int, title: str = "") -> Response:
    """The answer that tells problems."""
    if "text/html" in Headers(scope=scope).get("accept", ""):
        return render("problem.html", status, problems=list(problems), title=title or TITLES.get(status, OTHER))
    return refuse(problems, status)
