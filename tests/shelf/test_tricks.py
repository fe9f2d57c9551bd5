"""Tricks in every text that reaches the shelf: stored and shown as text, never run, never an answer of 500 or more."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from tests.pages.test_hostile_forms import MARKUP, assert_answered
from tests.shelf.test_sheets import SMALL
from wheelwork.app import make_app
from wheelwork.plan.permalink import write_permalink
from wheelwork.settings import Settings

TRICKS = (
    "'; DROP TABLE plan; --", "x' OR '1'='1", '" OR ""="', "1; DELETE FROM plan_revision", "%' ESCAPE '\\", "%", "_",
    "\\", "a%00b", "{{ 7 * 7 }}", "{% include 'base.html' %}", "${7*7}", "%(name)s", ":name", "?", "$1",
    MARKUP, "<script>typed()</script>", "</textarea><i-typed>", "javascript:typed()", "&lt;i-typed&gt;", "]]>",
    "../../../etc/passwd", "..\\..\\shelf.db", "/etc/passwd", "file:///etc/passwd", "shelf.db", "tide-gauge/1", "..",
    "\x00", "\x1b[31m", "\r\nSet-Cookie: typed=1", "\u202etxet", "\ufeff", "\ud800", "\uffff", "é" * 300, "🕰" * 200,
    "x" * 5000, "-1", "1e999", "NaN", "null", "", " ", "=HYPERLINK(1)",
)  # fmt: skip
texts = st.sampled_from(TRICKS) | st.text(max_size=60)
lines = st.sampled_from([each for each in TRICKS if each.isascii() and each.isprintable()]) | st.text(
    st.characters(min_codepoint=32, max_codepoint=126), max_size=60
)
"""What can stand in a header."""

bounded = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A shelf with one plan, which no trick may change."""
    client = TestClient(make_app(Settings(data=tmp_path_factory.mktemp("shelf"))))
    made = client.post("/api/plans", json={"plan": plan("Canary"), "kept_by": "bench"})
    assert made.json() == {"id": "canary", "revision": 1}
    before = client.get("/api/plans/canary").json()
    yield client
    assert client.get("/api/plans/canary").json() == before
    assert client.get("/readyz").status_code == 200


def plan(name: str, **more: str) -> dict[str, Any]:
    return {"part": "turnstone-58", "in_use": ["processor"], "name": name, **more}


def kept_text(text: str) -> str:
    """A name as it is kept: without what no store can hold."""
    return text.replace("\x00", "").encode("utf-8", "replace").decode()[:200]


def asked(text: str) -> str:
    """A text in an address."""
    return quote(text.encode("utf-8", "replace"), safe="")


@bounded
@given(texts, texts, texts)
@example("'; DROP TABLE plan; --", MARKUP, "x' OR '1'='1")
@example(MARKUP, "'; DROP TABLE plan; --", MARKUP)
@example("\ud800", "\x00", "a\x00b")
def test_what_is_typed_into_a_plan_comes_back_as_text(desk: TestClient, name: str, owner: str, kept_by: str) -> None:
    body = {"plan": plan(name, owner=owner), "kept_by": kept_by}
    made = desk.post("/api/plans", content=json_of(body), headers={"content-type": "application/json"})
    assert made.status_code in (201, 422), made.text
    if made.status_code == 422:
        return
    id = made.json()["id"]
    assert set(id) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    opened = desk.get(f"/api/plans/{id}").json()
    written = opened["plan"].get("name", "")
    assert written == name.encode("utf-8", "replace").decode()
    assert opened["kept_by"] == (kept_text(kept_by.strip()) or "somebody")
    listed = next(each for each in desk.get("/api/plans", params={"most": 5}).json() if each["id"] == id)
    assert listed["name"] == kept_text(name)
    for path in ("/shelf", f"/shelf/{id}", f"/shelf/canary?beside={id}/1&beside=canary/1"):
        page = desk.get(path, headers={"accept": "text/html"})
        assert page.status_code == 200
        assert_answered(page)
        assert page.headers.get("set-cookie") is None


def json_of(body: Any) -> bytes:
    """JSON that carries any text, also half characters."""
    return json.dumps(body).encode()


@bounded
@given(texts, texts, texts)
@example("%", "yes", "2")
@example("_", "", "-1")
@example("'; DROP TABLE plan; --", MARKUP, "9" * 400)
def test_what_is_searched_for_is_only_searched_for(desk: TestClient, search: str, retired: str, page: str) -> None:
    query = f"search={asked(search)}&retired={asked(retired)}&page={asked(page)}"
    assert_answered(desk.get(f"/shelf?{query}&beside={asked(search)}&beside={asked(page)}"))
    for each in (
        f"search={asked(search)}",
        f"search={asked(search)}&retired={asked(retired)}&most={asked(page)}&skip=1",
    ):
        assert_answered(desk.get(f"/api/plans?{each}"))


@pytest.mark.parametrize("sign", ["%", "_", "\\", "'", "%%", "_______", "x' OR '1'='1", "') OR 1=1 --"])
def test_a_sign_of_the_store_means_itself(desk: TestClient, sign: str) -> None:
    """`%` and `_` stand for any text in SQL; here they find a plan that has them in its name, and no other."""
    name = f"Sign {sign} in a name"
    desk.post("/api/plans", json={"plan": plan(name), "kept_by": "signs"})
    found = [each["name"] for each in desk.get("/api/plans", params={"search": f"{sign} SIGNS"}).json()]
    assert name in found
    assert all(sign.split()[0] in each for each in found)
    assert "Canary" not in [each["name"] for each in desk.get("/api/plans", params={"search": sign}).json()]


