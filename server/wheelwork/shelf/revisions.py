"""Revisions that are only ever added: what kept plans and part sheets have in common.

One table has a row for each plan or sheet, with the number of its latest revision; another has every revision. Whoever
revises names the revision that was worked on, and nothing is written where another is the latest by now.
"""

from __future__ import annotations

import re
import time
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, Connection, Row, Table, and_, insert, select, update
from sqlalchemy.exc import IntegrityError

from wheelwork.findings import Problem, nearest, quote
from wheelwork.shelf.tables import LONGEST_ID, LONGEST_NAME

MOST_COMPARED = 1000
NOBODY = "somebody"
"""Who kept it, where nobody gave a name."""


class NotKept(LookupError):
    """No such thing or revision is on the shelf; `problem` says so and offers the nearest."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.sentence())
        self.problem = problem


@dataclass(frozen=True, slots=True)
class Ledger:
    """The two tables of plans or of sheets. `owner` is the column of a revision that names whose it is."""

    noun: str
    latest: Table
    revisions: Table
    owner: Column[str]

    def add_first(
        self, connection: Connection, id: str, listed: Mapping[str, Any], revision: Mapping[str, Any]
    ) -> bool:
        """Write the first revision of a new one; False where the id is taken."""
        if connection.execute(select(self.latest.c.id).where(self.latest.c.id == id)).first() is not None:
            return False
        try:
            with connection.begin_nested():
                connection.execute(insert(self.latest).values(id=id, latest=1, **listed))
        except IntegrityError:  # taken by another process between the question and now
            return False
        connection.execute(insert(self.revisions).values({self.owner.name: id, "number": 1, **revision}))
        return True

    def add_next(
        self,
        connection: Connection,
        id: str,
        worked_on: int,
        listed: Mapping[str, Any],
        revision: Mapping[str, Any],
    ) -> bool:
        """Write the revision after the one that was worked on; False where that is not the latest (any more).

        Raises NotKept for an id that no store can hold.
        """
        self._hold(id)
        present = update(self.latest).where(and_(self.latest.c.id == id, self.latest.c.latest == worked_on))
        values = {**listed, "latest": worked_on + 1, "retired_at": None}
        if connection.execute(present.values(**values)).rowcount != 1:
            connection.rollback()
            return False
        added = {self.owner.name: id, "number": worked_on + 1, **revision}
        connection.execute(insert(self.revisions).values(added))
        return True

    def entry(self, connection: Connection, id: str) -> Row[Any]:
        """The row with the latest number. Raises NotKept."""
        self._hold(id)
        row = connection.execute(select(self.latest).where(self.latest.c.id == id)).first()
        if row is None:
            raise NotKept(self._unknown(connection, id, None))
        return row

    def opened(self, connection: Connection, id: str, number: int | None = None) -> Row[Any]:
        """The row of a revision, of the latest by default. Raises NotKept."""
        self._hold(id)
        latest = select(self.latest.c.latest).where(self.latest.c.id == id).scalar_subquery()
        of = and_(self.owner == id, self.revisions.c.number == (latest if number is None else number))
        row = connection.execute(select(self.revisions).where(of)).first()
        if row is None:
            raise NotKept(self._unknown(connection, id, number))
        return row

    def all_of(self, connection: Connection, id: str, columns: Sequence[Column[Any]] = ()) -> Sequence[Row[Any]]:
        """The rows of all revisions, the latest first, whole or some columns of them. Raises NotKept."""
        self._hold(id)
        question = select(*(columns or self.revisions.c)).where(self.owner == id)
        rows = connection.execute(question.order_by(self.revisions.c.number.desc())).all()
        if not rows:
            raise NotKept(self._unknown(connection, id, None))
        return rows

    def retire(self, connection: Connection, id: str, retired: bool) -> None:
        """Take it off the list, or put it on again. Raises NotKept."""
        self._hold(id)
        changed = update(self.latest).where(self.latest.c.id == id)
        if connection.execute(changed.values(retired_at=time.time() if retired else None)).rowcount != 1:
            raise NotKept(self._unknown(connection, id, None))

    def _hold(self, id: str) -> None:
        """Raises NotKept for an id that no store can hold, such as one with the character of number 0."""
        if fit(id) != id:
            raise NotKept(Problem("id", f"{quote(id)} is no {self.noun} on the shelf", "see the list of the shelf"))

    def _unknown(self, connection: Connection, id: str, number: int | None) -> Problem:
        """Why nothing was found, with what is nearest."""
        latest = connection.execute(select(self.latest.c.latest).where(self.latest.c.id == id)).scalar()
        if latest is not None:
            return Problem("revision", f"there is no revision {number} of {quote(id)}", f"1 to {latest} are kept")
        some = select(self.latest.c.id).order_by(self.latest.c.kept_at.desc()).limit(MOST_COMPARED)
        like = nearest(id, connection.execute(some).scalars().all())
        offer = f"did you mean {like}?" if like else "see the list of the shelf"
        return Problem("id", f"{quote(id)} is no {self.noun} on the shelf", offer)


def id_from(name: str, otherwise: str = "plan") -> str:
    """What a plan or sheet is called in an address: letters, digits and hyphens of its name.

    >>> id_from("Skerry 3, steady running"), id_from("Prüfstand"), id_from("…")
    ('skerry-3-steady-running', 'prufstand', 'plan')
    """
    letters = unicodedata.normalize("NFKD", name[: LONGEST_NAME * 2])
    plain = "".join(sign for sign in letters if not unicodedata.combining(sign)).lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[: LONGEST_ID - 16].strip("-") or otherwise


def fit(text: object, otherwise: str = "") -> str:
    """A text that fits the column of a name: without what cannot be stored, and cut."""
    return (str(text).replace("\x00", "").encode("utf-8", "replace").decode() if text else otherwise)[:LONGEST_NAME]
