"""How large a body may be."""

from __future__ import annotations

from anyio import move_on_after
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wheelwork.access.addresses import header
from wheelwork.access.telling import Tell
from wheelwork.findings import Problem, quote

LARGEST_BODY = 1024 * 1024
HEARD_OUT = 4 * LARGEST_BODY
SECONDS_HEARD_OUT = 2.0
TOO_LARGE = Problem(
    "body", f"it is larger than {LARGEST_BODY // 1024} kB", f"at most {LARGEST_BODY // 1024} kB are taken"
)


class BodyLimit:
    """Refuses a body above LARGEST_BODY with 413, without reading it whole, and a packed one with 415."""

    def __init__(self, app: ASGIApp, tell: Tell) -> None:
        self.app = app
        self.tell = tell

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand the request on with its whole body, if it is one that is taken."""
        if scope["type"] != "http" or scope["method"] in ("GET", "HEAD"):
            await self.app(scope, receive, send)
            return
        packing = header(scope, b"content-encoding").lower()
        if packing not in ("", "identity"):
            await self.tell(scope, [_packed(packing)], 415)(scope, receive, send)
            return
        try:
            body = await _read_body(scope, receive)
        except ClientDisconnect:
            return
        if body is None:
            answer = self.tell(scope, [TOO_LARGE], 413)
            answer.headers["Connection"] = "close"  # else the server would read on to the next request
            await answer(scope, receive, _hearing_out(scope, receive, send))
            return
        whole: Message | None = {"type": "http.request", "body": body, "more_body": False}

        async def replay() -> Message:
            nonlocal whole
            message, whole = whole, None
            return await receive() if message is None else message

        await self.app(scope, replay, send)


async def _read_body(scope: Scope, receive: Receive) -> bytes | None:
    """The body, or None where it is too large. Raises ClientDisconnect where nobody waits for an answer any more."""
    declared = header(scope, b"content-length")[:20]  # a number of more digits is too large all the same
    if declared.isdigit() and int(declared) > LARGEST_BODY:
        return None
    body = bytearray()
    while len(body) <= LARGEST_BODY:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ClientDisconnect
        body += message.get("body", b"")
        if not message.get("more_body", False):
            return bytes(body) if len(body) <= LARGEST_BODY else None
    return None


def _hearing_out(scope: Scope, receive: Receive, send: Send) -> Send:
    """Sends an answer, and ends it once a body that is not far too large was heard out.

    Who is still sending when the line is closed would see it broken, and not the answer (RFC 9112, section 9.6).
    """
    declared = header(scope, b"content-length")[:20]
    far_too_large = declared.isdigit() and int(declared) > HEARD_OUT

    async def send_and_hear_out(message: Message) -> None:
        if message["type"] == "http.response.body" and not far_too_large:
            await send({**message, "more_body": True})
            with move_on_after(SECONDS_HEARD_OUT):
                await _drop(receive, HEARD_OUT)
            message = {"type": "http.response.body", "body": b""}
        await send(message)

    return send_and_hear_out


async def _drop(receive: Receive, most: int) -> None:
    """Receive until nothing more comes, or far too much came."""
    more, dropped = True, 0
    while more and dropped <= most:
        message = await receive()
        dropped += len(message.get("body", b""))
        more = message.get("more_body", False)


def _packed(packing: str) -> Problem:
    return Problem("body", f"it is packed: {quote(packing)}", "send it as it is, without Content-Encoding")
