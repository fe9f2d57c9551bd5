"""Searches aside: beside each other, in turn, stopped, out of time; a worker that is lost takes no other search along.

What a search does here is its plan's name (`slow_worker`), so that it takes as long as the test needs.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from wheelwork.find.question import Question
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.plan import Fitted, Plan
from wheelwork.searches import Full, Search, Searches
from wheelwork.searches import searches as room

SHEET = Path(__file__).resolve().parents[2] / "scenarios" / "parts" / "turnstone-58.toml"
SLOW = "tests.searches.slow_worker"
LONG = 60.0  # far longer than any test waits


def turnstone() -> Part:
    part, problems = read_sheet(SHEET.read_text("utf-8"))
    assert part is not None, problems
    return part


PART = turnstone()


def question(does: str) -> Question:
    return Question(part=PART, plan=Plan(name=does, core_voltage="full"))


@pytest.fixture
def searches() -> Iterator[Searches]:
    running = Searches(worker=SLOW, grace=2)
    yield running
    running.close()


def seen(searches: Searches, id: str) -> Search:
    found = searches.look(id)
    assert found is not None
    return found


def ended(searches: Searches, id: str) -> Search:
    found = searches.wait(id, 20)
    assert found is not None
    assert found.settled, found
    return found


def until_it_runs(searches: Searches, id: str) -> Search:
    ends = time.monotonic() + 20
    while seen(searches, id).progress is None and time.monotonic() < ends:
        time.sleep(0.01)
    return seen(searches, id)


def children() -> set[int]:
    """The processes whose parent is this one, by the kernel's own list."""
    listed = Path(f"/proc/{os.getpid()}/task").glob("*/children")
    return {int(pid) for path in listed for pid in path.read_text().split()}


def test_an_answer_comes_back_with_the_servers_own_part(searches: Searches) -> None:
    asked = question("answer")
    found = ended(searches, searches.start(asked, LONG))
    assert (found.state, found.why) == ("done", "")
    assert found.answer is not None
    assert found.answer.answer.question == asked
    assert found.answer.answer.question.part is PART
    assert 0 < found.seconds < LONG


def test_a_real_worker_finds_what_the_search_finds() -> None:
    """8 MHz · 29 / 4 = 58 MHz, with 232 MHz in the VCO's 84 to 276 MHz: the sheet allows the core no more."""
    searches = Searches()
    try:
        fitted = {"crystal": Fitted(Fraction(8_000_000))}
        plan = Plan(core_voltage="full", in_use=("processor",), fitted=fitted)
        found = ended(searches, searches.start(Question(part=PART, plan=plan, top=1), LONG))
    finally:
        searches.close()
    assert found.answer is not None
    assert (found.answer.answer.fits, found.answer.answer.complete) == (True, True)
    assert found.answer.answer.solutions[0].core == 58_000_000


def test_nothing_is_started_before_the_first_search() -> None:
    before = children()
    Searches()
    look = "print(*{'multiprocessing', 'wheelwork.searches.line', 'wheelwork.find.search'} & set(sys.modules))"
    code = f"import sys, wheelwork.app; wheelwork.app.make_app(); {look}"
    asked = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (asked.stdout.split(), children()) == ([], before)


def test_a_search_tells_how_far_it_is(searches: Searches) -> None:
    id = searches.start(question("spin"), LONG)
    running = until_it_runs(searches, id)
    assert (running.state, running.limit) == ("running", LONG)
    assert running.progress is not None
    assert running.progress.fit == 12
    assert running.seconds > 0


def test_two_run_at_once_and_the_third_waits_in_turn(searches: Searches) -> None:
    ids = [searches.start(question("spin"), LONG) for _ in range(3)]
    for id in ids[:2]:
        until_it_runs(searches, id)
    assert [seen(searches, id).state for id in ids] == ["running", "running", "waiting"]
    searches.stop(ids[0])
    assert until_it_runs(searches, ids[2]).state == "running"


def test_a_stopped_search_keeps_what_it_found(searches: Searches) -> None:
    id = searches.start(question("spin"), LONG)
    until_it_runs(searches, id)
    searches.stop(id)
    found = ended(searches, id)
    assert found.state == "stopped"
    assert found.answer is not None
    assert (found.answer.answer.admissible, found.answer.answer.complete) == (12, False)
    searches.stop(id)
    assert seen(searches, id) == found


def test_a_stop_is_for_one_search_and_not_for_the_next(searches: Searches) -> None:
    first = searches.start(question("spin"), LONG)
    until_it_runs(searches, first)
    searches.stop(first)
    second = searches.start(question("spin"), 0.5)
    assert ended(searches, second).state == "done"
    assert seen(searches, second).seconds >= 0.5


def test_a_search_that_waits_can_be_stopped_too(searches: Searches) -> None:
    ids = [searches.start(question("spin"), LONG) for _ in range(3)]
    searches.stop(ids[2])
    found = seen(searches, ids[2])
    assert (found.state, found.answer, found.seconds) == ("stopped", None, 0)


def test_a_search_ends_by_its_limit_and_that_is_an_answer(searches: Searches) -> None:
    found = ended(searches, searches.start(question("spin"), 0.3))
    assert found.state == "done"
    assert found.answer is not None
    assert found.answer.answer.complete is False


