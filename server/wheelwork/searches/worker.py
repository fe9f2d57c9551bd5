"""A worker: a process that answers one question after another, until the server hangs up.

It is a fresh interpreter that the server starts, never a fork of it: a copy of a process with threads can stand still
for ever. It gives way to the server's own answers, bounds its memory, and cannot outlive the server: the end of the
line ends it, in the middle of a search too.
"""

from __future__ import annotations

import logging
import os
import resource
import socket
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from time import monotonic
from typing import Any

from wheelwork.find.answering import FullAnswer, answer_fully
from wheelwork.find.question import Progress, Question, StillTime, Tell
from wheelwork.searches.line import Done, Failed, Line, Message, Ready, Stop, Task
from wheelwork.settings import read_settings
from wheelwork.watch.log import configure

Answering = Callable[[Question, StillTime, Tell, str | None], FullAnswer]

LOG = logging.getLogger("wheelwork.searches.worker")
NICER = 5
MOST_MEMORY = 2 * 1024**3
LARGE = 400 * 1024
"""From this size on (kilobytes) a worker makes room for a fresh one after its answer."""
SECONDS_BETWEEN_LOOKS = 0.02
SECONDS_BETWEEN_WORDS = 0.2


def main(answer: Answering = answer_fully) -> None:
    """Answer what comes on the line whose file descriptor the command names."""
    configure(read_settings())
    os.nice(NICER)
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, resource.RLIM_INFINITY))
    work_on(Line(_connection(int(sys.argv[1]))), answer)


def _connection(descriptor: int) -> Connection[Any, Any]:
    return Connection(socket.socket(fileno=descriptor).detach())


def work_on(line: Line, answer: Answering) -> None:
    """Answer question after question until the other end hangs up or this process has grown large."""
    leaving = False
    with suppress(EOFError, OSError):
        line.send(Ready())
        while not leaving:
            task = line.receive()
            if isinstance(task, Task):
                told = _answer(task, line, answer)
                leaving = isinstance(told, Done) and told.leaving
                line.send(told)


def _answer(task: Task, line: Line, answer: Answering) -> Message:
    talk = _Talk(line, task.number, monotonic() + task.seconds)
    try:
        found = answer(task.question, talk.still_time, talk.tell, task.crystal)
    except MemoryError:
        return Failed(f"it needed more than {MOST_MEMORY // 1024**3} GB of memory")
    except Exception:
        LOG.exception("a search ended by a fault")
        return Failed("it came to an end that it should not have; the server's log says where")
    return Done(found, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss > LARGE)


@dataclass
class _Talk:
    """What a search says and hears while it runs, each at most so often."""

    line: Line
    number: int
    ends: float
    stopped: bool = False
    look_at: float = 0.0
    tell_at: float = 0.0
    now: Callable[[], float] = monotonic

    def still_time(self) -> bool:
        """Whether the search may go on: its time is not over, nobody stopped it, the server is there."""
        now = self.now()
        if now >= self.look_at and not self.stopped:
            self.look_at = now + SECONDS_BETWEEN_LOOKS
            self.stopped = self._hears_stop()
        return not self.stopped and now < self.ends

    def _hears_stop(self) -> bool:
        try:
            while self.line.speaks():
                message = self.line.receive()
                if isinstance(message, Stop) and message.number == self.number:
                    return True
        except (EOFError, OSError):
            return True
        return False

    def tell(self, progress: Progress) -> None:
        """Tell how far it has come."""
        now = self.now()
        if now >= self.tell_at:
            self.tell_at = now + SECONDS_BETWEEN_WORDS
            try:
                self.line.send(progress)
            except OSError:
                self.stopped = True


if __name__ == "__main__":
    main()
