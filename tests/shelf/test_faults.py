"""A full disk, a folder that can only be read, a stopped database: told with 503, reading goes on, nothing half."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from tests.demo import load_demo
from tests.postgres import Cluster
from tests.shelf.disks import filled, only_readable, small_disk, without_roots_rights
from tests.shelf.keepers import STANDING, kept_numbers, raw_plan
from wheelwork.app import make_app
from wheelwork.pages.plan import permalink_of
from wheelwork.settings import Settings
from wheelwork.shelf.file import BUSY, FULL, READ_ONLY
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.store import FILE, ShelfFault, open_store

PART, DEMO = load_demo("01-skerry-3-steady-running")
HTML = {"accept": "text/html"}
Around = Callable[[Path], Any]


def plan(name: str) -> dict[str, Any]:
    return {"part": "turnstone-58", "in_use": ["processor"], "name": name}


def link(name: str) -> str:
    return permalink_of(replace(DEMO, name=name), PART)


def desk_of(folder: Path, database: str = "") -> TestClient:
    """A server that has just started, its shelf in a folder or a database."""
    return TestClient(make_app(Settings(data=folder, database=database)))


def keep(desk: TestClient, name: str = "Tide gauge") -> Any:
    return desk.post("/api/plans", json={"plan": plan(name), "kept_by": "bench"})


def revise(desk: TestClient, worked_on: int) -> Any:
    body = {"plan": plan("Tide gauge"), "kept_by": f"bench {worked_on}"}
    return desk.put("/api/plans/tide-gauge", json=body, headers={"If-Match": f'"{worked_on}"'})


def assert_told(answer: Any, what: str) -> None:
    """The answer of a shelf that is away or cannot be written: a sentence, and when to ask again."""
    assert answer.status_code == 503
    assert [problem["what"] for problem in answer.json()["problems"]] == [what]
    assert int(answer.headers["Retry-After"]) > 0


def assert_reads(desk: TestClient, revision: int) -> None:
    """The shelf is read as ever."""
    assert [each["revision"] for each in desk.get("/api/plans").json()] == [revision]
    assert desk.get("/api/plans/tide-gauge").json()["plan"]["name"] == "Tide gauge"
    assert len(desk.get("/api/plans/tide-gauge/revisions").json()) == revision
    for path in ("/shelf", "/shelf/tide-gauge"):
        page = desk.get(path, headers=HTML)
        assert (page.status_code, "Tide gauge" in page.text) == (200, True)
    assert desk.get("/readyz").status_code == 200


def assert_plans_work(desk: TestClient) -> None:
    """The pages that need no shelf answer, and a plan can be judged."""
    for path in ("/", "/healthz", "/api/parts"):
        assert desk.get(path).status_code == 200
    assert desk.get("/plan", params={"plan": link("Other")}).status_code == 200
    assert desk.post("/plan", data={"plan": link("Other"), "set.slow_bus": "4"}).status_code == 200
    assert desk.post("/api/check", json={"plan": plan("Other")}).status_code == 200


def assert_page_tells(desk: TestClient, what: str) -> None:
    """Keeping from the page says why it failed, and what was typed stays."""
    data = {"plan": link("Typed"), "opened": "", "before": "", "keep": "yes", "set.slow_bus": "4"}
    page = desk.post("/plan", data=data, follow_redirects=False)
    assert page.status_code == 200
    assert f"Not kept: {what}" in unescape(page.text)
    assert 'value="4"' in page.text


def whole(folder: Path, database: str = "") -> dict[str, list[int]]:
    """The numbers of all revisions, each read."""
    store = open_store(folder, database)
    numbers = kept_numbers(store, lambda raw: raw["part"] == "turnstone-58")
    store.close()
    return numbers


@contextmanager
def no_folder(folder: Path) -> Iterator[None]:
    with only_readable(folder):
        yield


@contextmanager
def no_file(folder: Path) -> Iterator[None]:
    with only_readable(folder / FILE):
        yield


@contextmanager
def neither(folder: Path) -> Iterator[None]:
    with only_readable(folder, folder / FILE):
        yield


@pytest.mark.parametrize("around", [no_folder, no_file, neither])
def test_a_shelf_that_can_only_be_read_is_read(tmp_path: Path, around: Around) -> None:
    folder = tmp_path / "shelf"

    def work() -> None:
        desk = desk_of(folder)
        assert keep(desk).status_code == 201
        with around(folder):
            for each in (desk, desk_of(folder)):  # one that was there before, one that starts now
                assert_told(revise(each, 1), READ_ONLY.what)
                assert_told(keep(each, "Another"), READ_ONLY.what)
                assert_told(each.post("/api/plans/tide-gauge/retire"), READ_ONLY.what)
                assert_page_tells(each, READ_ONLY.what)
                assert_reads(each, 1)
                assert_plans_work(each)
        assert revise(desk, 1).status_code == 200
        assert_reads(desk, 2)

    without_roots_rights(work)
    assert whole(folder) == {"tide-gauge": [1, 2]}


def test_a_shelf_on_a_full_disk_is_read(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 800) as folder:
        desk = desk_of(folder)
        assert keep(desk).status_code == 201
        with filled(folder):
            for each in (desk, desk_of(folder)):
                assert_told(revise(each, 1), FULL.what)
                assert_told(keep(each, "Another"), FULL.what)
                assert_page_tells(each, FULL.what)
                assert_reads(each, 1)
                assert_plans_work(each)
        assert revise(desk, 1).status_code == 200
        assert_reads(desk, 2)
        assert whole(folder) == {"tide-gauge": [1, 2]}


def test_a_disk_that_fills_up_amid_keeping_has_what_was_acknowledged(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 600) as folder, closing(open_store(folder)) as store:
        plans, latest = Plans(store), 1
        plans.keep(raw_plan("Tide gauge", "first"), "bench", STANDING)
        told = None
        while told is None:
            try:
                plans.revise("tide-gauge", raw_plan("Tide gauge", str(latest)), "bench", STANDING, latest)
                latest += 1
            except ShelfFault as fault:
                told = fault.problem
        assert told == FULL
        assert kept_numbers(store) == {"tide-gauge": list(range(1, latest + 1))}


def test_a_file_that_may_not_grow_tells_it_and_is_read(tmp_path: Path) -> None:
    """The same without a disk of its own: SQLite refuses every page beyond those that are there (SQLITE_FULL)."""
    desk = desk_of(tmp_path)
    keep(desk)
    store = desk.app.state.store  # type: ignore[attr-defined]

    def hold(connection: Any, record: Any) -> None:
        connection.execute("PRAGMA max_page_count=1")

    event.listen(store.engine, "connect", hold)
    latest = 1
    while (answer := revise(desk, latest)).status_code == 200:
        latest += 1
    assert_told(answer, FULL.what)
    assert_page_tells(desk, FULL.what)
    assert_reads(desk, latest)
    event.remove(store.engine, "connect", hold)
    assert revise(desk, latest).status_code == 200
    assert whole(tmp_path) == {"tide-gauge": list(range(1, latest + 2))}


def test_a_shelf_that_another_writes_for_long_is_busy_and_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = desk_of(tmp_path)
    keep(desk)
    monkeypatch.setattr("wheelwork.shelf.file.SECONDS_FOR_A_LOCK", 0.05)
    store = open_store(tmp_path)
    with store.writing():
        assert_told(revise(desk, 1), BUSY.what)
        assert_reads(desk, 1)
    assert revise(desk, 1).status_code == 200


@pytest.mark.parametrize("how", ["fast", "immediate"])
def test_a_database_that_is_stopped_and_started_is_used_again(
    cluster: Cluster, database_url: str, tmp_path: Path, how: str
) -> None:
    with ExitStack() as ends:

        def begin() -> TestClient:
            desk = desk_of(tmp_path, database_url)
            ends.callback(desk.app.state.store.close)  # type: ignore[attr-defined]
            return desk

        desk = begin()
        assert keep(desk).status_code == 201
        assert_reads(desk, 1)
        cluster.stop(how)
        try:
            begun_meanwhile = begin()
            for each in (desk, begun_meanwhile):
                assert_away(each)
        finally:
            cluster.start()
        assert_reads(desk, 1)
        assert revise(desk, 1).status_code == 200
        assert_reads(begun_meanwhile, 2)
        assert revise(begun_meanwhile, 2).status_code == 200
    assert whole(tmp_path, database_url) == {"tide-gauge": [1, 2, 3]}


def assert_away(desk: TestClient) -> None:
    """Whatever needs the shelf says that it is away; all else works."""
    away = "the shelf's database does not answer"
    for path in ("/api/plans", "/api/plans/tide-gauge", "/api/sheets", "/readyz"):
        assert_told(desk.get(path), away)
    assert_told(revise(desk, 1), away)
    page = desk.get("/shelf", headers=HTML)
    assert (page.status_code, away in unescape(page.text)) == (503, True)
    assert_page_tells(desk, away)
    assert_plans_work(desk)
