"""What machines ask of the server itself: alive, ready, how much."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Request
from starlette.responses import Response

import wheelwork
from wheelwork.api.described import ANSWER, Answer, Problems
from wheelwork.api.faults import Json
from wheelwork.api.shelf import RETRY_AFTER
from wheelwork.findings import Problem
from wheelwork.shelf.store import ShelfFault, Store
from wheelwork.watch.figures import CONTENT_TYPE, Figures

router = APIRouter(tags=["service"])

NO_SHELF = Problem("shelf", "this server has no shelf", "start it with a data folder (WHEELWORK_DATA)")


class Health(Answer):
    """That the server is alive, and its version."""

    status: Literal["alive"]
    version: str


class Ready(Answer):
    """That the server can do all it is for: the shelf answers."""

    status: Literal["ready"]


@router.get("/healthz", response_model=Health, response_description=ANSWER)
def healthz() -> dict[str, str]:
    """Alive."""
    return {"status": "alive", "version": wheelwork.__version__}


@router.get(
    "/readyz",
    response_model=Ready,
    responses={503: {"model": Problems, "description": "The shelf does not answer."}},
    response_description=ANSWER,
)
def readyz(request: Request) -> Json:
    """Ready: the shelf answers."""
    problem = shelf_problem(request)
    if problem is not None:
        answer = Json({"problems": [problem.as_json()]}, 503)
        answer.headers.update(RETRY_AFTER)
        return answer
    return Json({"status": "ready"})


@router.get(
    "/metrics",
    response_class=Response,
    responses={200: {"content": {"text/plain": {}}, "description": "Figures in the text format of Prometheus."}},
)
def metrics(request: Request) -> Response:
    """Figures for Prometheus; those of several processes on one port are added up."""
    figures: Figures = request.app.state.figures
    figures.shelf.set(shelf_problem(request) is None)
    return Response(figures.text(), media_type=CONTENT_TYPE)


def shelf_problem(request: Request) -> Problem | None:
    """Why the shelf does not answer; None where it does."""
    store: Store | None = request.app.state.store
    if store is None:
        return NO_SHELF
    try:
        store.ask()
    except ShelfFault as fault:
        return fault.problem
    return None
