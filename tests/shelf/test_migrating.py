"""Stores of other versions: an older one is brought to this one with all it holds, a newer one is left untouched."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from fastapi.testclient import TestClient
from sqlalchemy import inspect, text
from sqlalchemy.exc import SQLAlchemyError

from tests.shelf.keepers import STANDING, kept_numbers, raw_plan
from wheelwork.app import make_app
from wheelwork.settings import Settings
from wheelwork.shelf import migrating
from wheelwork.shelf.migrating import HEAD, STEPS, version_of
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.store import FILE, ShelfFault, Store
from wheelwork.shelf.tables import METADATA

LATER = '''"""A step that a later version might take."""

import sqlalchemy as sa
from alembic import op

revision = "later"
down_revision = "{head}"


def upgrade() -> None:
    op.add_column("plan", sa.Column("note", sa.String(20), server_default="none"))
    op.create_index("plan_by_note", "plan", ["note"])
    {more}
'''


def asked_by_a_new_process(store: Store) -> Store:
    """The same store, as a process finds it that has just started."""
    store.close()
    return Store(store.url, store.folder)


def stamp(store: Store, version: str) -> None:
    with store.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = :version"), {"version": version})


def columns_of_a_plan(store: Store) -> set[str]:
    with store.engine.connect() as connection:
        return {column["name"] for column in inspect(connection).get_columns("plan")}


def content(store: Store) -> str:
    """All rows of all tables, and the tables' make, as one hash; of a file its bytes besides."""
    with store.engine.connect() as connection:
        names = sorted(inspect(connection).get_table_names())
        rows = [sorted(map(repr, connection.execute(text(f'SELECT * FROM "{name}"')))) for name in names]
        make = [inspect(connection).get_columns(name) for name in names]
    file = b"" if store.folder is None else (store.folder / FILE).read_bytes()
    return hashlib.sha256(repr((names, rows, make)).encode() + file).hexdigest()


def take_later_steps(monkeypatch: pytest.MonkeyPatch, folder: Path, more: str = "") -> None:
    """Be a version that takes one step more than this one."""
    steps = shutil.copytree(STEPS, folder / "steps", ignore=shutil.ignore_patterns("__pycache__"))
    (steps / "versions" / "9999_later.py").write_text(LATER.format(head=HEAD, more=more or "pass"))
    monkeypatch.setattr(migrating, "STEPS", steps)
    monkeypatch.setattr(migrating, "HEAD", "later")


@pytest.fixture
def kept(store: Store) -> Store:
    """A store of this version with a plan in two revisions."""
    Plans(store).keep(raw_plan("Tide gauge", "1"), "bench", STANDING)
    Plans(store).revise("tide-gauge", raw_plan("Tide gauge", "2"), "bench", STANDING, 1)
    return store


def test_this_versions_step_is_the_newest_in_the_folder() -> None:
    config = Config()
    config.set_main_option("script_location", str(STEPS))
    assert ScriptDirectory.from_config(config).get_heads() == [HEAD]


def test_the_tables_after_all_steps_are_those_that_we_ask(store: Store) -> None:
    with store.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, METADATA) == []


def test_a_store_of_an_older_version_is_migrated_with_all_it_holds(
    kept: Store, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    before = Plans(kept).revisions("tide-gauge")
    take_later_steps(monkeypatch, tmp_path)
    store = asked_by_a_new_process(kept)
    assert Plans(store).revisions("tide-gauge") == before
    assert kept_numbers(store) == {"tide-gauge": [1, 2]}
    assert "note" in columns_of_a_plan(store)
    with store.reading() as connection:
        assert version_of(connection) == "later"
    store.close()


def test_what_was_kept_by_the_first_version_is_read_listed_and_revised(
    store: Store, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A plan kept before revisions had their way down beside them: its row in the list is judged with its sheet."""
    steps = shutil.copytree(STEPS, tmp_path / "steps", ignore=shutil.ignore_patterns("000[2-9]*", "__pycache__"))
    monkeypatch.setattr(migrating, "STEPS", steps)
    monkeypatch.setattr(migrating, "HEAD", "0001")
    with store.writing() as connection:
        assert version_of(connection) == "0001"
        common = "1.5e9, 'bench', true, 9, 9"
        connection.execute(
            text(
                "INSERT INTO plan (id, latest, name, search, part, part_name, kept_at, kept_by, legal, inside, windows)"
                f" VALUES ('old', 1, 'Old', 'old', 'turnstone-58', 'Turnstone', {common})"
            )
        )
        connection.execute(
            text(
                "INSERT INTO plan_revision (plan_id, number, text, part, sheet_hash, kept_at, kept_by, legal, inside,"
                f" windows) VALUES ('old', 1, :plan, 'turnstone-58', '', {common})"
            ),
            {"plan": json.dumps({"name": "Old", "part": "turnstone-58", "in_use": ["processor"]})},
        )
    store.close()
    monkeypatch.undo()
    later = TestClient(make_app(Settings(data=store.folder or tmp_path, database="" if store.embedded else store.url)))
    assert later.get("/api/plans/old").json()["plan"]["name"] == "Old"
    for path in ("/shelf", "/shelf/old"):
        page = later.get(path).text
        assert page.count('class="way-down"') == 1
        assert "Way down to a core clock of" in page
    body = {"plan": {"name": "New", "part": "turnstone-58", "in_use": ["processor"]}}
    assert later.put("/api/plans/old", json=body, headers={"If-Match": '"1"'}).status_code == 200
    assert [each.way is None for each in Plans(later.app.state.store).revisions("old")] == [False, True]  # type: ignore[attr-defined]
    later.app.state.store.close()  # type: ignore[attr-defined]


def test_a_step_that_fails_half_way_leaves_the_store_as_it_was(
    kept: Store, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    take_later_steps(monkeypatch, tmp_path, 'op.execute("SELECT * FROM nowhere")')
    store = asked_by_a_new_process(kept)
    before = content(store)
    with pytest.raises(ShelfFault) as told:
        store.ask()
    assert isinstance(told.value.__cause__, SQLAlchemyError)
    assert content(store) == before
    assert "note" not in columns_of_a_plan(store)
    monkeypatch.undo()
    again = asked_by_a_new_process(store)
    assert kept_numbers(again) == {"tide-gauge": [1, 2]}
    again.close()


def test_a_store_of_a_newer_version_is_refused_and_left_untouched(kept: Store) -> None:
    stamp(kept, "9999")
    store = asked_by_a_new_process(kept)
    before = content(store)
    with pytest.raises(ShelfFault, match=f"the shelf is of version '9999', newer than this server's {HEAD}") as told:
        store.ask()
    assert "run the newer server" in told.value.problem.allowed
    with pytest.raises(ShelfFault):
        Plans(store).keep(raw_plan("Another", "1"), "bench", STANDING)
    assert content(store) == before
    store.close()
