"""Bringing a store's tables to this version, under a lock; one of a newer version is left untouched.

Alembic holds the steps (`migrations/versions`). It is loaded only where there is a step to take.
"""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from sqlalchemy import Connection, Engine, inspect, text

from wheelwork.findings import Problem, quote
from wheelwork.shelf.store import ShelfFault

HEAD = "0002"
"""The step that this version's tables stand at; a test holds it to the newest one in the folder."""
STEPS = Path(__file__).parent / "migrations"
LOCK_FILE = "shelf.lock"
LOCK_KEY = 5_721_108
"""What processes on one PostgreSQL lock while one of them migrates: any number that nobody else takes."""


def migrate(engine: Engine, folder: Path | None) -> None:
    """Take every step that is missing. Raises ShelfFault for a store of a newer version."""
    with _locked(folder), engine.connect() as connection:
        if connection.dialect.name == "sqlite":
            _upgrade(connection)
            return
        connection.execute(text("SELECT pg_advisory_lock(:key)"), {"key": LOCK_KEY})
        connection.commit()
        try:
            _upgrade(connection)
        finally:
            connection.rollback()
            connection.execute(text("SELECT pg_advisory_unlock(:key)"), {"key": LOCK_KEY})
            connection.commit()


def version_of(connection: Connection) -> str | None:
    """The step that a store stands at; None for an empty one."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def _upgrade(connection: Connection) -> None:
    present = version_of(connection)
    connection.rollback()
    if present != HEAD:
        _take_steps(connection, present)


def _take_steps(connection: Connection, present: str | None) -> None:
    """All steps in one transaction. Raises ShelfFault where the store stands at none that is known."""
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(STEPS))
    known = [script.revision for script in ScriptDirectory.from_config(config).walk_revisions()]
    if present is not None and present not in known:
        what = f"the shelf is of version {quote(present)}, newer than this server's {HEAD}; it is left as it is"
        raise ShelfFault(Problem("shelf", what, "run the newer server, or name another shelf"), passing=False)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA journal_mode=WAL")  # stays with the file
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    connection.commit()


@contextmanager
def _locked(folder: Path | None) -> Iterator[None]:
    """Alone among the processes that share a data folder. Raises ShelfFault where its lock cannot be had."""
    if folder is None:
        yield
        return
    with _lock_in(folder) as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _lock_in(folder: Path) -> IO[str]:
    """The file that is locked; one that is there can be locked too where nothing can be written."""
    path = folder / LOCK_FILE
    try:
        return path.open("a")
    except OSError as fault:
        with suppress(OSError):
            return path.open()
        what = f"its data folder {quote(str(folder))} cannot be written to: {fault.strerror}"
        raise ShelfFault(Problem("shelf", what, "let the server write there; what lies in files is read")) from fault
