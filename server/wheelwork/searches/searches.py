"""The searches of a server: started, looked at, waited for, stopped.

Each runs in a worker process, a few at once, the rest in turn; a search ends by its answer, by its limit of time or by
being stopped, and a worker that does not keep to that is ended. Answers are kept for a while, and at most so many.
"""

from __future__ import annotations

import atexit
import logging
import secrets
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from threading import BoundedSemaphore, Condition, Thread, current_thread
from time import monotonic
from typing import TYPE_CHECKING, Any, Literal

from wheelwork.find.question import Progress, Question
from wheelwork.findings import Problem

if TYPE_CHECKING:
    from wheelwork.find.answering import FullAnswer
    from wheelwork.searches.board import Board
    from wheelwork.searches.line import Message
    from wheelwork.searches.process import Process

LOG = logging.getLogger("wheelwork.searches")

State = Literal["waiting", "running", "done", "stopped", "failed"]
SETTLED: tuple[State, ...] = ("done", "stopped", "failed")

WORKER = "wheelwork.searches.worker"
MOST_IN_TURN = 16
MOST_KEPT = 64
SECONDS_KEPT = 900.0
SECONDS_IDLE = 120.0
"""So long a worker is kept for the next search."""
SECONDS_OF_GRACE = 3.0
"""So long a search may go on after its limit, or after it was stopped, to hand over what it has."""
SECONDS_TO_START = 30.0
SECONDS_BETWEEN_LOOKS = 0.1
MOST_WAITING = 8
"""So many threads of the server may wait for answers at once; more get what there is."""


@dataclass(frozen=True, slots=True)
class Search:
    """Where a search stands: its progress while it runs, its answer at the end; `why` says why there is none.

    `seconds` are those it took so far or in all, `limit` those it may take.
    """

    id: str
    state: State
    question: Question
    limit: float
    seconds: float = 0.0
    progress: Progress | None = None
    answer: FullAnswer | None = None
    crystal: str | None = None
    why: str = ""

    @property
    def settled(self) -> bool:
        """Whether it is over."""
        return self.state in SETTLED


TOO_LATE = "it did not end in its time, and its process was ended"
LOST = "its process ended before it had an answer"


class Full(Exception):
    """So many searches wait in turn that no more are taken; `problem` says so."""

    def __init__(self) -> None:
        what = f"{MOST_IN_TURN} searches wait in turn already"
        self.problem = Problem("search", what, "ask again in a minute, or stop one of yours")
        super().__init__(self.problem.sentence())


@dataclass
class _Entry:
    """A search with what changes while it runs."""

    search: Search
    number: int
    began: float = 0.0
    ended: float = 0.0
    ends: float = 0.0
    stopping: bool = False
    told: bool = False


