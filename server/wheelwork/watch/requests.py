"""Every request gets an id, a line in the log and its place in the figures.

The id is taken over from a well-formed `X-Request-Id`, so that a proxy's line and ours can be laid side by side, else
made; the answer bears it.
"""

from __future__ import annotations

import logging
import re
import secrets
from asyncio import CancelledError
from collections.abc import Callable
from time import perf_counter

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wheelwork.findings import Problem
from wheelwork.watch.figures import Figures, route_of
from wheelwork.watch.log import REQUEST_ID, TOLD

LOG = logging.getLogger("wheelwork.requests")
HEADER = b"x-request-id"
LONGEST_PATH = 300
QUIET = frozenset({"/healthz", "/readyz", "/metrics"})
"""Asked by machines every few seconds: their lines are for those who look closely (debug)."""
NOBODY_WAITED = 499
"""What the line says where the other end hung up before an answer began; common practice, no source."""

_ID = re.compile(rb"[A-Za-z0-9-]{1,64}")


class RequestLine:
    """Writes a line for each request, and one with the traceback where it ended by an exception.

    `tell` makes the answer to a request that no other answer was begun for.
    """

    def __init__(self, app: ASGIApp, figures: Figures, tell: Callable[..., ASGIApp]) -> None:
        self.app = app
        self.figures = figures
        self.tell = tell

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand the request on, and tell how it went."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        id = id_of(scope)
        scope.setdefault("state", {})["request_id"] = id
        mark = REQUEST_ID.set(id)
        began, status = perf_counter(), 0

        async def send_with_id(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [*message.get("headers", []), (HEADER, id.encode())]
            await send(message)

        self.figures.running.inc()
        try:
            await self.app(scope, receive, send_with_id)
        except CancelledError as cut:  # it did not end in the time that a stopping server gives
            LOG.warning("cut off by the server's end", extra={"fields": _fields(scope, status or 500, began)})
            setattr(cut, TOLD, True)
            raise
        except Exception as fault:
            begun = status != 0
            if not begun:
                await self.tell(scope, [_fault_problem(scope, id)], 500)(scope, receive, send_with_id)
            LOG.exception("an answer ended by a fault", extra={"fields": _fields(scope, 500, began)})
            setattr(fault, TOLD, True)
            status = 500
            raise
        else:
            level = logging.DEBUG if scope["path"] in QUIET and status < 400 else logging.INFO
            LOG.log(level, "answered", extra={"fields": _fields(scope, status or NOBODY_WAITED, began)})
        finally:
            self.figures.running.dec()
            self.figures.answered(scope["method"], route_of(scope), status or NOBODY_WAITED, perf_counter() - began)
            REQUEST_ID.reset(mark)


def id_of(scope: Scope) -> str:
    """The request's id: its own where it brings a well-formed one, else a new one."""
    brought = next((value for name, value in scope["headers"] if name == HEADER), b"")
    return brought.decode() if _ID.fullmatch(brought) else secrets.token_hex(8)


def _fields(scope: Scope, status: int, began: float) -> dict[str, object]:
    fields: dict[str, object] = {
        "method": scope["method"][:20],
        "path": _path(scope),
        "status": status,
        "milliseconds": round(1000 * (perf_counter() - began), 1),
    }
    user = scope["state"].get("user", "")
    return {**fields, "user": user} if user else fields


def _path(scope: Scope) -> str:
    """The path as it was sent, without what was asked behind it."""
    raw = scope.get("raw_path") or scope["path"].encode("utf-8", "replace")
    return bytes(raw).split(b"?")[0].decode("latin-1")[:LONGEST_PATH]


def _fault_problem(scope: Scope, id: str) -> Problem:
    allowed = f"try again; where it comes back, tell whoever keeps the server that it was request {id}"
    return Problem(_path(scope), "the server came to a fault of its own", allowed)
