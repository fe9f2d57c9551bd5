"""A worker process as the server sees it: started when first needed, asked one question at a time, ended at will."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection

from wheelwork.searches.line import Line

SECONDS_TO_END = 5


@dataclass
class Process:
    """A running worker and the line to it."""

    child: subprocess.Popen[bytes]
    line: Line

    @classmethod
    def start(cls, worker: str) -> Process:
        """Start a worker, a module. Raises OSError where the machine gives none."""
        ours, theirs = socket.socketpair()
        with theirs:
            command = [sys.executable, "-P", "-m", worker, str(theirs.fileno())]
            where = os.pathsep.join(folder for folder in sys.path if folder)
            child = subprocess.Popen(
                command,
                env={**os.environ, "PYTHONPATH": where},
                stdin=subprocess.DEVNULL,
                pass_fds=(theirs.fileno(),),
                start_new_session=True,  # a Ctrl-C at the server's terminal is the server's to answer
            )
        return cls(child, Line(Connection(ours.detach())))

    @property
    def alive(self) -> bool:
        """Whether it runs."""
        return self.child.poll() is None

    def end(self) -> None:
        """End it, whatever it does."""
        self.line.close()
        self.child.kill()
        with suppress(subprocess.TimeoutExpired):
            self.child.wait(SECONDS_TO_END)
