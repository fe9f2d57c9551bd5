"""Processes killed amid keeping (SIGKILL): what was acknowledged is there, and nothing is half."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import text

from tests.served import served
from tests.shelf.keepers import kept_numbers
from wheelwork.shelf.store import Store, open_store

KILLS = 100
SERVER_KILLS = 3
PLAN = {"part": "turnstone-58", "in_use": ["processor"]}


@contextmanager
def forking(store: Store) -> Iterator[subprocess.Popen[str]]:
    """A process that forks one that keeps for every line."""
    line = [sys.executable, "-m", "tests.shelf.keepers", store.url, str(store.folder or "")]
    around = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    with subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=around) as process:
        yield process
        assert process.stdin is not None
        process.stdin.close()


def killed_after(process: subprocess.Popen[str], seed: int, chance: random.Random) -> list[tuple[str, int]]:
    """What one that keeps had acknowledged when it was killed, at a moment left to chance."""
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(f"{seed}\n")
    process.stdin.flush()
    before = chance.randrange(6)
    said = [process.stdout.readline() for _ in range(2 + before)]
    time.sleep(chance.random() * 0.006)
    child = next(int(line) for line in said if " " not in line)
    os.kill(child, signal.SIGKILL)
    while said[-1] != "gone\n":
        said.append(process.stdout.readline())
    words = [line.split() for line in said if " " in line]
    return [(id, int(number)) for id, number in words]


def assert_all_there(numbers: dict[str, list[int]], acknowledged: dict[str, set[int]]) -> None:
    """What is kept has no gap, and is what was acknowledged, and at most the one that was under way."""
    for id, present in numbers.items():
        assert present == list(range(1, len(present) + 1)), "no gap and none twice"
        assert len(set(present) - acknowledged.get(id, set())) <= 1
    for id, said in acknowledged.items():
        assert said <= set(numbers[id])


def test_what_was_acknowledged_is_there_after_a_hundred_kills(store: Store) -> None:
    chance = random.Random(6)
    acknowledged: dict[str, set[int]] = {}
    with forking(store) as process:
        for seed in range(KILLS):
            for id, number in killed_after(process, seed, chance):
                acknowledged.setdefault(id, set()).add(number)
    assert sum(map(len, acknowledged.values())) >= KILLS
    assert_all_there(kept_numbers(store), acknowledged)
    if store.embedded:
        with store.reading() as connection:
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
            assert connection.execute(text("PRAGMA foreign_key_check")).all() == []


def keep_over_http(address: str, name: str, acknowledged: dict[str, set[int]]) -> None:
    """Keep a plan and revise it until the server is gone."""
    path, headers = "/api/plans", {"Content-Type": "application/json"}
    method = "POST"
    while True:
        body = json.dumps({"plan": {**PLAN, "name": name, "owner": name}, "kept_by": name}).encode()
        try:
            with urllib.request.urlopen(urllib.request.Request(address + path, body, headers, method=method)) as answer:
                made = json.load(answer)
        except (OSError, http.client.HTTPException, ValueError):
            return
        acknowledged.setdefault(made["id"], set()).add(made["revision"])
        path, method = f"/api/plans/{made['id']}", "PUT"
        headers["If-Match"] = f'"{made["revision"]}"'


def test_a_server_killed_amid_keeping_has_kept_what_it_acknowledged(tmp_path: Path) -> None:
    acknowledged: dict[str, set[int]] = {}
    chance = random.Random(7)
    for kill in range(SERVER_KILLS):
        with served(DATA=str(tmp_path), LOG="error") as (process, connection):
            address = f"http://127.0.0.1:{connection.port}"
            arguments = [(address, f"Run {kill} of {number}", acknowledged) for number in range(3)]
            keeping = [threading.Thread(target=keep_over_http, args=each) for each in arguments]
            for each in keeping:
                each.start()
            while len(acknowledged) < 3 * (kill + 1):
                time.sleep(0.01)
            time.sleep(chance.random() * 0.2)
            process.kill()
            for each in keeping:
                each.join()
    store = open_store(tmp_path)
    assert len(acknowledged) == 3 * SERVER_KILLS
    assert_all_there(kept_numbers(store, lambda raw: raw["name"] == raw["owner"]), acknowledged)
    store.close()
