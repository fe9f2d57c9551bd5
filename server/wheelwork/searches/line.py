"""The line between the server and a worker: what is said on it, and how it is packed.

Both ends are this program's own. A part is sent once with its task; afterwards a sign stands for it, so that an answer
with hundreds of plans stays small and the server keeps one part for all of them.
"""

from __future__ import annotations

import pickle
from dataclasses import dataclass, field
from io import BytesIO
from multiprocessing.connection import Connection
from typing import Any

from wheelwork.find.answering import FullAnswer
from wheelwork.find.question import Progress, Question
from wheelwork.part.nodes import Part

PART = "part"


@dataclass(frozen=True, slots=True)
class Task:
    """A search to be done: its number on this line, what is asked, how many seconds it may take."""

    number: int
    question: Question
    seconds: float
    crystal: str | None = None


@dataclass(frozen=True, slots=True)
class Ready:
    """The worker is there."""


@dataclass(frozen=True, slots=True)
class Stop:
    """The search of that number shall end with what it has."""

    number: int


@dataclass(frozen=True, slots=True)
class Done:
    """The answer; `leaving`: the worker has grown large and ends itself."""

    answer: FullAnswer
    leaving: bool = False


@dataclass(frozen=True, slots=True)
class Failed:
    """There is no answer, and why, in words."""

    why: str


Message = Ready | Task | Stop | Progress | Done | Failed


@dataclass
class Line:
    """One end of the line. Receiving raises EOFError, sending OSError, once the other end is gone."""

    connection: Connection[Any, Any]
    part: Part | None = field(default=None)

    def send(self, message: Message) -> None:
        """Send a message; a task carries its part whole."""
        packed = BytesIO()
        _Packer(packed, None if isinstance(message, Task) else self.part).dump(message)
        if isinstance(message, Task):
            self.part = message.question.part
        self.connection.send_bytes(packed.getbuffer())

    def receive(self) -> Message:
        """The next message, waited for."""
        message: Message = _Unpacker(BytesIO(self.connection.recv_bytes()), self.part).load()
        if isinstance(message, Task):
            self.part = message.question.part
        return message

    def speaks(self, seconds: float = 0) -> bool:
        """Whether there is something to receive, be it the end, within so many seconds."""
        return self.connection.poll(seconds)

    def close(self) -> None:
        """Hang up."""
        self.connection.close()


class _Packer(pickle.Pickler):
    def __init__(self, file: BytesIO, part: Part | None) -> None:
        super().__init__(file, pickle.HIGHEST_PROTOCOL)
        self.part = part

    def persistent_id(self, value: Any) -> str | None:
        """The sign that stands for the part of the task."""
        return PART if value is self.part and value is not None else None


class _Unpacker(pickle.Unpickler):
    def __init__(self, file: BytesIO, part: Part | None) -> None:
        super().__init__(file)
        self.part = part

    def persistent_load(self, sign: Any) -> Any:
        """The part of the task."""
        return self.part