@dataclass
class Searches:
    """All searches of one server process; nothing is started before the first. Used from any thread.

    `worker` is the module that a worker process runs, `grace` as SECONDS_OF_GRACE. By the `board` the searches of other
    processes of the same server can be looked at and stopped as well. `tell_running` hears how many run.
    """

    at_once: int = 2
    worker: str = WORKER
    grace: float = SECONDS_OF_GRACE
    board: Board | None = None
    tell_running: Callable[[int], None] = lambda count: None
    now: Callable[[], float] = monotonic
    _entries: dict[str, _Entry] = field(default_factory=dict)
    _turn: deque[_Entry] = field(default_factory=deque)
    _hands: list[Thread] = field(default_factory=list)
    _idle: int = 0
    _number: int = 0
    _closed: bool = False

    def __post_init__(self) -> None:
        self._changed = Condition()
        self._waiting = BoundedSemaphore(MOST_WAITING)

    def start(self, question: Question, seconds: float, crystal: str | None = None) -> str:
        """Begin a search that may take so many seconds; its id, which cannot be guessed. Raises Full."""
        with self._changed:
            self._forget()
            if len(self._turn) >= MOST_IN_TURN or self._closed:
                raise Full
            self._number += 1
            search = Search(secrets.token_urlsafe(12), "waiting", question, seconds, crystal=crystal)
            entry = self._entries[search.id] = _Entry(search, self._number)
            self._turn.append(entry)
            self._change(entry)
            if self._idle < len(self._turn) and len(self._hands) < self.at_once:
                self._add_hand()
            self._changed.notify_all()
            return search.id

    def look(self, id: str) -> Search | None:
        """Where a search stands; None where there is none, or none any more."""
        with self._changed:
            entry = self._entries.get(id)
            if entry is not None:
                return self._seen(entry)
        return None if self.board is None else self.board.look(id, self.now())

    def wait(self, id: str, seconds: float) -> Search | None:
        """Where a search stands as soon as it is over, after so many seconds at the latest."""
        if self._waiting.acquire(blocking=False):
            try:
                self._wait(id, self.now() + seconds)
            finally:
                self._waiting.release()
        return self.look(id)

    def _wait(self, id: str, ends: float) -> None:
        """Until a search is over; one of another process is looked at from time to time."""
        while (search := self.look(id)) is not None and not search.settled and (left := ends - self.now()) > 0:
            with self._changed:
                own = id in self._entries
                self._changed.wait_for(lambda: self._is_over(id), left if own else min(left, SECONDS_BETWEEN_LOOKS))

    def stop(self, id: str) -> None:
        """End a search with what it has found."""
        with self._changed:
            entry = self._entries.get(id)
            if entry is None and self.board is not None:
                self.board.ask_to_stop(id)
            if entry is None or entry.stopping or entry.search.settled:
                return
            entry.stopping = True
            if entry in self._turn:
                self._turn.remove(entry)
                self._settle(entry, "stopped")
            else:
                entry.ends = min(entry.ends, self.now())

    def close(self) -> None:
        """End every search and every worker; a search asked for later begins anew."""
        with self._changed:
            self._closed = True
            hands = tuple(self._hands)
            for entry in self._entries.values():
                if not entry.search.settled:
                    self._settle(entry, "stopped")
            self._turn.clear()
            self._changed.notify_all()
        for hand in hands:
            hand.join()
        atexit.unregister(self.close)
        with self._changed:
            self._closed = False

    def _is_over(self, id: str) -> bool:
        entry = self._entries.get(id)
        return entry is not None and entry.search.settled

    def _seen(self, entry: _Entry) -> Search:
        running = entry.search.state == "running"
        return replace(entry.search, seconds=self.now() - entry.began) if running else entry.search

    def _forget(self) -> None:
        """Let go of answers that are old, or too many, and of what another process left behind."""
        if self.board is not None:
            self.board.forget_older(2 * SECONDS_KEPT)
        over = sorted((e for e in self._entries.values() if e.search.settled), key=lambda entry: entry.ended)
        for place, entry in enumerate(over):
            if len(over) - place >= MOST_KEPT or self.now() - entry.ended > SECONDS_KEPT:
                del self._entries[entry.search.id]
                if self.board is not None:
                    self.board.forget(entry.search.id)

    def _settle(self, entry: _Entry, state: State, answer: FullAnswer | None = None, why: str = "") -> None:
        entry.ended = self.now()
        seconds = entry.ended - entry.began if entry.began else 0.0
        self._change(entry, state=state, seconds=seconds, answer=answer, why=why)
        self._changed.notify_all()

    def _change(self, entry: _Entry, **changes: Any) -> None:
        entry.search = replace(entry.search, **changes)
        self.tell_running(sum(1 for each in self._entries.values() if each.search.state == "running"))
        if self.board is not None:
            self.board.post(entry.search, entry.began)

    def _add_hand(self) -> None:
        if not self._hands:
            atexit.register(self.close)
        hand = Thread(target=self._work, name="search", daemon=True)
        self._hands.append(hand)
        hand.start()

    def _work(self) -> None:
        """Have one search after the other done by a worker process, until none came for a while."""
        process: Process | None = None
        try:
            while (entry := self._next()) is not None:
                process = self._do(entry, process)
        finally:
            if process is not None:
                process.end()

    def _next(self) -> _Entry | None:
        with self._changed:
            self._idle += 1
            self._changed.wait_for(lambda: self._turn or self._closed, SECONDS_IDLE)
            self._idle -= 1
            self._forget()
            if self._closed or not self._turn:
                self._hands = [hand for hand in self._hands if hand is not current_thread()]
                return None
            return self._turn.popleft()

    def _do(self, entry: _Entry, process: Process | None) -> Process | None:
        """One search, to its end; the process for the next one, if this one can serve it."""
        from wheelwork.searches.line import Done
        from wheelwork.searches.process import Process

        told: Message | None = None
        try:
            if process is None or not process.alive:
                process = Process.start(self.worker)
                self._hear(process, self.now() + SECONDS_TO_START)
            if self._begin(entry):
                told = self._ask(entry, process)
        except Exception:  # whatever it was, the search is said to have failed and the next one is done
            LOG.exception("a worker process was lost")
        fit = told is not None and not (isinstance(told, Done) and told.leaving)
        if process is not None and not fit:
            process.end()
        self._conclude(entry, told)
        return process if fit else None

    def _begin(self, entry: _Entry) -> bool:
        """From now on its time counts; not where it was stopped before it began."""
        with self._changed:
            if entry.stopping or self._closed:
                return False
            entry.began = self.now()
            entry.ends = entry.began + entry.search.limit
            self._change(entry, state="running")
            return True

    def _ask(self, entry: _Entry, process: Process) -> Message | None:
        """What a worker says to a search in the end; None where it does not keep to its time."""
        from wheelwork.searches.line import Task

        search = entry.search
        process.line.send(Task(entry.number, search.question, search.limit, search.crystal))
        while isinstance(message := self._hear(process, entry.ends + self.grace, entry), Progress):
            with self._changed:
                self._change(entry, progress=message)
        return message

    def _hear(self, process: Process, ends: float, entry: _Entry | None = None) -> Message | None:
        """What a worker says next, up to an end; where its search is stopped, it is told so and has the grace."""
        from wheelwork.searches.line import Stop

        while not self._closed and self.now() < ends:
            for asked in () if self.board is None else self.board.asked_to_stop():
                if asked in self._entries:
                    self.stop(asked)
            if entry is not None and entry.stopping and not entry.told:
                process.line.send(Stop(entry.number))
                entry.told, ends = True, entry.ends + self.grace
            if process.line.speaks(SECONDS_BETWEEN_LOOKS):
                return process.line.receive()
        return None

    def _conclude(self, entry: _Entry, told: Message | None) -> None:
        """Write down how a search ended."""
        from wheelwork.searches.line import Done, Failed

        with self._changed:
            if isinstance(told, Done):
                cut = entry.stopping and not told.answer.answer.complete
                self._settle(entry, "stopped" if cut else "done", told.answer)
            elif entry.stopping or self._closed:
                self._settle(entry, "stopped")
            elif isinstance(told, Failed):
                self._settle(entry, "failed", why=told.why)
            else:
                late = self.now() >= entry.ends + self.grace
                self._settle(entry, "failed", why=TOO_LATE if late else LOST)
