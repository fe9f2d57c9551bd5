"""Copying a shelf out of its store and into another: backing up, restoring, moving from a file to a server and back.

Out goes one snapshot, while others go on keeping; in comes all or nothing. Both go item by item, so that a large shelf
takes no more memory than its largest plan.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select, text, update

from wheelwork.findings import Problem, quote
from wheelwork.shelf.copies import KINDS, Counts, Item, Row
from wheelwork.shelf.revisions import Ledger
from wheelwork.shelf.store import Store

ROWS_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class Holdings:
    """How much a shelf holds: plans and sheets, those off the list among them, and the revisions of both."""

    plans: int
    retired_plans: int
    plan_revisions: int
    sheets: int
    retired_sheets: int
    sheet_revisions: int


@dataclass(slots=True)
class Brought:
    """What came in from a copy: items that were not there, revisions of items that were, and what clashes."""

    items: Counts = field(default_factory=lambda: dict.fromkeys(KINDS, 0))
    revisions: Counts = field(default_factory=lambda: dict.fromkeys(KINDS, 0))
    clashes: list[Problem] = field(default_factory=list)


class NotEmpty(Exception):
    """The shelf that a copy should fill holds something; `problem` says so."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.sentence())
        self.problem = problem


def count_holdings(store: Store) -> Holdings:
    """How much a shelf holds. Raises ShelfFault."""
    with store.reading() as connection:
        counts = [_count_of(connection, ledger) for ledger in (KINDS["plan"], KINDS["sheet"])]
    return Holdings(*counts[0], *counts[1])


@contextmanager
def copied_out(store: Store) -> Iterator[tuple[Counts, Generator[Item]]]:
    """How much a copy holds, and its items, all of one moment. Raises ShelfFault."""
    with store.reading() as connection:
        if store.embedded:
            connection.exec_driver_sql("BEGIN")
        else:
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        counts = {
            name: _rows_in(connection, table)
            for kind, ledger in KINDS.items()
            for name, table in ((kind, ledger.latest), (f"{kind}_revision", ledger.revisions))
        }
        items = (item for kind in KINDS for item in _items(connection, kind))
        try:
            yield counts, items
        finally:
            items.close()
            connection.rollback()


def bring_in(store: Store, items: Iterable[Item], merge: bool = False) -> Brought:
    """Fill an empty shelf with a copy's items, or add what is missing to one that is not, in one transaction.

    What is there already stays as it is: of a plan with the same id and history the copy's later revisions are added;
    one with another history clashes and is left alone. Raises NotEmpty, ShelfFault, and whatever the items raise: then
    nothing was changed.
    """
    brought = Brought()
    with store.writing() as connection:
        if not store.embedded:
            tables = ", ".join(ledger.latest.name for ledger in KINDS.values())
            connection.execute(text(f"LOCK TABLE {tables} IN SHARE ROW EXCLUSIVE MODE"))
        present = {kind: set(connection.execute(select(each.latest.c.id)).scalars()) for kind, each in KINDS.items()}
        if not merge and any(present.values()):
            raise NotEmpty(_not_empty(present))
        waiting: list[Item] = []
        for item in items:
            if item.id in present[item.kind]:
                _merge(connection, item, brought)
                continue
            present[item.kind].add(item.id)
            brought.items[item.kind] += 1
            brought.revisions[item.kind] += len(item.revisions)
            if waiting and (waiting[0].kind != item.kind or sum(len(i.revisions) for i in waiting) >= ROWS_AT_ONCE):
                _add(connection, waiting)
                waiting = []
            waiting.append(item)
        if waiting:
            _add(connection, waiting)
    return brought


def _count_of(connection: Connection, ledger: Ledger) -> tuple[int, int, int]:
    retired = select(func.count()).select_from(ledger.latest).where(ledger.latest.c.retired_at.is_not(None))
    return (
        _rows_in(connection, ledger.latest),
        int(connection.execute(retired).scalar_one()),
        _rows_in(connection, ledger.revisions),
    )


def _rows_in(connection: Connection, table: Table) -> int:
    return int(connection.execute(select(func.count()).select_from(table)).scalar_one())


def _items(connection: Connection, kind: str) -> Generator[Item]:
    """The items of a kind by id, each with its revisions."""
    ledger = KINDS[kind]
    listed = [column.label(f"listed_{column.name}") for column in ledger.latest.c]
    question = (
        select(*listed, *ledger.revisions.c)
        .join(ledger.revisions, ledger.owner == ledger.latest.c.id)
        .order_by(ledger.latest.c.id, ledger.revisions.c.number)
    )
    with connection.execute(question, execution_options={"yield_per": ROWS_AT_ONCE}) as result:
        for _, rows in groupby(result.mappings(), key=lambda row: row["listed_id"]):
            of_one = [dict(row) for row in rows]
            yield Item(
                kind,
                {column.name: of_one[0][f"listed_{column.name}"] for column in ledger.latest.c},
                tuple({column.name: row[column.name] for column in ledger.revisions.c} for row in of_one),
            )


def _add(connection: Connection, items: list[Item]) -> None:
    """Write items of one kind that are not there."""
    ledger = KINDS[items[0].kind]
    connection.execute(insert(ledger.latest), [dict(item.listed) for item in items])
    connection.execute(insert(ledger.revisions), [dict(row) for item in items for row in item.revisions])


def _merge(connection: Connection, item: Item, brought: Brought) -> None:
    """Add the revisions that an item on the shelf lacks, unless the two have another history."""
    ledger = KINDS[item.kind]
    question = select(ledger.revisions).where(ledger.owner == item.id).order_by(ledger.revisions.c.number)
    present = [dict(row) for row in connection.execute(question).mappings()]
    differing = next(
        (row["number"] for row, other in zip(present, item.revisions, strict=False) if not _same(row, other)), None
    )
    if differing is not None:
        what = f"the {ledger.noun} {quote(item.id)} is another one from revision {differing} on; it stays as it is here"
        brought.clashes.append(Problem(item.kind, what, "bring the copy into an empty shelf to see its own"))
        return
    missing = [dict(row) for row in item.revisions[len(present) :]]
    if missing:
        connection.execute(insert(ledger.revisions), missing)
        values: dict[str, Any] = {key: value for key, value in item.listed.items() if key not in ("id", "retired_at")}
        connection.execute(update(ledger.latest).where(ledger.latest.c.id == item.id).values(**values))
        brought.revisions[item.kind] += len(missing)


def _same(present: Row, copied: Row) -> bool:
    return all(present[key] == value for key, value in copied.items())


def _not_empty(present: dict[str, set[str]]) -> Problem:
    plans, sheets = len(present["plan"]), len(present["sheet"])
    what = f"the shelf is not empty: it holds plans: {plans}, part sheets: {sheets}"
    return Problem("shelf", what, "name an empty one, or add what is missing with --merge")
