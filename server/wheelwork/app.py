"""The roof: one ASGI application with every page and interface route, its limits and its headers."""

from __future__ import annotations

import importlib
import json
import pkgutil
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, suppress
from typing import Any

from fastapi import APIRouter, FastAPI, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.exceptions import RequestValidationError
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import Response

import wheelwork
from wheelwork import api, pages
from wheelwork.access.body import BodyLimit
from wheelwork.access.gate import Gate, make_access
from wheelwork.access.headers import SecurityHeaders
from wheelwork.access.leave import NoLeave
from wheelwork.api.described import ANSWER, keep_what_is_meant
from wheelwork.api.faults import Json, Refused, refuse
from wheelwork.api.shelf import RETRY_AFTER
from wheelwork.findings import Problem, quote
from wheelwork.folders import find_folder
from wheelwork.pages.telling import tell
from wheelwork.pages.who import ask_who
from wheelwork.part.schema import json_schema
from wheelwork.searches import Searches, shared_board
from wheelwork.settings import Settings, read_settings
from wheelwork.shelf.library import make_library
from wheelwork.shelf.plans import NotKept, Plans
from wheelwork.shelf.store import ShelfFault, Store, make_store
from wheelwork.watch.figures import Figures
from wheelwork.watch.requests import RequestLine


def make_app(settings: Settings | None = None) -> FastAPI:
    """The application with its library of sheets; settings from the environment where none are given."""
    settings = settings or read_settings()
    app = FastAPI(
        title="Wheelwork",
        version=wheelwork.__version__,
        summary="Clock plans of microcontroller boards: judged exactly, mended, shared.",
        docs_url=None,
        redoc_url=None,
        lifespan=_lifespan,
    )
    app.state.settings = settings
    app.state.library = make_library(settings)
    store = app.state.store = make_store(settings)
    app.state.library.kept = None if store is None else Plans(store)
    app.state.access = make_access(settings)
    app.state.figures = figures = Figures(wheelwork.__version__)
    if store is not None:
        store.tell = figures.tell
    app.state.searches = Searches(settings.searches, board=shared_board(), tell_running=figures.searches.set)
    for router in _routers():
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=find_folder("static")), name="static")
    _add_service_routes(app)
    _add_fault_handlers(app)
    _describe(app)
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=2)
    app.add_middleware(Gate, access=app.state.access, tell=tell)
    app.add_middleware(BodyLimit, tell=tell)  # before the gate, which refuses what has been heard out
    app.add_middleware(RequestLine, figures=figures, tell=tell)
    app.add_middleware(SecurityHeaders)  # the last one added is the first to be met
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    store: Store | None = app.state.store
    if store is not None:
        with suppress(ShelfFault):  # told at each question for the shelf, and by /readyz
            await run_in_threadpool(store.prepare)
    yield
    await run_in_threadpool(app.state.searches.close)
    if store is not None:
        await run_in_threadpool(store.close)


def _routers() -> Iterator[APIRouter]:
    """The `router` of every module in the rooms of faces, so that a new page registers nowhere."""
    for room in (api, pages):
        for found in sorted(pkgutil.iter_modules(room.__path__), key=lambda module: module.name):
            router = getattr(importlib.import_module(f"{room.__name__}.{found.name}"), "router", None)
            if isinstance(router, APIRouter):
                yield router


def _describe(app: FastAPI) -> None:
    made = app.openapi
    app.openapi = lambda: keep_what_is_meant(made())  # type: ignore[method-assign]  # the framework's own way


def _add_service_routes(app: FastAPI) -> None:
    @app.get("/schema/part.json", tags=["service"], response_model=dict[str, Any], response_description=ANSWER)
    def part_schema() -> Json:
        """The JSON Schema of a part sheet, for editors."""
        return Json(json_schema())


def _add_fault_handlers(app: FastAPI) -> None:
    @app.exception_handler(Refused)
    def refused(request: Request, fault: Refused) -> Json:
        return refuse(fault.problems, fault.status)

    @app.exception_handler(ShelfFault)
    @app.exception_handler(NotKept)
    def shelf_fault(request: Request, fault: ShelfFault | NotKept) -> Response:
        if isinstance(fault, NotKept):
            return tell(request.scope, [fault.problem], 404, "This is not on the shelf")
        answer = tell(request.scope, [fault.problem], 503, "The shelf does not answer")
        answer.headers.update(RETRY_AFTER)
        return answer

    @app.exception_handler(NoLeave)
    def no_leave(request: Request, fault: NoLeave) -> Response:
        return ask_who(request, fault)

    @app.exception_handler(RequestValidationError)
    def unreadable(request: Request, fault: RequestValidationError) -> Json:
        errors = fault.errors()
        if any(isinstance(error.get("input"), bytes) for error in errors):
            return refuse([NOT_SENT_AS_JSON], 415)
        broken = any(error["type"] == "json_invalid" for error in errors)
        return refuse([_body_problem(error) for error in errors], 400 if broken else 422)

    @app.exception_handler(HTTPException)
    def http_fault(request: Request, fault: HTTPException) -> Response:
        answer = tell(request.scope, [_http_problem(request, fault)], fault.status_code)
        answer.headers.update(fault.headers or {})
        return answer


NOT_SENT_AS_JSON = Problem("body", "it is not sent as JSON", "send it with Content-Type: application/json")
NO_JSON = Problem("body", "this is no JSON", 'write {"plan": {…}} as JSON')


def _http_problem(request: Request, fault: HTTPException) -> Problem:
    path = str(request.scope["path"])[:200]
    match fault.status_code:
        case 400:  # what the framework says of a body that its JSON reader stumbles over
            return NO_JSON
        case 405:
            allowed = (fault.headers or {}).get("Allow", "another method")
            return Problem(path, f"{request.method[:20]} cannot be asked here", f"ask with {allowed}")
    return Problem(path, str(fault.detail).lower(), "see /api/docs for what there is")


def _body_problem(error: dict[str, object]) -> Problem:
    place = error.get("loc", ())
    path = [str(piece) for piece in place if piece != "body"] if isinstance(place, tuple | list) else []
    where = ".".join(path)[:200] or "body"
    match error["type"]:
        case "json_invalid":
            return NO_JSON
        case "missing" if where.startswith("query."):
            return Problem(where.removeprefix("query."), "is missing", f"write it in the address: ?{path[-1]}=…")
        case "missing":
            return Problem(where, "is missing", f"the body has {where}, such as " + '{"plan": {…}}')
        case "extra_forbidden":
            what = f"{quote(path[-1] if path else '')} is no key here"
            return Problem(where, what, "leave it out; /api/docs lists the keys of each body")
        case "dict_type" | "model_attributes_type":
            written = quote(json.dumps(error.get("input"), default=str)[:1000])
            return Problem(where, f"{written} is no table", 'write a table, such as {"plan": {…}}')
    return Problem(where, f"{quote(error.get('input'))} cannot be taken", str(error.get("msg", "see /api/docs")))


__all__ = ["make_app"]


def __getattr__(name: str) -> FastAPI:
    """`wheelwork.app:app` for servers that want the application itself; made at its first use."""
    if name != "app":
        raise AttributeError(name)
    made = make_app()
    globals()["app"] = made
    return made
