"""Several processes keep the same plan at once, and start at once on an empty store."""

from __future__ import annotations

import multiprocessing
from collections import Counter, defaultdict
from collections.abc import Callable
from typing import Any

from tests.shelf.keepers import STANDING, kept_numbers, prepare, race, raw_plan
from wheelwork.shelf.migrating import HEAD, version_of
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.store import Store

ROUNDS = 1000
SPAWN = multiprocessing.get_context("spawn")  # never a fork of a process with threads


def at_once(work: Callable[..., None], store: Store, *more: object, processes: int = 2) -> list[Any]:
    """What the processes say that start together."""
    barrier, said = SPAWN.Barrier(processes), SPAWN.Queue()
    arguments = (store.url, str(store.folder or ""), *more, barrier, said)
    started = [SPAWN.Process(target=work, args=arguments) for _ in range(processes)]
    for each in started:
        each.start()
    words = [said.get(timeout=100) for _ in range(processes * (ROUNDS if more else 1))]
    for each in started:
        each.join(20)
        assert each.exitcode == 0
        each.close()
    said.close()
    return words


def test_of_two_processes_that_keep_at_once_exactly_one_wins_each_time(store: Store) -> None:
    Plans(store).keep(raw_plan("Tide gauge", "first"), "bench", STANDING)
    ended: dict[int, list[int]] = defaultdict(list)
    won: Counter[int] = Counter()
    kept_by: dict[int, str] = {}
    for worked_on, process, made in at_once(race, store, "tide-gauge", ROUNDS):
        ended[worked_on].append(made)
        won[process] += made > 0
        if made > 0:
            kept_by[made] = str(process)
    assert sorted(ended) == list(range(1, ROUNDS + 1))
    for worked_on, made in ended.items():
        assert sorted(made) == [-(worked_on + 1), worked_on + 1], "one keeps it, the other is shown it"
    assert kept_numbers(store) == {"tide-gauge": list(range(1, ROUNDS + 2))}
    revisions = Plans(store).revisions("tide-gauge")
    assert {each.revision: each.kept_by for each in revisions} == {1: "bench", **kept_by}
    assert min(won.values()) > 0, "neither was shut out"


def test_processes_that_start_at_once_on_an_empty_store_make_its_tables_once(store: Store) -> None:
    assert len(set(at_once(prepare, store, processes=3))) == 3
    with store.reading() as connection:
        assert version_of(connection) == HEAD
