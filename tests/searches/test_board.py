"""Several processes of one server: each knows the searches of the others, looks at them, waits for them, stops them."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.searches.test_searches import LONG, SLOW, ended, question, seen, until_it_runs
from wheelwork.searches import Searches
from wheelwork.searches import searches as room
from wheelwork.searches.board import Board


@pytest.fixture
def two(tmp_path: Path) -> Iterator[tuple[Searches, Searches]]:
    both = Searches(worker=SLOW, board=Board(tmp_path)), Searches(worker=SLOW, board=Board(tmp_path))
    yield both
    for each in both:
        each.close()


def test_a_search_is_seen_from_the_other_process(two: tuple[Searches, Searches]) -> None:
    one, other = two
    id = one.start(question("spin"), LONG)
    until_it_runs(one, id)
    running = until_it_runs(other, id)
    assert (running.state, running.limit, running.progress is not None) == ("running", LONG, True)
    assert 0 < running.seconds < LONG
    assert other.look("a" * 16) is None


def test_it_is_waited_for_and_has_its_answer_there(two: tuple[Searches, Searches]) -> None:
    one, other = two
    id = one.start(question("spin"), 0.5)
    found = ended(other, id)
    assert found == seen(one, id)
    assert found.answer is not None


@pytest.mark.parametrize("turn", [0, 2], ids=["one that runs", "one that waits in turn"])
def test_it_is_stopped_from_there(two: tuple[Searches, Searches], turn: int) -> None:
    one, other = two
    ids = [one.start(question("spin"), LONG) for _ in range(3)]
    for id in ids[:2]:
        until_it_runs(one, id)
    other.stop(ids[turn])
    assert ended(other, ids[turn]).state == "stopped"
    assert [seen(one, id).state == "stopped" for id in ids] == [place == turn for place in range(3)]


@pytest.mark.parametrize("id", ["../outside.txt", "..", "", "a/b", "x" * 400, "\0" * 16])
def test_an_id_is_no_way_out_of_the_folder(tmp_path: Path, id: str) -> None:
    (tmp_path / "outside.txt").write_bytes(b"")
    (tmp_path / "board").mkdir()
    board = Board(tmp_path / "board")
    assert board.look(id, 0.0) is None
    board.ask_to_stop(id)
    assert list((tmp_path / "board").iterdir()) == []


def test_what_is_forgotten_is_taken_down_and_what_was_left_behind_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left, fresh = tmp_path / "left", tmp_path / "fresh"
    for path in (left, fresh):
        path.write_bytes(b"")
    long_ago = time.time() - 2 * room.SECONDS_KEPT - 1
    os.utime(left, (long_ago, long_ago))
    monkeypatch.setattr(room, "MOST_KEPT", 1)
    searches = Searches(worker=SLOW, board=Board(tmp_path))
    try:
        first = searches.start(question("answer"), LONG)
        ended(searches, first)
        second = searches.start(question("answer"), LONG)
        ended(searches, second)
        assert {path.name for path in tmp_path.iterdir()} == {"fresh", second}
    finally:
        searches.close()


def test_a_board_that_is_full_or_gone_hinders_no_search(tmp_path: Path) -> None:
    searches = Searches(worker=SLOW, board=Board(tmp_path / "nowhere"))
    try:
        assert ended(searches, searches.start(question("answer"), LONG)).state == "done"
    finally:
        searches.close()
