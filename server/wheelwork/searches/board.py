"""Where the processes of one server tell each other of their searches: a folder, one file for each search.

With several processes on one port the next question about a search may reach another process than the one that runs it.
The command that starts them makes the folder, which nobody else can read, and names it in their environment.
"""

from __future__ import annotations

import os
import pickle
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from time import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wheelwork.searches.searches import Search

FOLDER = "WHEELWORK_SEARCHES_FOLDER"

_ID = re.compile(r"[A-Za-z0-9_-]{16}")


def shared_board() -> Board | None:
    """The board of this server's processes; None where there is only one."""
    folder = os.environ.get(FOLDER)
    return Board(Path(folder)) if folder else None


@dataclass(frozen=True, slots=True)
class Board:
    """The searches of all processes, as they stood when they last changed."""

    folder: Path

    def post(self, search: Search, began: float) -> None:
        """Write down where a search stands; `began` by the clock that all processes share.

        Where there is no room, the other processes do not know of it.
        """
        written = self.folder / f"{search.id}.writing"
        with suppress(OSError):
            written.write_bytes(pickle.dumps((search, began), pickle.HIGHEST_PROTOCOL))
            written.replace(self.folder / search.id)

    def look(self, id: str, now: float) -> Search | None:
        """Where a search stands; None where no process knows it."""
        if not _ID.fullmatch(id):
            return None
        try:
            search: Search
            search, began = pickle.loads((self.folder / id).read_bytes())
        except OSError:
            return None
        return replace(search, seconds=now - began) if search.state == "running" else search

    def ask_to_stop(self, id: str) -> None:
        """Ask the process that runs a search to stop it."""
        if _ID.fullmatch(id) and (self.folder / id).exists():
            with suppress(OSError):
                (self.folder / f"{id}.stop").touch()

    def asked_to_stop(self) -> Iterator[str]:
        """The searches that some process asked to stop."""
        return (path.stem for path in self.folder.glob("*.stop"))

    def forget(self, id: str) -> None:
        """Take a search down."""
        for name in (id, f"{id}.stop"):
            (self.folder / name).unlink(missing_ok=True)

    def forget_older(self, seconds: float) -> None:
        """Take down what a process left that ended without a word."""
        for path in self.folder.glob("*"):
            with suppress(OSError):
                if time() - path.stat().st_mtime > seconds:
                    path.unlink()
