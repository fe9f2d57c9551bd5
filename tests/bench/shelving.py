"""The shelf: many who read while some keep, and a shelf of 20 000 plans listed, searched and opened.

What was acknowledged is looked up afterwards: a revision that is lost, or there twice, counts as an error.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import urlencode

from sqlalchemy import insert, select

from tests.bench.measure import percentile
from tests.demo import PLANS as DEMO_PLANS
from tests.demo import load_demo
from tests.postgres import running_cluster
from tests.served import served
from wheelwork.judge import judge
from wheelwork.plan.writing import write_plan
from wheelwork.shelf.plans import Standing, standing_of
from wheelwork.shelf.store import Store, open_store
from wheelwork.shelf.tables import PLAN_REVISIONS, PLANS
from wheelwork.shelf.ways import write_way

Line = tuple[str, str, str]
READERS, KEEPERS = 50, 10
SECONDS = float(os.environ.get("SHELVING_SECONDS", "15"))
"""How long readers and keepers work; 60 for the figures that are told."""
MANY, REVISIONS = 20_000, 5
ROUNDS = 40
GOAL = "100 ms"
PLACES = ("Tide gauge", "Fog signal", "Lock gate", "Pier head", "Storm watch", "Harbour lamp", "Ferry ramp")


def measure() -> Iterator[Line]:
    """The lines of this part of the table."""
    yield from _on_both(_many_at_once)
    yield from _on_both(_long_shelf)


def _on_both(part: Any) -> Iterator[Line]:
    yield from part("SQLite", "")
    with running_cluster() as cluster, cluster.database() as address:
        yield from part("PostgreSQL", address)


@dataclass
class Heard:
    """What clients were answered: the times (ms) of readers and keepers, what was acknowledged, what went wrong."""

    reading: list[float] = field(default_factory=list)
    keeping: list[float] = field(default_factory=list)
    kept: dict[str, list[int]] = field(default_factory=dict)
    overtaken: int = 0
    wrong: list[str] = field(default_factory=list)


def _many_at_once(kind: str, database: str) -> Iterator[Line]:
    """50 read and 10 keep, two processes on one port; every keeper shares its plan with another."""
    with TemporaryDirectory() as folder:
        _fill(open_store(Path(folder), database), 200, 2)
        heard = Heard()
        with served("--workers", "2", DATA=folder, DATABASE=database, LOG="error") as (_, link):
            _let_work(link.port, heard)
        wrong = [*heard.wrong, *_missing(open_store(Path(folder), database), heard.kept)]
    what = f"shelf, {READERS} read and {KEEPERS} keep for {SECONDS:.0f} s, 2 workers, {kind}"
    yield f"{what}: errors, lost, doubled", str(len(wrong)), "0"
    for each in wrong[:5]:
        yield f"  {each}", "", ""
    count = sum(map(len, heard.kept.values()))
    yield f"{what}: read, kept, overtaken", f"{len(heard.reading)}, {count}, {heard.overtaken}", ""
    for name, times, goal in (("reading", heard.reading, GOAL), ("keeping", heard.keeping, "")):
        yield f"{what}: {name}, p50", f"{percentile(times, 0.5):.0f} ms", ""
        yield f"{what}: {name}, p95", f"{percentile(times, 0.95):.0f} ms", goal


def _let_work(port: int, heard: Heard) -> None:
    for number in range(KEEPERS // 2):
        _ask(http.client.HTTPConnection("127.0.0.1", port), "POST", "/api/plans", _body(f"Shared {number}", 0))
        heard.kept[f"shared-{number}"] = [1]
    ends = time.monotonic() + SECONDS
    work = [threading.Thread(target=_read, args=(port, seed, ends, heard)) for seed in range(READERS)]
    work += [threading.Thread(target=_keep, args=(port, seed, ends, heard)) for seed in range(KEEPERS)]
    for each in work:
        each.start()
    for each in work:
        each.join()


def _read(port: int, seed: int, ends: float, heard: Heard) -> None:
    """As people do: look at the list, search, open a plan, look at its history; a second or two between."""
    chance, link = random.Random(seed), http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    time.sleep(chance.random() * 2)
    while time.monotonic() < ends:
        number = chance.randrange(200)
        path = chance.choice(
            (
                "/shelf",
                "/shelf?" + urlencode({"search": chance.choice(PLACES).lower()}),
                f"/shelf/plan-{number}",
                f"/api/plans/plan-{number}",
                "/api/plans?most=50",
                "/api/plans?" + urlencode({"search": chance.choice(PLACES), "most": 20}),
            )
        )
        began = time.perf_counter()
        try:
            status, _ = _ask(link, "GET", path)
        except (OSError, http.client.HTTPException) as fault:
            heard.wrong.append(f"GET {path}: {fault!r}")
            continue
        heard.reading.append((time.perf_counter() - began) * 1000)
        if status != 200:
            heard.wrong.append(f"GET {path}: {status}")
        time.sleep(0.5 + chance.random())


def _keep(port: int, seed: int, ends: float, heard: Heard) -> None:
    """Keep the next revision of a plan that one other keeps too; whoever is overtaken works on with theirs."""
    chance, link = random.Random(seed), http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    id, revision = f"shared-{seed // 2}", 1
    while time.monotonic() < ends:
        began = time.perf_counter()
        try:
            body = _body(f"Shared {seed // 2}", chance.randrange(9))
            status, told = _ask(link, "PUT", f"/api/plans/{id}", body, f'"{revision}"')
        except (OSError, http.client.HTTPException) as fault:
            heard.wrong.append(f"PUT {id}: {fault!r}")
            continue
        heard.keeping.append((time.perf_counter() - began) * 1000)
        if status == 200:
            revision = told["revision"]
            heard.kept[id].append(revision)
        elif status == 412:
            heard.overtaken += 1
            revision = _ask(link, "GET", f"/api/plans/{id}")[1]["revision"]
        else:
            heard.wrong.append(f"PUT {id}: {status} {told}")
        time.sleep(0.2 + chance.random() * 0.4)


def _body(name: str, setting: int) -> bytes:
    plan = {"part": "turnstone-58", "in_use": ["processor"], "name": name, "set": {"core": 2 ** (setting % 3)}}
    return json.dumps({"plan": plan, "kept_by": "bench"}).encode()


def _ask(
    link: http.client.HTTPConnection, method: str, path: str, body: bytes | None = None, match: str = ""
) -> tuple[int, Any]:
    headers = {"Accept-Encoding": "gzip"} if body is None else {"Content-Type": "application/json", "If-Match": match}
    link.request(method, path, body, headers)
    answer = link.getresponse()
    said = answer.read()
    plain = answer.headers.get("Content-Encoding") is None and "json" in answer.headers.get("Content-Type", "")
    return answer.status, json.loads(said) if plain else None


def _missing(store: Store, kept: dict[str, list[int]]) -> list[str]:
    """What was acknowledged and is not there, or is twice, or there unasked."""
    wrong = []
    with store.reading() as connection:
        for id, acknowledged in kept.items():
            question = select(PLAN_REVISIONS.c.number).where(PLAN_REVISIONS.c.plan_id == id)
            there = sorted(connection.execute(question).scalars())
            latest = connection.execute(select(PLANS.c.latest).where(PLANS.c.id == id)).scalar_one()
            if sorted(acknowledged) != there or there != list(range(1, latest + 1)):
                wrong.append(f"{id}: acknowledged {len(acknowledged)}, there {len(there)}, latest {latest}")
    store.close()
    return wrong


def _long_shelf(kind: str, database: str) -> Iterator[Line]:
    """A shelf of 20 000 plans with 5 revisions each, asked by one client."""
    with TemporaryDirectory() as folder:
        began = time.perf_counter()
        _fill(open_store(Path(folder), database), MANY, REVISIONS)
        what = f"shelf of {MANY} plans with {REVISIONS} revisions each, {kind}"
        yield f"{what}: filled", f"{time.perf_counter() - began:.1f} s", ""
        with served(DATA=folder, DATABASE=database, LOG="error") as (_, link):
            for name, paths in _questions():
                times = []
                for path in paths:
                    began = time.perf_counter()
                    status, _ = _ask(link, "GET", path)
                    times.append((time.perf_counter() - began) * 1000)
                    assert status == 200, path
                yield f"{what}: {name}, p50", f"{percentile(times, 0.5):.0f} ms", ""
                yield f"{what}: {name}, p95", f"{percentile(times, 0.95):.0f} ms", GOAL


def _questions() -> Iterator[tuple[str, list[str]]]:
    """What is asked, each with its addresses; no page is asked twice but the first."""
    chance = random.Random(1)
    some = [chance.randrange(MANY) for _ in range(ROUNDS)]
    words = [f"{chance.choice(PLACES)} {number % 100}" for number in some]
    yield "the first page of the list", ["/shelf"] * ROUNDS
    yield "another page of the list", [f"/shelf?page={2 + number % 398}" for number in some]
    yield "searching on the page", [f"/shelf?{urlencode({'search': each})}" for each in words]
    yield "nothing found on the page", [f"/shelf?{urlencode({'search': f'nowhere {each}'})}" for each in words]
    yield "history of a plan", [f"/shelf/plan-{number}" for number in some]
    yield "listing 50 as JSON", [f"/api/plans?most=50&skip={number - number % 50}" for number in some]
    yield "searching as JSON", [f"/api/plans?{urlencode({'search': each, 'most': 50})}" for each in words]
    yield "opening as JSON", [f"/api/plans/plan-{number}" for number in some]


def _fill(store: Store, plans: int, revisions: int) -> None:
    """Plans of all demo's parts, put in at once; their settings as the demo has them."""
    examples = []
    for path in DEMO_PLANS:
        part, plan = load_demo(path.stem)
        examples.append((write_plan(plan, part), standing_of(judge(part, plan))))
    with store.writing() as connection:
        for start in range(0, plans, 1000):
            numbers = range(start, min(start + 1000, plans))
            connection.execute(insert(PLANS), [_plan_row(number, revisions, examples) for number in numbers])
            rows = [_revision_row(number, each, examples) for number in numbers for each in range(1, revisions + 1)]
            connection.execute(insert(PLAN_REVISIONS), rows)
        if not store.embedded:
            connection.exec_driver_sql("ANALYZE")
    store.close()


