"""The roof: whatever a request looks like from outside, it gets an answer that says what is wrong, never a 5xx."""

from __future__ import annotations

import asyncio
import gzip
import json
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from fastapi.testclient import TestClient
from starlette.types import Message

from wheelwork.access.body import LARGEST_BODY

AS_JSON = {"content-type": "application/json"}
PLAN = b'{"plan": {"part": "turnstone-58"}}'


def problem(answer: Any) -> dict[str, str]:
    """The one problem of a refusal."""
    problems: list[dict[str, str]] = answer.json()["problems"]
    assert len(problems) == 1
    assert {"where", "what", "allowed"} == problems[0].keys()
    return problems[0]


PAGES = ["/", "/plan", "/plan/", "/plans", "/api/docs", "/openapi.json", "/static/fields.js", "/static/no", "/no"]
METHODS = ["GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE", "TRACE", "BREW"]


@pytest.mark.parametrize("method", METHODS)
def test_every_method_on_every_path_has_an_answer(client: TestClient, method: str) -> None:
    described = [path.replace("{id}", "turnstone-58") for path in client.get("/openapi.json").json()["paths"]]
    assert {"/api/check", "/api/parts", "/healthz"} <= set(described)
    for path in [*PAGES, *described]:
        answer = client.request(method, path, headers={"accept": "text/html"}, follow_redirects=False)
        assert answer.status_code < 500, path
        assert "content-security-policy" in answer.headers


def test_a_method_that_is_not_taken_is_told_with_those_that_are(client: TestClient) -> None:
    told = problem(client.put("/api/check", json={}))
    assert told == {"where": "/api/check", "what": "PUT cannot be asked here", "allowed": "ask with POST"}


@pytest.mark.parametrize("host", ["[", "[::1", "a b", "\\", "x" * 2000, ""])
def test_a_host_that_is_none_changes_nothing(client: TestClient, host: str) -> None:
    for path, status in (("/nowhere", 404), ("/api/parts/x", 404), ("/plan?plan=1.x", 400), ("/healthz", 200)):
        assert client.get(path, headers={"host": host}).status_code == status


@pytest.mark.parametrize(
    "path",
    [
        "/%00",
        "/static/%00",
        "/static/..%2f..%2fpyproject.toml",
        "/static/%ff",
        "/static/" + "a" * 5000,
        "/api/parts/%ff",
    ],
    ids=lambda path: path[:24],
)
def test_a_path_that_leads_nowhere_is_not_found(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def in_a_thread_of_its_own(ask: Callable[[], Coroutine[Any, Any, None]]) -> None:
    """Run a coroutine away from the event loop that a browser test leaves running in this thread."""
    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(ask())).result()


def pieces(count: int, size: int) -> Iterator[bytes]:
    """A body in pieces, whose length nobody says beforehand."""
    yield from (b" " * size for _ in range(count))


@pytest.mark.parametrize("path", ["/api/check", "/plan"])
def test_a_body_without_a_length_is_read_up_to_the_limit(client: TestClient, path: str) -> None:
    told = problem(client.post(path, content=pieces(100, 50_000), headers=AS_JSON))
    assert told["what"] == "it is larger than 1024 kB"


def test_a_body_in_very_many_pieces_is_read_like_one(client: TestClient) -> None:
    def one_by_one() -> Iterator[bytes]:
        yield from (bytes([byte]) for byte in PLAN + b" " * 20_000)

    assert client.post("/api/check", content=one_by_one(), headers=AS_JSON).status_code == 200


@pytest.mark.parametrize("length", ["9" * 5000, str(LARGEST_BODY + 1)], ids=["digits", "one more"])
def test_a_length_that_is_too_large_is_refused_before_anything_is_read(client: TestClient, length: str) -> None:
    answer = client.post("/api/check", content=PLAN, headers={**AS_JSON, "content-length": length})
    assert answer.status_code == 413
    assert problem(answer)["where"] == "body"


@pytest.mark.parametrize("path", ["/api/check", "/plan"])
def test_a_packed_body_is_refused_by_name(client: TestClient, path: str) -> None:
    headers = {**AS_JSON, "content-encoding": "gzip"}
    answer = client.post(path, content=gzip.compress(PLAN), headers=headers)
    assert answer.status_code == 415
    assert problem(answer)["what"] == "it is packed: 'gzip'"


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "application/;json", "", None])
def test_a_plan_that_is_not_sent_as_json_is_told_how(client: TestClient, kind: str | None) -> None:
    answer = client.post("/api/check", content=PLAN, headers={} if kind is None else {"content-type": kind})
    assert answer.status_code == 415
    assert "application/json" in problem(answer)["allowed"]


@pytest.mark.parametrize("body", [b"{", b"\xff\xfe{", b'{"plan": ' + b"[" * 10_000, b'{"plan": ' + b"9" * 5000 + b"}"])
def test_what_json_readers_stumble_over_is_no_json(client: TestClient, body: bytes) -> None:
    answer = client.post("/api/check", content=body, headers=AS_JSON)
    assert answer.status_code == 400
    assert problem(answer)["what"] == "this is no JSON"


@pytest.mark.parametrize("levels", [*range(30, 1000, 45), 5000])
def test_no_depth_of_json_leads_too_deep(client: TestClient, levels: int) -> None:
    """Readers, checkers and writers each have a depth at which they give up; none may be met after another passed."""
    lists, tables = "[" * levels + "]" * levels, '{"a": ' * levels + "1" + "}" * levels
    for deep in (lists, tables):
        for body in (
            f'{{"plan": {deep}}}',
            f'{{"plan": {{}}, "part": {deep}}}',
            f'{{"plan": {{"part": "turnstone-58", "battery": {{"a": {deep}}}}}}}',
            f'{{"plan": {{"part": "turnstone-58", "set": {{"core": {deep}}}}}}}',
            f'{{"plan": {{}}, "else": {deep}}}',
        ):
            assert client.post("/api/check", content=body, headers=AS_JSON).status_code in (400, 422)


def test_nobody_is_answered_who_has_gone(client: TestClient) -> None:
    """A connection that is closed in the middle of a body is no fault of the server's: nothing is raised or sent."""
    sent: list[Message] = []
    incoming: list[Message] = [{"type": "http.request", "body": b"pl", "more_body": True}, {"type": "http.disconnect"}]

    async def receive() -> Message:
        return incoming.pop(0)

    async def send(message: Message) -> None:
        sent.append(message)

    scope = {"type": "http", "method": "POST", "path": "/plan", "headers": [], "query_string": b"", "root_path": ""}

    async def ask() -> None:
        await client.app(scope, receive, send)

    in_a_thread_of_its_own(ask)
    assert sent == []


def test_the_refusals_are_those_the_description_names(client: TestClient) -> None:
    described = json.loads(client.get("/openapi.json").text)["paths"]["/api/check"]["post"]["responses"]
    assert {"200", "400", "413", "415", "422"} == described.keys()
