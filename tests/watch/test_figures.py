"""Figures in the text format of Prometheus, read by the library that reads them everywhere."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from prometheus_client.parser import text_string_to_metric_families

from wheelwork.app import make_app
from wheelwork.settings import Settings

PLAN = {"plan": {"part": "turnstone-58", "name": "Skerry"}, "kept_by": "ada"}


@pytest.fixture
def app(tmp_path: Path) -> FastAPI:
    """A server with a shelf of its own."""
    return make_app(Settings(data=tmp_path))


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """One who asks it."""
    with TestClient(app, raise_server_exceptions=False) as made:
        yield made


def figures(client: TestClient) -> dict[str, dict[tuple[str, ...], float]]:
    """Every figure by its name and the values of its labels."""
    answer = client.get("/metrics")
    assert answer.headers["Content-Type"] == "text/plain; version=0.0.4; charset=utf-8"
    return read(answer.text)


def read(text: str) -> dict[str, dict[tuple[str, ...], float]]:
    found: dict[str, dict[tuple[str, ...], float]] = {}
    for family in text_string_to_metric_families(text):
        for sample in family.samples:
            found.setdefault(sample.name, {})[tuple(value for _, value in sorted(sample.labels.items()))] = sample.value
    return found


def test_requests_are_counted_by_the_template_of_their_route(client: TestClient) -> None:
    for part in ("turnstone-58", "no-such", "<script>"):
        client.get(f"/api/parts/{part}")
    client.get("/static/frame.css")
    client.get("/nowhere/at/all")
    client.request("BREW", "/plan")
    client.post("/plan", headers={"Origin": "null"})
    counted = figures(client)["wheelwork_requests_total"]
    assert counted[("GET", "/api/parts/{id}", "200")] == 1
    assert counted[("GET", "/api/parts/{id}", "404")] == 2
    assert counted[("GET", "/static", "200")] == 1
    assert counted[("GET", "none", "404")] == 1
    assert counted[("POST", "none", "403")] == 1
    assert sum(count for (method, _, _), count in counted.items() if method == "other") == 1


def test_nothing_that_a_person_wrote_is_a_label(client: TestClient) -> None:
    for asked in ("/api/plans/mine?search=mine", "/mine", "/static/mine", "/api/links/mine"):
        client.request("GET", asked, headers={"X-Request-Id": "mine", "User-Agent": "mine"})
        client.request("MINE", asked)
    assert "mine" not in client.get("/metrics").text.lower()


def test_each_time_falls_in_a_bucket(client: TestClient) -> None:
    for _ in range(3):
        client.get("/api/parts")
    found = figures(client)
    assert found["wheelwork_request_seconds_count"][("GET", "/api/parts")] == 3
    assert found["wheelwork_request_seconds_bucket"][("+Inf", "GET", "/api/parts")] == 3
    assert found["wheelwork_requests_running"][()] == 1  # this question itself


def test_revisions_are_counted_where_they_are_written(client: TestClient) -> None:
    id = client.post("/api/plans", json=PLAN).json()["id"]
    for expected in (200, 412, 412):
        assert client.put(f"/api/plans/{id}", json=PLAN, headers={"If-Match": '"1"'}).status_code == expected
    assert client.put("/api/plans/unknown", json=PLAN, headers={"If-Match": '"1"'}).status_code == 404
    found = figures(client)
    assert found["wheelwork_revisions_kept_total"][()] == 2
    assert found["wheelwork_revisions_overtaken_total"][()] == 2


def test_searches_that_run_are_counted(client: TestClient, app: FastAPI) -> None:
    heard = []
    told = app.state.searches.tell_running

    def tell(count: int) -> None:
        heard.append(count)
        told(count)

    app.state.searches.tell_running = tell
    asked = {"plan": {"part": "turnstone-58", "in_use": ["processor"]}}
    assert client.post("/api/find", json=asked, headers={"Prefer": "wait=60"}).status_code == 200
    assert [count for count, _ in groupby(heard)] == [0, 1, 0]
    assert figures(client)["wheelwork_searches_running"][()] == 0
    told(3)
    assert figures(client)["wheelwork_searches_running"][()] == 3


def test_a_shelf_that_does_not_answer_is_down(tmp_path: Path) -> None:
    (tmp_path / "shelf.db").write_bytes(b"this is no shelf at all" * 100)
    with TestClient(make_app(Settings(data=tmp_path))) as broken:
        assert figures(broken)["wheelwork_shelf_up"][()] == 0


def test_a_shelf_that_answers_is_up(client: TestClient) -> None:
    assert figures(client)["wheelwork_shelf_up"][()] == 1


COUNTING = """
import os, sys
from wheelwork.watch.figures import Figures
figures = Figures("1")
for _ in range(int(sys.argv[1])):
    figures.tell("kept")
figures.searches.set(int(sys.argv[1]))
figures.shelf.set(1)
if sys.argv[2] == "tell":
    sys.stdout.write(figures.text().decode())
"""


def test_processes_on_one_port_add_up_and_one_that_has_ended_is_not_busy(tmp_path: Path) -> None:
    """Two processes after each other: what was kept is 3 + 4, the searches of the first ended with it."""
    told = ""
    for count, act in (("3", "end"), ("4", "tell")):
        told = subprocess.run(
            [sys.executable, "-c", COUNTING, count, act],
            env={"PROMETHEUS_MULTIPROC_DIR": str(tmp_path), "PYTHONPATH": ":".join(sys.path)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
    found = read(told)
    assert found["wheelwork_revisions_kept_total"][()] == 7
    assert found["wheelwork_searches_running"][()] == 4
    assert found["wheelwork_shelf_up"][()] == 1
