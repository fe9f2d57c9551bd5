"""A line for each request, with an id that the answer bears."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from wheelwork.app import make_app
from wheelwork.settings import Settings, read_networks

LOGGER = "wheelwork.requests"


@pytest.fixture
def app(tmp_path: Path) -> FastAPI:
    """The application, with an address that ends in a fault."""
    made = make_app(Settings(data=tmp_path, user_header="X-Remote-User", trusted_proxies=read_networks("10.1.0.5")))

    @made.get("/fault/{name}")
    def fault(name: str) -> None:
        logging.getLogger("wheelwork").warning("about to fall")
        raise RuntimeError("the wheel came off")

    return made


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """One who asks from behind the proxy."""
    with TestClient(app, client=("10.1.0.5", 1), raise_server_exceptions=False) as made:
        yield made


def lines(caplog: pytest.LogCaptureFixture) -> list[dict[str, Any]]:
    """What the lines say besides their message."""
    return [record.__dict__["fields"] for record in caplog.records if record.name == LOGGER]


@pytest.fixture(autouse=True)
def _all_lines(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, logger=LOGGER)


def test_each_request_has_one_line(client: TestClient, caplog: pytest.LogCaptureFixture) -> None:
    client.get("/api/parts/no-such%0Apart?plan=1.secret", headers={"X-Remote-User": "ada"})
    (line,) = lines(caplog)
    assert line.pop("milliseconds") >= 0
    assert line == {"method": "GET", "path": "/api/parts/no-such%0Apart", "status": 404, "user": "ada"}


@pytest.mark.parametrize("path", ["/healthz", "/readyz", "/metrics"])
def test_what_machines_ask_all_day_is_for_those_who_look_closely(
    client: TestClient, caplog: pytest.LogCaptureFixture, path: str
) -> None:
    client.get(path)
    assert lines(caplog) == []
    caplog.set_level(logging.DEBUG, logger=LOGGER)
    client.get(path)
    assert [line["path"] for line in lines(caplog)] == [path]


@pytest.mark.parametrize("id", ["a", "7f3A-9", "x" * 64])
def test_a_well_formed_id_is_taken_over(client: TestClient, id: str) -> None:
    assert client.get("/healthz", headers={"X-Request-Id": id}).headers.get_list("X-Request-Id") == [id]


@pytest.mark.parametrize("id", ["", "x" * 65, "a b", "a_b", "a\tb", "é"])
def test_any_other_is_replaced(client: TestClient, id: str) -> None:
    made = client.get("/healthz", headers=[(b"X-Request-Id", id.encode())]).headers["X-Request-Id"]
    assert re.fullmatch(r"[0-9a-f]{16}", made)


def test_no_two_requests_have_one_id(client: TestClient) -> None:
    assert len({client.get("/healthz").headers["X-Request-Id"] for _ in range(20)}) == 20


def test_a_refusal_at_the_gate_has_its_line_too(client: TestClient, caplog: pytest.LogCaptureFixture) -> None:
    client.post("/plan", headers={"Origin": "https://elsewhere.example"})
    assert [(line["path"], line["status"]) for line in lines(caplog)] == [("/plan", 403)]


class TestFault:
    """An exception nobody foresaw."""

    def test_it_has_one_line_with_its_traceback(self, client: TestClient, caplog: pytest.LogCaptureFixture) -> None:
        client.get("/fault/x")
        (record,) = (record for record in caplog.records if record.name == LOGGER)
        assert (record.levelname, lines(caplog)[0]["status"]) == ("ERROR", 500)
        assert record.exc_info
        assert "the wheel came off" in str(record.exc_info[1])

    def test_the_answer_names_the_request_and_not_the_fault(self, client: TestClient) -> None:
        answer = client.get("/fault/x", headers={"X-Request-Id": "7f3a"})
        assert (answer.status_code, answer.headers["X-Request-Id"]) == (500, "7f3a")
        (problem,) = answer.json()["problems"]
        assert problem["allowed"].endswith("it was request 7f3a")
        assert "wheel came off" not in answer.text
        assert "content-security-policy" in answer.headers

    def test_a_reader_of_pages_gets_a_page(self, client: TestClient) -> None:
        answer = client.get("/fault/x", headers={"Accept": "text/html"})
        assert answer.status_code == 500
        assert "<h1>A fault of the server</h1>" in answer.text

    def test_a_test_sees_the_fault_itself(self, app: FastAPI) -> None:
        with pytest.raises(RuntimeError, match="the wheel came off"):
            TestClient(app).get("/fault/x")
