"""The store: the same for a file and for a server; what is written is there, what fails is not."""

from __future__ import annotations

import pytest
from sqlalchemy import func, insert, select

from wheelwork.shelf.migrating import HEAD, version_of
from wheelwork.shelf.store import Store
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
