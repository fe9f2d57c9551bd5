"""The embedded shelf's file, opened by SQLite: also where its disk is full, or where it can only be read.

A file with a write-ahead log is read by the help of two more beside it (sqlite.org/wal.html, sections 2.2 and 5). Where
those cannot be made and there is no log, all that was kept lies in the file itself: it is read as it lies, and
`FileConnection.unwritable` tells why nothing can be changed.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

from wheelwork.findings import Problem

SECONDS_FOR_A_LOCK = 20
LEAST_ROOM = 64 * 1024
"""Less room than this is a full disk: SQLite's index of the log alone takes 32 kB."""

IN_THE_WAY = (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL, sqlite3.SQLITE_READONLY)

FULL = Problem(
    "shelf", "the disk of the shelf is full", "make room on it, then keep again; nothing was kept, reading goes on"
)
READ_ONLY = Problem(
    "shelf", "the shelf's file can only be read", "let the server write to its data folder; reading goes on"
)
UNREADABLE = Problem("shelf", "the shelf's file cannot be opened", "let the server read and write its data folder")
FAULTY_DISK = Problem("shelf", "the disk of the shelf gives faults", "look after it; nothing was kept")
BUSY = Problem("shelf", "the shelf is busy", "try again in a moment")
DAMAGED = Problem("shelf", "the shelf's file is damaged", "put back a copy of it (wheelwork shelf import)")
NO_SHELF = Problem("shelf", "the shelf's file is no shelf", "put back a copy of it (wheelwork shelf import)")
SILENT = Problem("shelf", "the shelf does not answer", "try again in a moment")

PROBLEMS = {
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: UNREADABLE,
    sqlite3.SQLITE_IOERR: FAULTY_DISK,
    sqlite3.SQLITE_BUSY: BUSY,
    sqlite3.SQLITE_LOCKED: BUSY,
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_NOTADB: NO_SHELF,
}


class FileConnection(sqlite3.Connection):
    """A connection to the shelf's file; `unwritable` is why nothing can be changed through it."""

    unwritable: sqlite3.Error | None = None


def open_file(path: Path) -> FileConnection:
    """A connection that begins no transaction by itself. Raises sqlite3.Error."""
    try:
        connection = _opened_as_it_lies(path, _read_only()) if _is_read_only(path) else _opened(path)
    except sqlite3.Error as fault:
        if code_of(fault) not in IN_THE_WAY or not _lies_whole(path):
            raise
        connection = _opened_as_it_lies(path, fault)
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("PRAGMA synchronous=FULL")
    return connection


def file_problem(fault: BaseException, folder: Path) -> Problem:
    """What SQLite said, in a sentence; where its words would fit several reasons, the folder is looked at."""
    code = code_of(fault)
    if code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR):
        if _is_full(folder):
            return FULL
        if code == sqlite3.SQLITE_CANTOPEN and os.access(folder, os.R_OK | os.X_OK) and not _is_writable(folder):
            return READ_ONLY
    return PROBLEMS.get(code, SILENT)


def code_of(fault: BaseException) -> int:
    """The kind of a fault (sqlite.org/rescode.html, primary result codes); 0 for one that has none."""
    return int(getattr(fault, "sqlite_errorcode", 0)) & 0xFF


def _opened(place: Path | str) -> FileConnection:
    connection = sqlite3.connect(
        place,
        timeout=SECONDS_FOR_A_LOCK,
        isolation_level=None,
        check_same_thread=False,  # one thread at a time holds it, not always the same
        factory=FileConnection,
        uri=isinstance(place, str),
    )
    try:
        connection.execute("PRAGMA schema_version").fetchone()  # the first to touch the file
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _opened_as_it_lies(path: Path, why: sqlite3.Error) -> FileConnection:
    connection = _opened(f"{path.absolute().as_uri()}?mode=ro&immutable=1")
    connection.unwritable = why
    return connection


def _is_read_only(path: Path) -> bool:
    """Whether the file cannot be written; asked first, for SQLite would leave a log beside it that cannot be either."""
    return path.exists() and not _is_writable(path) and _lies_whole(path)


def _read_only() -> sqlite3.Error:
    fault = sqlite3.OperationalError("attempt to write a readonly database")
    fault.sqlite_errorcode = sqlite3.SQLITE_READONLY
    return fault


def _lies_whole(path: Path) -> bool:
    """Whether all that was kept is in the file, and nothing in a log beside it."""
    log = path.with_name(f"{path.name}-wal")
    try:
        return path.stat().st_size > 0 and not (log.exists() and log.stat().st_size > 0)
    except OSError:
        return False


def _is_full(folder: Path) -> bool:
    try:
        return shutil.disk_usage(folder).free < LEAST_ROOM
    except OSError:
        return False


def _is_writable(path: Path) -> bool:
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)
