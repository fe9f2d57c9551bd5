"""A shelf copied out and in: the same again in any kind of store, whole or not at all, what is there never lost."""

from __future__ import annotations

import gzip
import hashlib
import json
import tracemalloc
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from tests.postgres import Cluster
from tests.shelf.test_sheets import SMALL, checked
from wheelwork.shelf.copies import KINDS, BadCopy, Item, read_copy, write_copy
from wheelwork.shelf.copying import Brought, NotEmpty, bring_in, copied_out, count_holdings
from wheelwork.shelf.migrating import HEAD
from wheelwork.shelf.plans import Plans, Standing
from wheelwork.shelf.sheets import Sheets
from wheelwork.shelf.store import Store, open_store

STANDING = Standing("small", "Small", 1, "0" * 64, True, 9, 10)


@pytest.fixture(params=["sqlite", "postgresql"])
def other(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """A second empty store of either kind."""
    if request.param == "sqlite":
        opened = open_store(tmp_path / "other")
        yield opened
        opened.close()
        return
    cluster: Cluster = request.getfixturevalue("cluster")
    with cluster.database() as address:
        opened = open_store(tmp_path, address)
        yield opened
        opened.close()


def fill(store: Store) -> Store:
    """Two sheets and three plans with revisions, one of each kind off the list, and signs of every alphabet."""
    plans, sheets = Plans(store), Sheets(store)
    sheets.put_in(checked(), "bench 2", "small")
    sheets.revise("small", checked(SMALL + "# Prüfstand, 時計, 🕰\n"), "", 1)
    sheets.put_in(checked(), "", "old")
    sheets.retire("old")
    for name in ("Skerry", "Skerry", "Übersicht «°»"):
        made = plans.keep({"name": name, "part": "small", "set": {"core": 2}}, "Ä", STANDING)
        plans.revise(made.id, {"name": name, "part": "small", "set": {"core": 4}}, "", STANDING, 1)
    plans.retire("skerry-2")
    return store


def copy_of(store: Store) -> bytes:
    file = BytesIO()
    with copied_out(store) as (counts, items):
        write_copy(items, counts, HEAD, file)
    return file.getvalue()


def items_of(copy: bytes) -> list[Item]:
    return list(read_copy(BytesIO(copy), HEAD))


def bring(store: Store, copy: bytes, merge: bool = False) -> Brought:
    return bring_in(store, items_of(copy), merge)


def rows(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    """Everything on a shelf."""
    with store.reading() as connection:
        tables = [table for ledger in KINDS.values() for table in (ledger.latest, ledger.revisions)]
        return {table.name: sorted(map(tuple, connection.execute(select(table))), key=repr) for table in tables}


def test_a_shelf_comes_back_as_it_was_in_any_kind_of_store(store: Store, other: Store) -> None:
    brought = bring(other, copy_of(fill(store)))
    assert rows(other) == rows(store)
    assert (brought.items, brought.revisions, brought.clashes) == (
        {"sheet": 2, "plan": 3},
        {"sheet": 3, "plan": 6},
        [],
    )
    assert copy_of(other) == copy_of(store)
    plan = Plans(other).keep({"name": "Skerry", "part": "small"}, "", STANDING)
    assert plan.id == "skerry-3"


def test_what_it_holds_is_counted(store: Store) -> None:
    held = count_holdings(fill(store))
    assert (held.plans, held.retired_plans, held.plan_revisions) == (3, 1, 6)
    assert (held.sheets, held.retired_sheets, held.sheet_revisions) == (2, 1, 3)


def test_an_empty_shelf_can_be_copied(store: Store, other: Store) -> None:
    assert items_of(copy_of(store)) == []
    assert bring(other, copy_of(store)).items == {"sheet": 0, "plan": 0}


def test_a_copy_is_of_one_moment(store: Store) -> None:
    fill(store)
    with copied_out(store) as (counts, items):
        first = next(items)
        Plans(store).keep({"name": "Late", "part": "small"}, "", STANDING)
        rest = [first, *items]
    assert counts["plan"] == 3
    assert [item.id for item in rest if item.kind == "plan"] == ["skerry", "skerry-2", "ubersicht"]


def test_a_shelf_that_holds_something_is_not_filled(store: Store) -> None:
    copy = copy_of(fill(store))
    before = rows(store)
    with pytest.raises(NotEmpty, match="it holds plans: 3, part sheets: 2; name an empty one"):
        bring(store, copy)
    assert rows(store) == before


def test_what_fails_half_way_has_changed_nothing(store: Store, other: Store) -> None:
    items = items_of(copy_of(fill(store)))

    def torn() -> Iterator[Item]:
        yield from items[:-1]
        raise BadCopy(7, "torn")

    with pytest.raises(BadCopy):
        bring_in(other, torn())
    assert rows(other) == {"sheet": [], "sheet_revision": [], "plan": [], "plan_revision": []}


def test_a_large_shelf_is_copied_bit_by_bit(store: Store, tmp_path: Path) -> None:
    """15 MB of plans, of which never more than a fifth is in memory at once."""
    text = json.dumps({"name": "Large", "owner": "x" * 2000})
    row = {"kept_at": 1.5, "kept_by": "", "part": "", "legal": True, "inside": 0, "windows": 0}
    listed = {**row, "latest": 5, "name": "Large", "search": "", "part_name": "", "retired_at": None}
    revision = {**row, "text": text, "sheet_revision": None, "sheet_hash": ""}

    def plan(number: int) -> Item:
        id = f"plan-{number}"
        revisions = [{**revision, "plan_id": id, "number": each, "text": text + " " * each} for each in range(1, 6)]
        return Item("plan", {**listed, "id": id}, tuple(revisions))

    store.prepare()
    tracemalloc.start()
    bring_in(store, map(plan, range(1500)))
    with (tmp_path / "copy.gz").open("wb") as written, copied_out(store) as (counts, items):
        write_copy(items, counts, HEAD, written)
    with (tmp_path / "copy.gz").open("rb") as file:
        assert sum(1 for _ in read_copy(file, HEAD)) == 1500
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 5 * 1500 * len(text) / 5


class TestMerging:
    def test_merging_what_is_there_changes_nothing(self, store: Store) -> None:
        copy = copy_of(fill(store))
        before = rows(store)
        brought = bring(store, copy, merge=True)
        assert (brought.items, brought.revisions) == ({"sheet": 0, "plan": 0}, {"sheet": 0, "plan": 0})
        assert (brought.clashes, rows(store)) == ([], before)

    def test_what_is_missing_is_added(self, store: Store, other: Store) -> None:
        bring(other, copy_of(fill(store)))
        Plans(store).keep({"name": "New", "part": "small"}, "", STANDING)
        Plans(store).revise("skerry", {"name": "Skerry", "part": "small", "set": {}}, "", STANDING, 2)
        Sheets(store).revise("small", checked(), "", 2)
        brought = bring(other, copy_of(store), merge=True)
        assert (brought.items, brought.revisions) == ({"sheet": 0, "plan": 1}, {"sheet": 1, "plan": 2})
        assert rows(other) == rows(store)

    def test_what_the_copy_lacks_stays(self, store: Store, other: Store) -> None:
        bring(other, copy_of(fill(store)))
        Plans(other).revise("skerry", {"name": "Skerry", "part": "small"}, "", STANDING, 2)
        Plans(other).keep({"name": "Own", "part": "small"}, "", STANDING)
        before = rows(other)
        assert bring(other, copy_of(store), merge=True).clashes == []
        assert rows(other) == before

    def test_another_history_is_told_and_left_alone(self, store: Store, other: Store) -> None:
        bring(other, copy_of(fill(store)))
        for each, mine in ((store, "here"), (other, "there")):
            Plans(each).revise("skerry", {"name": mine, "part": "small"}, "", STANDING, 2)
        Plans(store).revise("skerry", {"name": "four", "part": "small"}, "", STANDING, 3)
        before = rows(other)
        brought = bring(other, copy_of(store), merge=True)
        assert [clash.what for clash in brought.clashes] == [
            "the plan 'skerry' is another one from revision 3 on; it stays as it is here"
        ]
        assert rows(other) == before


def lines_of(copy: bytes) -> list[Any]:
    return [json.loads(line) for line in gzip.decompress(copy).splitlines()]


def copy_from(lines: list[Any], cut: bool = False) -> bytes:
    """A copy of such lines; its last line with the hash that they have."""
    body = b"".join(json.dumps(line).encode() + b"\n" for line in lines[:-1])
    last = b"" if cut else json.dumps({"sha256": hashlib.sha256(body).hexdigest()}).encode() + b"\n"
    return gzip.compress(body + last)


def change(number: int, path: str, value: Any) -> Callable[[list[Any]], list[Any]]:
    """Puts a value at a place of a line."""

    def changed(lines: list[Any]) -> list[Any]:
        *way, last = path.split(".")
        table = lines[number - 1]
        for key in way:
            table = table[key]
        table[last] = value
        return lines

    return changed


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The copy of a filled shelf."""
    store = open_store(tmp_path_factory.mktemp("data"))
    return copy_of(fill(store))


class TestBadCopies:
    """Lines of the copy: 1 head, 2 sheet `old`, 3 its revision, 4 sheet `small`, 5 and 6 its revisions, 7 plan …"""

    def test_the_copy_is_whole_before_it_is_spoilt(self, copy: bytes) -> None:
        assert items_of(copy_from(lines_of(copy))) == items_of(copy)

    def test_every_cut_is_noticed(self, copy: bytes) -> None:
        for length in range(len(copy)):
            with pytest.raises(BadCopy):
                items_of(copy[:length])

    def test_every_changed_byte_is_noticed(self, copy: bytes) -> None:
        whole = items_of(copy)
        header = 10  # of gzip: time, flags and system, which carry nothing of ours
        for place in range(header, len(copy)):
            spoilt = copy[:place] + bytes([copy[place] ^ 1]) + copy[place + 1 :]
            with pytest.raises(BadCopy):
                items_of(spoilt)
        assert items_of(copy) == whole

    def test_every_changed_line_is_noticed_by_the_hash(self, copy: bytes) -> None:
        text = gzip.decompress(copy)
        spoilt = text.replace(b"bench 2", b"bench 3")
        with pytest.raises(BadCopy, match="their sha-256 is another"):
            items_of(gzip.compress(spoilt))

    @pytest.mark.parametrize(
        ("spoil", "said"),
        [
            (change(1, "format", "wheelwork-shelf/2"), "line 1, copy: this is no copy of a shelf"),
            (change(1, "version", "9999"), f"'9999' of the shelf, newer than this program's {HEAD}"),
            (change(1, "version", None), "newer than this program's"),
            (change(1, "counts.plan", 4), "plan 3, plan_revision 6, where its first line says"),
            (change(1, "counts", {}), "its first line does not count what follows"),
            (change(2, "sheet.latest", 2), "'old' has 1 revisions, not 2"),
            (change(2, "sheet.latest", True), "'True' is no latest"),
            (change(2, "sheet.latest", 2**31), "is no latest"),
            (change(2, "sheet.kept_at", "now"), "'now' is no kept_at"),
            (change(2, "sheet.name", None), "'None' is no name"),
            (change(2, "sheet.name", "x" * 201), "is no name"),
            (change(2, "sheet.name", "\x00"), "is no name"),
            (change(2, "sheet.name", "\ud800"), "is no name"),
            (change(2, "sheet.more", 1), "this is no row of the shelf's tables"),
            (change(2, "sheet", 1), "this is no row of the shelf's tables"),
            (change(2, "table", 1), "neither a sheet nor a plan stands here, but 'sheet, table'"),
            (change(3, "sheet_revision.number", 2), "revision 1 of 'old' should stand here"),
            (change(3, "sheet_revision.sheet_id", "small"), "revision 1 of 'old' should stand here"),
            (change(4, "sheet.id", "old"), "revision 1 of 'old' should stand here"),
            (change(8, "plan_revision.text", "[]"), "the plan's text is no table"),
            (change(8, "plan_revision.text", "{"), "the plan's text is no JSON"),
            (change(8, "plan_revision.legal", 1), "'1' is no legal"),
            (lambda lines: lines[:2] + lines[3:], "'old' has 0 revisions, not 1"),
            (lambda lines: [lines[0], *lines[1:3], *lines[1:]], "the sheet 'old' stands here for the second time"),
            (lambda lines: [[], *lines[1:]], "line 1, copy: this is no table"),
            (lambda lines: lines[-1:] * 2, "this is no copy of a shelf"),
        ],
    )
    def test_lines_that_do_not_fit_are_told_though_their_hash_is_right(
        self, copy: bytes, spoil: Callable[[list[Any]], list[Any]], said: str
    ) -> None:
        with pytest.raises(BadCopy) as fault:
            items_of(copy_from(spoil(lines_of(copy))))
        assert said in str(fault.value)
        assert "nothing was changed" in str(fault.value)

    @pytest.mark.parametrize(
        ("file", "said"),
        [
            (b"", "the file ends before its last line"),
            (b"PK\x03\x04", "no whole gzip"),
            (gzip.compress(b"", mtime=0), "the file ends before its last line"),
            (gzip.compress(b"[" * 100_000 + b"\n"), "this is no line of JSON"),
            (gzip.compress(b" " * (17 * 1024 * 1024)), "the line is too long"),
        ],
    )
    def test_what_is_no_copy_is_told(self, file: bytes, said: str) -> None:
        with pytest.raises(BadCopy) as fault:
            items_of(file)
        assert said in str(fault.value)

    def test_what_goes_on_after_its_end_is_told(self, copy: bytes) -> None:
        with pytest.raises(BadCopy, match="goes on after its last line"):
            items_of(copy + gzip.compress(b"{}\n"))
        with pytest.raises(BadCopy, match="no whole gzip"):
            items_of(copy + b"more")
