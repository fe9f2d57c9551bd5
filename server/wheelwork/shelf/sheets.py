"""Part sheets on the shelf: the text as its author wrote it, checked before it is kept, in revisions only ever added.

Nothing faulty is kept, so the last right revision stays in use until the next right one.
"""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Row, select

from wheelwork.findings import Problem, quote
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet, read_sheet_json
from wheelwork.part.writing import write_toml
from wheelwork.shelf.plans import hash_of
from wheelwork.shelf.revisions import NOBODY, Ledger, fit, id_from
from wheelwork.shelf.store import KeptMeanwhile, Store
from wheelwork.shelf.tables import LONGEST_ID, SHEET_REVISIONS, SHEETS

LEDGER = Ledger("part sheet", SHEETS, SHEET_REVISIONS, SHEET_REVISIONS.c.sheet_id)
ID = re.compile(rf"[A-Za-z0-9][A-Za-z0-9._-]{{0,{LONGEST_ID - 1}}}")


@dataclass(frozen=True, slots=True)
class CheckedSheet:
    """A sheet that may be kept: its text, and the part that was read from it."""

    text: str
    part: Part


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """A sheet in the list of the shelf, as its latest revision says. Times are seconds since 1970."""

    id: str
    revision: int
    name: str
    kept_at: float
    kept_by: str
    retired: bool


@dataclass(frozen=True, slots=True)
class SheetRevision:
    """One revision of a sheet without its text; `hash` is that of `hash_of`."""

    id: str
    revision: int
    hash: str
    kept_at: float
    kept_by: str


@dataclass(frozen=True, slots=True)
class SheetText(SheetRevision):
    """One revision of a sheet, as TOML."""

    text: str


class SheetOvertaken(KeptMeanwhile):
    """Another revision was kept since the one that was worked on; `present` is the latest."""

    def __init__(self, present: SheetText) -> None:
        super().__init__(f"revision {present.revision} was kept meanwhile")
        self.present = present