@bounded
@given(texts, texts)
@example("..", "..")
@example("canary", "'; DROP TABLE plan; --")
@example("canary", "9" * 400)
@example("canary", "1")
@example("\x00", "1")
def test_no_address_leads_elsewhere(desk: TestClient, id: str, number: str) -> None:
    one, two = asked(id), asked(number)
    for path in (
        f"/api/plans/{one}", f"/api/plans/{one}/revisions", f"/api/plans/{one}/revisions/{two}",
        f"/api/plans/{one}/difference?from={two}&to={two}", f"/shelf/{one}", f"/shelf/{one}?beside={one}/{two}",
        f"/shelf/{one}/together?plan={two}", f"/api/parts/{one}", f"/api/parts/{one}/revisions",
        f"/api/parts/{one}/revisions/{two}", f"/plan?part={one}",
    ):  # fmt: skip
        answer = desk.get(path)
        assert_answered(answer)
        assert "root:" not in answer.text
        assert "SQLite format" not in answer.text


@bounded
@given(lines, lines, st.sampled_from(["canary", "nobody", "%27", ".."]))
@example('"1"', "x' OR '1'='1", "nobody")
@example('W/"1"', MARKUP, "nobody")
@example('"99999999999999999999"', "", "canary")
@example("*", "", "canary")
def test_no_header_ends_in_a_server_fault(desk: TestClient, line: str, cookie: str, id: str) -> None:
    if line.strip().strip('W/"') == "1" and id == "canary":
        return  # that one would be right
    headers = {"If-Match": line, "Cookie": f"wheelwork_name={cookie}", "X-Remote-User": cookie}
    for path, body in ((f"/api/plans/{id}", {"plan": plan("Header")}), (f"/api/parts/{id}", {"text": SMALL})):
        answer = desk.put(path, json=body, headers=headers)
        assert 400 <= answer.status_code < 500
    for path in ("/shelf?search=canary", "/shelf/canary", "/plan?part=turnstone-58"):
        assert_answered(desk.get(path, headers=headers))


@bounded
@given(texts, texts, texts)
@example("small", "'; DROP TABLE sheet; --", MARKUP)
@example("../../shelf", "x", "x")
@example("x' OR '1'='1", MARKUP, "x")
def test_what_is_typed_into_a_sheet_comes_back_as_text(desk: TestClient, id: str, name: str, kept_by: str) -> None:
    text = SMALL.replace('name = "Small"', "name = " + toml_text(name)) + f"# {' '.join(name.split())}\n"
    made = desk.post("/api/parts", content=json_of({"text": text, "id": id, "kept_by": kept_by}),
                     headers={"content-type": "application/json"})  # fmt: skip
    assert made.status_code in (201, 409, 422), made.text
    for path in ("/api/sheets", "/api/parts", "/", "/plan?part=" + asked(id)):
        assert_answered(desk.get(path))
    if made.status_code == 201:
        id = made.json()["id"]
        assert "/" not in id
        assert desk.get(f"/api/parts/{id}").json()["name"] == name
        assert desk.get(f"/api/parts/{id}/revisions/1").json()["text"] == text


def toml_text(text: str) -> str:
    """A text as TOML writes it in one line (toml.io, v1.0.0, strings)."""
    signs = (sign if sign.isprintable() and sign not in '"\\' else f"\\U{ord(sign):08x}" for sign in text)
    return '"' + "".join(signs) + '"'


@bounded
@given(texts, texts, texts)
@example(MARKUP, "'; DROP TABLE plan; --", MARKUP)
def test_no_form_of_the_shelf_ends_in_a_server_fault(desk: TestClient, id: str, worker: str, choice: str) -> None:
    link = write_permalink({**plan("Form"), "kept": f"{id}/1"})
    fields = {
        "plan": link,
        "opened": "",
        "before": "",
        "worker": worker,
        "keep": "yes",
        "shown": choice,
        choice: choice,
    }
    safe = {key.encode("utf-8", "replace"): value.encode("utf-8", "replace") for key, value in fields.items()}
    for path in (
        "/plan",
        f"/shelf/{asked(id)}/together",
        f"/shelf/{asked(id)}/retire",
        f"/shelf/{asked(id)}/bring-back",
    ):
        if path.startswith(("/shelf/canary/", "/shelf/../")):
            continue
        body = "&".join(f"{quote(key)}={quote(value)}" for key, value in safe.items())
        answer = desk.post(path, content=body, headers={"content-type": "application/x-www-form-urlencoded"},
                           follow_redirects=False)  # fmt: skip
        assert_answered(answer)
        assert "\n" not in answer.headers.get("location", "")
        assert answer.headers.get("location", "/").startswith("/")
        assert not answer.headers.get("location", "/").startswith("//")


def test_the_file_of_the_shelf_is_not_served(desk: TestClient, tmp_path: Path) -> None:
    for path in ("/shelf.db", "/static/../shelf.db", "/static/%2e%2e/shelf.db", "/api/parts/..%2fshelf.db"):
        assert desk.get(path).status_code == 404
