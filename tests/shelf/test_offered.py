"""Sheets of the shelf beside those of files: which goes before which, what is asked of the store, what stays in use."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Connection, event

from tests.shelf.test_library import put
from tests.shelf.test_sheets import SMALL, checked
from wheelwork.findings import Problem
from wheelwork.shelf import offered
from wheelwork.shelf.library import Library
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.sheets import Sheets
from wheelwork.shelf.store import ShelfFault, Store


def named(name: str) -> str:
    return SMALL.replace('name = "Small"', f'name = "{name}"')


@pytest.fixture
def library(store: Store, tmp_path: Path) -> Library:
    """Files `file` and `both`; on the shelf `both` and `kept`."""
    for name in ("file", "both"):
        put(tmp_path / "parts", name, named("A file"))
    for name in ("both", "kept"):
        Sheets(store).put_in(checked(named("Shelf 1")), "one", name)
    return Library((tmp_path / "parts",), kept=Plans(store))


def names(library: Library) -> dict[str, tuple[str, int | None]]:
    return {id: (sheet.part.name, sheet.revision) for id, sheet in library.sheets().items() if sheet.part is not None}


def name_of(library: Library, id: str, revision: int | None = None) -> str | None:
    found = library.sheet(id, revision)
    return None if found is None or found.part is None else found.part.name


@contextmanager
def fallen(store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A store that does not answer."""

    @contextmanager
    def silent(self: Store) -> Iterator[Connection]:
        yield from ()
        raise ShelfFault(Problem("shelf", "the shelf does not answer", "try again"))

    with monkeypatch.context() as patched:
        patched.setattr(Store, "reading", silent)
        yield


@contextmanager
def questions(store: Store) -> Iterator[list[str]]:
    """What the store is asked."""
    asked: list[str] = []

    def note(connection: object, cursor: object, statement: str, *rest: object) -> None:
        asked.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    yield asked
    event.remove(store.engine, "before_cursor_execute", note)


def test_a_sheet_of_the_shelf_goes_before_a_file_and_says_its_revision(library: Library) -> None:
    assert names(library) == {"file": ("A file", None), "both": ("Shelf 1", 1), "kept": ("Shelf 1", 1)}
    assert [name_of(library, id) for id in ("file", "both", "kept", "none")] == ["A file", "Shelf 1", "Shelf 1", None]


def test_a_newer_revision_is_seen_at_once_and_an_old_one_can_still_be_had(library: Library, store: Store) -> None:
    assert name_of(library, "kept") == "Shelf 1"
    Sheets(store).revise("kept", checked(named("Shelf 2")), "two", 1)
    sheet = library.sheet("kept")
    assert sheet is not None
    assert (sheet.revision, name_of(library, "kept"), name_of(library, "kept", 1)) == (2, "Shelf 2", "Shelf 1")
    assert (name_of(library, "kept", 3), name_of(library, "file", 1)) == (None, None)


def test_a_sheet_off_the_list_is_not_offered_but_opens_what_names_it_unless_a_file_does(
    library: Library, store: Store
) -> None:
    for id in ("both", "kept"):
        Sheets(store).retire(id)
    assert names(library) == {"file": ("A file", None), "both": ("A file", None)}
    assert (name_of(library, "both"), name_of(library, "kept")) == ("A file", "Shelf 1")
    assert name_of(library, "both", 1) == "Shelf 1"


def test_a_sheet_once_read_costs_one_small_question(library: Library, store: Store) -> None:
    library.sheets()
    with questions(store) as asked:
        library.sheet("kept")
    assert len(asked) == 1
    assert "text" not in asked[0]
    with questions(store) as asked:
        library.sheets()
    assert len(asked) == 1
    with questions(store) as asked:
        library.sheet("kept", 1)
    assert asked == []


def test_what_was_read_last_stays_in_use_while_the_store_does_not_answer(
    library: Library, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = names(library)
    Sheets(store).put_in(checked(), "one", "late")
    with fallen(store, monkeypatch):
        assert names(library) == before
        assert name_of(library, "kept", 1) == "Shelf 1"
        for id, revision in (("late", None), ("kept", 2)):
            with pytest.raises(ShelfFault, match="does not answer"):
                library.sheet(id, revision)


def test_a_revision_that_cannot_be_had_gives_way_to_the_one_before(
    library: Library, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    library.sheets()
    Sheets(store).revise("kept", checked(named("Shelf 2")), "two", 1)
    Sheets(store).put_in(checked(), "one", "late")
    shelf = library._shelf
    assert shelf is not None
    shelf._ask()
    with fallen(store, monkeypatch):
        assert name_of(library, "kept") == "Shelf 1"
        assert "late" not in library.sheets()
        with pytest.raises(ShelfFault, match="does not answer"):
            library.sheet("late")


def test_a_store_that_is_back_is_asked_again_after_a_moment(
    library: Library, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [100.0]
    monkeypatch.setattr(offered, "monotonic", lambda: now[0])
    with fallen(store, monkeypatch), pytest.raises(ShelfFault):
        library.sheet("kept")
    assert name_of(library, "file") == "A file"
    with pytest.raises(ShelfFault):
        library.sheet("kept")
    now[0] += offered.SECONDS_LEFT_ALONE
    assert name_of(library, "kept") == "Shelf 1"


def test_a_kept_sheet_that_cannot_be_read_any_more_says_why(library: Library, store: Store) -> None:
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE sheet_revision SET text = 'format = 1' WHERE sheet_id = 'kept'")
    sheet = library.sheet("kept")
    assert sheet is not None
    assert sheet.part is None
    assert sheet.problems[0].line == 1
    assert "kept" in library.sheets()


def test_what_is_in_mind_is_bounded(library: Library, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(offered, "MOST_IN_MIND", 2)
    sheets = Sheets(store)
    for worked_on in (1, 2, 3):
        sheets.revise("kept", checked(named(f"Shelf {worked_on + 1}")), "two", worked_on)
    assert [name_of(library, "kept", number) for number in (1, 2, 3, 4, 1)] == [
        "Shelf 1",
        "Shelf 2",
        "Shelf 3",
        "Shelf 4",
        "Shelf 1",
    ]
    shelf = library._shelf
    assert shelf is not None
    assert len(shelf._read) == 2


@pytest.mark.parametrize("name", ["\0", "\ud800", "x" * 300, "kept'--", "%", "../kept"])
def test_a_name_that_is_none_is_no_sheet(library: Library, name: str) -> None:
    assert library.sheet(name) is None
    assert library.sheet(name, 1) is None