class Taken(Exception):
    """A sheet of that id is on the shelf already; `problem` says how to revise it."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.sentence())
        self.problem = problem


def check_text(text: str) -> tuple[CheckedSheet | None, list[Problem]]:
    """A sheet that was put in as TOML, or all its problems with their lines."""
    plain = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    unfit = next((number for number, line in enumerate(plain.split("\n"), 1) if not _storable(line)), None)
    if unfit is not None:
        what = "this line holds half a character (a lone surrogate) or the character of number 0"
        return None, [Problem("sheet", what, "leave it out", unfit)]
    part, problems = read_sheet(plain)
    return (None, problems) if part is None or problems else (CheckedSheet(plain, part), [])


def check_tables(raw: object) -> tuple[CheckedSheet | None, list[Problem]]:
    """A sheet that was put in as JSON, or all its problems; it is kept as TOML."""
    part, problems = read_sheet_json(raw)
    if part is None or problems or not isinstance(raw, Mapping):
        return None, problems
    try:
        checked, problems = check_text(write_toml(raw))
    except TypeError:  # null, which TOML does not know
        return None, [Problem("part", "it holds a null", "leave the key out")]
    return checked, problems


def id_problem(id: str) -> Problem | None:
    """Why a text is no id of a sheet; None where it is one."""
    if ID.fullmatch(id):
        return None
    allowed = f"write letters, digits, hyphens, up to {LONGEST_ID}, such as {id_from(id, 'our-part')}"
    return Problem("id", f"{quote(id)} is no id of a part sheet", allowed)


@dataclass(frozen=True)
class Sheets:
    """The part sheets of a store. Every method raises ShelfFault where the store does not answer."""

    store: Store

    def listed(self, retired: bool = False) -> list[SheetEntry]:
        """The sheets of the shelf by id, or those that were taken off the list."""
        wanted = SHEETS.c.retired_at.is_not(None) if retired else SHEETS.c.retired_at.is_(None)
        with self.store.reading() as connection:
            return [_entry(row) for row in connection.execute(select(SHEETS).where(wanted).order_by(SHEETS.c.id))]

    def standing(self) -> dict[str, tuple[int, bool]]:
        """The latest revision of every sheet by its id, and whether it was taken off the list: one small question."""
        question = select(SHEETS.c.id, SHEETS.c.latest, SHEETS.c.retired_at)
        with self.store.reading() as connection:
            return {id: (latest, retired is not None) for id, latest, retired in connection.execute(question)}

    def put_in(self, sheet: CheckedSheet, kept_by: str, id: str) -> SheetRevision:
        """Keep a sheet as the first revision of an id. Raises Taken."""
        made = _made(id, 1, sheet, kept_by)
        with self.store.keeping() as connection:
            if not LEDGER.add_first(connection, id, _listed_values(sheet, made), _revision_values(sheet, made)):
                entry = _entry(LEDGER.entry(connection, id))
                raise Taken(_taken(entry))
        return made

    def revise(self, id: str, sheet: CheckedSheet, kept_by: str, worked_on: int) -> SheetRevision:
        """Keep a sheet as the revision after the one that was worked on. Raises SheetOvertaken, NotKept."""
        made = _made(id, worked_on + 1, sheet, kept_by)
        listed, revision = _listed_values(sheet, made), _revision_values(sheet, made)
        with self.store.keeping() as connection:
            if not LEDGER.add_next(connection, id, worked_on, listed, revision):
                raise SheetOvertaken(self.opened(id))
        return made

    def opened(self, id: str, revision: int | None = None) -> SheetText:
        """A revision of a sheet, the latest by default. Raises NotKept."""
        with self.store.reading() as connection:
            row = LEDGER.opened(connection, id, revision)
        return SheetText(text=row._mapping["text"], **_of(row))

    def revisions(self, id: str) -> list[SheetRevision]:
        """All revisions of a sheet, the latest first. Raises NotKept."""
        columns = [column for column in SHEET_REVISIONS.c if column.name != "text"]
        with self.store.reading() as connection:
            return [SheetRevision(**_of(row)) for row in LEDGER.all_of(connection, id, columns)]

    def retire(self, id: str, retired: bool = True) -> SheetEntry:
        """Take a sheet off the list, or bring it back; its revisions stay. Raises NotKept."""
        with self.store.writing() as connection:
            LEDGER.retire(connection, id, retired)
            return _entry(LEDGER.entry(connection, id))


def _storable(line: str) -> bool:
    try:
        line.encode()
    except UnicodeEncodeError:
        return False
    return "\x00" not in line


def _taken(entry: SheetEntry) -> Problem:
    off = ", taken off the list" if entry.retired else ""
    what = f"{quote(entry.id)} is on the shelf already{off}, kept by {entry.kept_by} as revision {entry.revision}"
    return Problem("id", what, f'revise that one (If-Match: "{entry.revision}"), or give another id')


def _made(id: str, number: int, sheet: CheckedSheet, kept_by: str) -> SheetRevision:
    return SheetRevision(id, number, hash_of(sheet.part), time.time(), fit(kept_by.strip(), NOBODY))


def _listed_values(sheet: CheckedSheet, made: SheetRevision) -> dict[str, Any]:
    return {"name": fit(sheet.part.name), "kept_at": made.kept_at, "kept_by": made.kept_by}


def _revision_values(sheet: CheckedSheet, made: SheetRevision) -> dict[str, Any]:
    return {"text": sheet.text, "hash": made.hash, "kept_at": made.kept_at, "kept_by": made.kept_by}


def _of(row: Row[Any]) -> dict[str, Any]:
    values = row._mapping
    return {
        "id": values["sheet_id"],
        "revision": values["number"],
        **{key: values[key] for key in ("hash", "kept_at", "kept_by")},
    }


def _entry(row: Row[Any]) -> SheetEntry:
    values = row._mapping
    keys = ("id", "name", "kept_at", "kept_by")
    return SheetEntry(
        revision=values["latest"], retired=values["retired_at"] is not None, **{key: values[key] for key in keys}
    )