@pytest.mark.parametrize(
    ("does", "why"),
    [
        ("die", "its process ended before it had an answer"),
        ("fail", "it came to an end that it should not have; the server's log says where"),
        ("hang", "it did not end in its time, and its process was ended"),
        ("grow", "it needed more than 2 GB of memory"),
    ],
)
def test_a_search_that_is_lost_says_why_and_the_next_is_answered(searches: Searches, does: str, why: str) -> None:
    lost = ended(searches, searches.start(question(does), 0.5))
    assert (lost.state, lost.answer, lost.why) == ("failed", None, why)
    assert ended(searches, searches.start(question("answer"), LONG)).state == "done"


def test_a_fault_in_a_worker_is_one_line_of_the_log(
    searches: Searches, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WHEELWORK_LOG_FORMAT", "json")
    ended(searches, searches.start(question("fail"), LONG))
    (line,) = capfd.readouterr().err.splitlines()
    assert "ArithmeticError: on purpose" in json.loads(line)["fault"]


def test_a_worker_killed_from_outside_is_replaced(searches: Searches) -> None:
    before = children()
    id = searches.start(question("spin"), LONG)
    until_it_runs(searches, id)
    (worker,) = children() - before
    os.kill(worker, signal.SIGKILL)
    assert ended(searches, id).state == "failed"
    assert ended(searches, searches.start(question("answer"), LONG)).state == "done"


def test_one_that_hangs_is_stopped_without_an_answer(searches: Searches) -> None:
    before = children()
    id = searches.start(question("hang"), LONG)
    while not children() - before:
        time.sleep(0.01)
    searches.stop(id)
    found = ended(searches, id)
    assert (found.state, found.answer) == ("stopped", None)


def test_when_the_turn_is_full_it_is_said(searches: Searches, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "MOST_IN_TURN", 3)
    for _ in range(2):
        until_it_runs(searches, searches.start(question("spin"), LONG))
    for _ in range(3):
        searches.start(question("spin"), LONG)
    with pytest.raises(Full) as refused:
        searches.start(question("spin"), LONG)
    assert refused.value.problem.sentence() == (
        "search: 3 searches wait in turn already; ask again in a minute, or stop one of yours"
    )


def test_only_so_many_answers_are_kept_and_none_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    searches = Searches(worker=SLOW, now=lambda: clock[0])
    monkeypatch.setattr(room, "MOST_KEPT", 2)
    try:
        ids = []
        for _ in range(4):
            ids.append(searches.start(question("answer"), LONG))
            ended(searches, ids[-1])
            clock[0] += 1
        assert [searches.look(id) is not None for id in ids] == [False, False, True, True]
        clock[0] += room.SECONDS_KEPT
        last = searches.start(question("answer"), LONG)
        assert [searches.look(id) is not None for id in [*ids, last]] == [False, False, False, False, True]
    finally:
        searches.close()


def test_an_idle_worker_goes_home_and_another_comes_when_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "SECONDS_IDLE", 0.1)
    before, searches = children(), Searches(worker=SLOW)
    try:
        ended(searches, searches.start(question("answer"), LONG))
        ends = time.monotonic() + 20
        while children() != before and time.monotonic() < ends:
            time.sleep(0.01)
        assert children() == before
        assert ended(searches, searches.start(question("answer"), LONG)).state == "done"
    finally:
        searches.close()


def test_closing_ends_every_worker_in_the_middle_of_its_search() -> None:
    before, searches = children(), Searches(worker=SLOW)
    ids = [searches.start(question(does), LONG) for does in ("spin", "hang", "spin")]
    until_it_runs(searches, ids[0])
    began = time.monotonic()
    searches.close()
    assert time.monotonic() - began < 5
    assert children() == before
    assert {seen(searches, id).state for id in ids} == {"stopped"}
    assert ended(searches, searches.start(question("answer"), LONG)).state == "done"
    searches.close()


def test_a_worker_does_not_outlive_a_server_that_is_killed() -> None:
    code = (
        "import time\n"
        "from tests.searches.test_searches import LONG, SLOW, Searches, children, question, until_it_runs\n"
        "searches = Searches(worker=SLOW)\n"
        "until_it_runs(searches, searches.start(question('spin'), LONG))\n"
        "print(*children(), flush=True)\n"
        "time.sleep(60)\n"
    )
    paths = os.pathsep.join(path for path in sys.path if path)
    with subprocess.Popen(
        [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": paths}, stdout=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout is not None
        worker = int(server.stdout.readline())
        server.kill()
    ends = time.monotonic() + 20
    while is_running(worker) and time.monotonic() < ends:
        time.sleep(0.01)
    assert not is_running(worker)


def is_running(pid: int) -> bool:
    """Whether a process is there and has not ended; one that nobody waited for yet counts as ended."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(") ")[2][0] != "Z"
    except OSError:
        return False


def test_waiting_ends_after_its_time_and_for_an_unknown_search_at_once(searches: Searches) -> None:
    id = searches.start(question("spin"), LONG)
    began = time.monotonic()
    found = searches.wait(id, 0.2)
    assert found is not None
    assert not found.settled
    assert 0.2 <= time.monotonic() - began < 10
    assert searches.wait("nowhere", LONG) is None
    assert searches.look("nowhere") is None


def test_only_so_many_threads_wait_at_once(searches: Searches, monkeypatch: pytest.MonkeyPatch) -> None:
    id = searches.start(question("spin"), LONG)
    taken = [searches._waiting.acquire(blocking=False) for _ in range(room.MOST_WAITING)]
    assert all(taken)
    began = time.monotonic()
    assert searches.wait(id, LONG) is not None
    assert time.monotonic() - began < 5
