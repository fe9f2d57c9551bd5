"""Processes that keep plans, for the tests in which several do at once or one is killed amid it.

`python -m tests.shelf.keepers ADDRESS FOLDER` forks a child for every line that it is sent. The child keeps and revises
plans until it is killed, and says each revision once the store has acknowledged it; then `gone` is said.
"""

from __future__ import annotations

import hashlib
import os
import random
import sys
from collections.abc import Callable
from multiprocessing.synchronize import Barrier
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from sqlalchemy import select

from wheelwork.shelf.plans import Overtaken, Plans, Standing
from wheelwork.shelf.store import Store
from wheelwork.shelf.tables import PLAN_REVISIONS, PLANS

STANDING = Standing("small", "Small", None, "0" * 64, legal=True, inside=2, windows=3)


def raw_plan(name: str, seed: str) -> dict[str, Any]:
    """A plan of some kilobytes that tells whether it is whole."""
    note = hashlib.sha256(seed.encode()).hexdigest() * 60
    return {"name": name, "part": "small", "note": note, "sum": hashlib.sha256(note.encode()).hexdigest()}


def is_whole(raw: Any) -> bool:
    """Whether nothing of a plan is missing."""
    return bool(hashlib.sha256(raw["note"].encode()).hexdigest() == raw["sum"])


def kept_numbers(store: Store, whole: Callable[[Any], bool] = is_whole) -> dict[str, list[int]]:
    """The revisions of every plan, each of which was read: whole, its numbers as its plan's row says."""
    plans = Plans(store)
    with store.reading() as connection:
        rows = connection.execute(select(PLANS.c.id, PLANS.c.latest)).all()
        owners = set(connection.execute(select(PLAN_REVISIONS.c.plan_id).distinct()).scalars())
    latest: dict[str, int] = {row.id: row.latest for row in rows}
    assert owners == set(latest)
    numbers = {}
    for id in latest:
        revisions = plans.revisions(id)
        numbers[id] = [each.revision for each in revisions][::-1]
        assert all(whole(each.raw) for each in revisions)
        entry = plans.entry(id)
        assert (entry.revision, entry.kept_by, entry.kept_at) == (
            latest[id],
            revisions[0].kept_by,
            revisions[0].kept_at,
        )
    return numbers


def race(address: str, folder: str, id: str, rounds: int, barrier: Barrier, said: SimpleQueue[Any]) -> None:
    """Keep the next revision of a plan in the same moment as others do, again and again; say how each time ended."""
    plans = Plans(_store(address, folder))
    plans.opened(id)
    for worked_on in range(1, rounds + 1):
        barrier.wait(60)
        raw = raw_plan(id, f"{os.getpid()} {worked_on}")
        try:
            made = plans.revise(id, raw, str(os.getpid()), STANDING, worked_on).revision
        except Overtaken as overtaken:
            made = -overtaken.present.revision
        said.put((worked_on, os.getpid(), made))


def prepare(address: str, folder: str, barrier: Barrier, said: SimpleQueue[Any]) -> None:
    """Ask a store for the first time in the same moment as others do."""
    store = _store(address, folder)
    barrier.wait(60)
    store.ask()
    said.put(os.getpid())


def keep_on(address: str, folder: str, say: int, seed: int) -> None:
    """Keep plans of one's own and revise them, until killed; who keeps is the seed."""
    plans, chance = Plans(_store(address, folder)), random.Random(seed)
    mine: dict[str, int] = {}
    while True:
        id, name = (chance.choice(list(mine)) if mine and chance.random() < 0.8 else ""), f"Run {seed}"
        raw = raw_plan(name, f"{seed} {len(mine)} {mine.get(id)}")
        if id:
            made = plans.revise(id, raw, str(seed), STANDING, mine[id])
        else:
            made = plans.keep(raw, str(seed), STANDING)
        mine[made.id] = made.revision
        os.write(say, f"{made.id} {made.revision}\n".encode())


def _store(address: str, folder: str) -> Store:
    return Store(address, Path(folder) if folder else None)


def main(address: str, folder: str) -> None:
    """Fork a child for each line; what all of them need is loaded before."""
    first = _store(address, folder)
    first.ask()
    first.close()
    for line in sys.stdin:
        child = os.fork()
        if not child:
            keep_on(address, folder, 1, int(line))
        os.write(1, f"{child}\n".encode())
        os.waitpid(child, 0)
        os.write(1, b"gone\n")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
