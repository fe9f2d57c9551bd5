"""Kept plans: revisions that are only ever added, each with who kept it, when, and how it stood.

Whoever keeps names the revision that was worked on. Where another was kept meanwhile nothing is written, and both are
there to be put together: `Overtaken` carries the one that stands now.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Row, and_, func, select

from wheelwork.judge import Judgement
from wheelwork.part.nodes import Part
from wheelwork.shelf.revisions import NOBODY, Ledger, fit, id_from
from wheelwork.shelf.revisions import NotKept as NotKept
from wheelwork.shelf.store import KeptMeanwhile, Store
from wheelwork.shelf.tables import LONGEST_NAME, PLAN_REVISIONS, PLANS
from wheelwork.shelf.ways import KeptWay, read_way, way_of, write_way

LEDGER = Ledger("plan", PLANS, PLAN_REVISIONS, PLAN_REVISIONS.c.plan_id)
ROWS_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class Standing:
    """How a plan stood when it was kept, and the sheet it was judged with.

    `sheet_revision` is None for a sheet that is no revision of the shelf; `sheet_hash` tells sheets apart (`hash_of`).
    """

    part: str
    part_name: str
    sheet_revision: int | None
    sheet_hash: str
    legal: bool
    inside: int
    windows: int
    way: KeptWay | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """A plan in the list of the shelf, as its latest revision says. Times are seconds since 1970."""

    id: str
    revision: int
    name: str
    part: str
    part_name: str
    kept_at: float
    kept_by: str
    legal: bool
    inside: int
    windows: int
    retired: bool


@dataclass(frozen=True, slots=True)
class Revision:
    """One revision of a kept plan: the plan as it was written, and how it stood."""

    id: str
    revision: int
    raw: Mapping[str, Any]
    kept_at: float
    kept_by: str
    part: str
    sheet_revision: int | None
    sheet_hash: str
    legal: bool
    inside: int
    windows: int
    way: KeptWay | None = None
    """None for one that was kept by a version that wrote none."""


class Overtaken(KeptMeanwhile):
    """Another revision was kept since the one that was worked on; `present` is the latest."""

    def __init__(self, present: Revision) -> None:
        super().__init__(f"revision {present.revision} was kept meanwhile")
        self.present = present


def hash_of(part: Part) -> str:
    """The sha-256 of a sheet's values, whatever its file looks like: the same for a sheet as TOML and as JSON."""
    text = json.dumps(part.written, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def standing_of(judgement: Judgement, sheet_revision: int | None = None) -> Standing:
    """How a judged plan stands."""
    plan, part = judgement.plan, judgement.part
    return Standing(
        part=plan.part,
        part_name=part.name,
        sheet_revision=sheet_revision,
        sheet_hash=hash_of(part),
        legal=judgement.legal,
        inside=judgement.inside,
        windows=len(judgement.windows),
        way=way_of(judgement),
    )


@dataclass(frozen=True)
class Plans:
    """The kept plans of a store. Every method raises ShelfFault where the store does not answer."""

    store: Store

    def listed(
        self, search: str = "", retired: bool = False, most: int | None = None, skip: int = 0
    ) -> tuple[list[Entry], int]:
        """The plans that hold every word of the search, the latest first, and how many there are in all.

        Searched are name, part, owner and who kept it.
        """
        wanted: list[ColumnElement[bool]] = [
            PLANS.c.retired_at.is_not(None) if retired else PLANS.c.retired_at.is_(None)
        ]
        wanted += [PLANS.c.search.contains(word, autoescape=True) for word in _plain(search).split()[:8]]
        question = select(PLANS).where(and_(*wanted)).order_by(PLANS.c.kept_at.desc(), PLANS.c.id)
        with self.store.reading() as connection:
            count = connection.execute(select(func.count()).select_from(PLANS).where(and_(*wanted))).scalar_one()
            rows = connection.execute(question.offset(skip).limit(most)).all()
        return [_entry(row) for row in rows], count

    def keep(self, raw: Mapping[str, Any], kept_by: str, standing: Standing) -> Revision:
        """Keep a plan as the first revision of one of its own."""
        made = _revision("", 1, raw, kept_by, standing)
        wanted = id_from(str(raw.get("name", "")))
        listed, revision = _listed_values(raw, made, standing), _revision_values(raw, made, standing)
        with self.store.keeping() as connection:
            alike = select(func.count()).select_from(PLANS).where(PLANS.c.id.startswith(f"{wanted}-", autoescape=True))
            name, number = wanted, 1 + connection.execute(alike).scalar_one()
            while not LEDGER.add_first(connection, name, listed, revision):
                number += 1
                name = f"{wanted}-{number}"
        return _revision(name, 1, raw, made.kept_by, standing, made.kept_at)

    def revise(self, id: str, raw: Mapping[str, Any], kept_by: str, standing: Standing, worked_on: int) -> Revision:
        """Keep a plan as the revision after the one that was worked on. Raises Overtaken, NotKept."""
        made = _revision(id, worked_on + 1, raw, kept_by, standing)
        listed, revision = _listed_values(raw, made, standing), _revision_values(raw, made, standing)
        with self.store.keeping() as connection:
            if not LEDGER.add_next(connection, id, worked_on, listed, revision):
                raise Overtaken(self.opened(id))
        return made

    def opened(self, id: str, revision: int | None = None) -> Revision:
        """A revision of a plan, the latest by default. Raises NotKept."""
        with self.store.reading() as connection:
            return _opened(LEDGER.opened(connection, id, revision))

    def latest(self, ids: Sequence[str]) -> dict[str, Revision]:
        """The latest revisions of some plans, by their ids."""
        of = and_(PLAN_REVISIONS.c.plan_id == PLANS.c.id, PLAN_REVISIONS.c.number == PLANS.c.latest)
        question = select(PLAN_REVISIONS).join(PLANS, of).where(PLANS.c.id.in_(ids))
        with self.store.reading() as connection:
            return {row._mapping["plan_id"]: _opened(row) for row in connection.execute(question)}

    def revisions(self, id: str) -> list[Revision]:
        """All revisions of a plan, the latest first. Raises NotKept."""
        with self.store.reading() as connection:
            return [_opened(row) for row in LEDGER.all_of(connection, id)]

    def entry(self, id: str) -> Entry:
        """A plan as the list shows it. Raises NotKept."""
        with self.store.reading() as connection:
            return _entry(LEDGER.entry(connection, id))

    def on_sheet(self, part: str, skip: int = 0) -> Generator[Revision]:
        """The latest revisions of the plans on the list that name a part sheet, by id, as the store gives them."""
        of = and_(PLAN_REVISIONS.c.plan_id == PLANS.c.id, PLAN_REVISIONS.c.number == PLANS.c.latest)
        question = select(PLAN_REVISIONS).join(PLANS, of).where(_on_sheet(part)).order_by(PLANS.c.id).offset(skip)
        with (
            self.store.reading() as connection,
            connection.execution_options(yield_per=ROWS_AT_ONCE).execute(question) as rows,
        ):
            for row in rows:
                yield _opened(row)

    def count_on_sheet(self, part: str) -> int:
        """How many plans on the list name a part sheet."""
        with self.store.reading() as connection:
            return int(connection.execute(select(func.count()).select_from(PLANS).where(_on_sheet(part))).scalar_one())

    def retire(self, id: str, retired: bool = True) -> Entry:
        """Take a plan off the list, or bring it back; its revisions stay. Raises NotKept."""
        with self.store.writing() as connection:
            LEDGER.retire(connection, id, retired)
        return self.entry(id)


def _on_sheet(part: str) -> ColumnElement[bool]:
    return and_(PLANS.c.part == fit(part), PLANS.c.retired_at.is_(None))


def _plain(text: str) -> str:
    """A text as it is searched: small letters, without what could not be stored."""
    return text.casefold().replace("\x00", " ")[: LONGEST_NAME * 2]


def _listed_values(raw: Mapping[str, Any], made: Revision, standing: Standing) -> dict[str, Any]:
    """What a plan's row says of its latest revision."""
    words = (raw.get("name", ""), standing.part_name, standing.part, raw.get("owner", ""), made.kept_by)
    return {
        "name": fit(raw.get("name")),
        "search": _plain(" ".join(fit(word) for word in words)),
        "part_name": fit(standing.part_name),
        **_common_values(made, standing),
    }


def _revision_values(raw: Mapping[str, Any], made: Revision, standing: Standing) -> dict[str, Any]:
    return {
        "text": json.dumps(raw, ensure_ascii=True, separators=(",", ":")),
        "sheet_revision": standing.sheet_revision,
        "sheet_hash": standing.sheet_hash,
        "way": None if standing.way is None else write_way(standing.way),
        **_common_values(made, standing),
    }


def _common_values(made: Revision, standing: Standing) -> dict[str, Any]:
    return {
        "part": fit(standing.part),
        "kept_at": made.kept_at,
        "kept_by": made.kept_by,
        "legal": standing.legal,
        "inside": standing.inside,
        "windows": standing.windows,
    }


def _revision(
    id: str, number: int, raw: Mapping[str, Any], kept_by: str, standing: Standing, kept_at: float | None = None
) -> Revision:
    return Revision(
        id=id,
        revision=number,
        raw=raw,
        kept_at=time.time() if kept_at is None else kept_at,
        kept_by=fit(kept_by.strip(), NOBODY),
        part=standing.part,
        sheet_revision=standing.sheet_revision,
        sheet_hash=standing.sheet_hash,
        legal=standing.legal,
        inside=standing.inside,
        windows=standing.windows,
        way=standing.way,
    )


def _opened(row: Row[Any]) -> Revision:
    values = row._mapping
    return Revision(
        id=values["plan_id"],
        revision=values["number"],
        raw=json.loads(values["text"]),
        way=read_way(values["way"]),
        **{key: values[key] for key in ("kept_at", "kept_by", "part", "sheet_revision", "sheet_hash")},
        **{key: values[key] for key in ("legal", "inside", "windows")},
    )


def _entry(row: Row[Any]) -> Entry:
    values = row._mapping
    keys = ("id", "name", "part", "part_name", "kept_at", "kept_by", "legal", "inside", "windows")
    return Entry(
        revision=values["latest"], retired=values["retired_at"] is not None, **{key: values[key] for key in keys}
    )