Examples = list[tuple[dict[str, Any], Standing]]


def _named(number: int) -> tuple[str, str]:
    return f"{PLACES[number % len(PLACES)]} {number}", f"bench {number % 12}"


def _plan_row(number: int, revisions: int, examples: Examples) -> dict[str, Any]:
    name, kept_by = _named(number)
    standing = examples[number % len(examples)][1]
    return {
        "id": f"plan-{number}",
        "latest": revisions,
        "name": name,
        "search": f"{name} {standing.part_name} {standing.part} {kept_by}".casefold(),
        "part_name": standing.part_name,
        **_common(number, revisions, standing, kept_by),
    }


def _revision_row(number: int, revision: int, examples: Examples) -> dict[str, Any]:
    name, kept_by = _named(number)
    raw, standing = examples[number % len(examples)]
    return {
        "plan_id": f"plan-{number}",
        "number": revision,
        "text": json.dumps({**raw, "name": name, "board_revision": f"{number}.{revision}"}),
        "sheet_revision": None,
        "sheet_hash": standing.sheet_hash,
        "way": None if standing.way is None else write_way(standing.way),
        **_common(number, revision, standing, kept_by),
    }


def _common(number: int, revision: int, standing: Standing, kept_by: str) -> dict[str, Any]:
    return {
        "part": standing.part,
        "kept_at": 1.7e9 + 60 * number + revision,
        "kept_by": kept_by,
        "legal": standing.legal,
        "inside": standing.inside,
        "windows": standing.windows,
    }
