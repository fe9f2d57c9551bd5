"""The store: the same for a file and for a server; what is written is there, what fails is not."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import func, insert, select

from wheelwork.settings import Settings
from wheelwork.shelf.library import make_library
from wheelwork.shelf.migrating import HEAD, LOCK_FILE, version_of
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.store import ShelfFault, Store, open_store
from wheelwork.shelf.tables import SHEETS


class Torn(Exception):
    """What ends a change half-way."""


ROW = {"id": "own", "latest": 1, "name": "Own", "kept_at": 1.5, "kept_by": "bench"}


def count(store: Store) -> int:
    with store.reading() as connection:
        return int(connection.execute(select(func.count()).select_from(SHEETS)).scalar_one())


def test_an_empty_store_is_brought_to_this_version_at_the_first_question(store: Store) -> None:
    store.ask()
    with store.reading() as connection:
        assert version_of(connection) == HEAD


def test_what_was_written_is_there_for_whoever_comes_later(store: Store) -> None:
    with store.writing() as connection:
        connection.execute(insert(SHEETS).values(**ROW))
    later = Store(store.url, store.folder)
    assert count(later) == 1
    later.close()


def test_what_ends_in_a_fault_has_changed_nothing(store: Store) -> None:
    def write_half() -> None:
        with store.writing() as connection:
            connection.execute(insert(SHEETS).values(**ROW))
            raise Torn

    with pytest.raises(Torn):
        write_half()
    assert count(store) == 0


def test_a_folder_whose_lock_cannot_be_had_is_told_and_files_are_read_all_the_same(tmp_path: Path) -> None:
    (tmp_path / LOCK_FILE).mkdir()
    store = open_store(tmp_path)
    with pytest.raises(ShelfFault, match="cannot be written to: Is a directory"):
        store.ask()
    library = make_library(Settings())
    library.kept = Plans(store)
    assert library.sheet("turnstone-58") is not None
    assert "turnstone-58" in library.sheets()
