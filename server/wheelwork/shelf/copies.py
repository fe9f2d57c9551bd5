"""A copy of a shelf in one file: what its lines hold, how they are written, how they are checked.

The file is gzip (RFC 1952) over lines of JSON. The first line names the format and counts what follows; then each sheet
and each plan is followed by its revisions, from the first to the latest; the last line holds the sha-256 of all lines
before it. Values are those of the tables, so that the same file fills a file's shelf and a server's.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import math
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import IO, Any

from sqlalchemy import Boolean, Column, Float, Integer, String

from wheelwork.findings import Problem, quote
from wheelwork.shelf import plans, sheets
from wheelwork.shelf.revisions import Ledger

FORMAT = "wheelwork-shelf/1"
KINDS: Mapping[str, Ledger] = {"sheet": sheets.LEDGER, "plan": plans.LEDGER}
"""What is copied, in the order of the file."""
LONGEST_LINE = 16 * 1024 * 1024
LARGEST_NUMBER = 2**31 - 1

Counts = dict[str, int]
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Item:
    """A sheet or a plan of a copy with all its revisions, the first one first."""

    kind: str
    listed: Row
    revisions: tuple[Row, ...]

    @property
    def id(self) -> str:
        """Its id."""
        return str(self.listed["id"])


class BadCopy(Exception):
    """A file that is no whole copy of a shelf; `problem` says where and why."""

    def __init__(self, line: int | None, what: str) -> None:
        self.problem = Problem("copy", what, "take another copy; nothing was changed", line)
        super().__init__(self.problem.sentence())


def write_copy(items: Iterable[Item], counts: Counts, version: str, to: IO[bytes]) -> str:
    """Write a copy of the items as they come; its sha-256."""
    seen = hashlib.sha256()
    with gzip.GzipFile(filename="", mode="wb", compresslevel=6, fileobj=to, mtime=0) as packed:

        def put(line: Mapping[str, Any]) -> None:
            written = json.dumps(line, ensure_ascii=True, separators=(",", ":")).encode() + b"\n"
            seen.update(written)
            packed.write(written)

        put({"format": FORMAT, "version": version, "counts": counts})
        for item in items:
            put({item.kind: item.listed})
            for revision in item.revisions:
                put({f"{item.kind}_revision": revision})
        packed.write(json.dumps({"sha256": seen.hexdigest()}).encode() + b"\n")
    return seen.hexdigest()


def read_copy(file: IO[bytes], newest: str) -> Iterator[Item]:
    """The items of a copy, each checked; the whole has been right only once they have come to their end.

    Raises BadCopy for a file that was cut off or changed, is no copy, or comes from a newer version than `newest`.
    """
    lines = _Lines(file)
    counts = _counts_of(lines, newest)
    found: Counts = dict.fromkeys(counts, 0)
    ids: set[tuple[str, str]] = set()
    line = lines.next()
    while "sha256" not in line:
        began = lines.number
        item, line = _item(lines, line)
        if (item.kind, item.id) in ids:
            raise BadCopy(began, f"the {item.kind} {quote(item.id)} stands here for the second time")
        ids.add((item.kind, item.id))
        found[item.kind] += 1
        found[f"{item.kind}_revision"] += len(item.revisions)
        yield item
    if found != counts:
        raise BadCopy(lines.number, f"it holds {_say(found)}, where its first line says {_say(counts)}")
    lines.end(line)


class _Lines:
    """The lines of a copy, with the number of the last one and the hash of those before it."""

    def __init__(self, file: IO[bytes]) -> None:
        self.number = 0
        self._packed = gzip.GzipFile(fileobj=file, mode="rb")
        self._seen = hashlib.sha256()
        self._before = ""

    def next(self) -> Row:
        """The next line's table."""
        self.number += 1
        try:
            written = self._packed.readline(LONGEST_LINE)
        except (OSError, EOFError, zlib.error) as fault:
            raise BadCopy(self.number, f"the file is no whole gzip: {str(fault).lower()}") from fault
        if not written.endswith(b"\n"):
            what = "the file ends before its last line" if len(written) < LONGEST_LINE else "the line is too long"
            raise BadCopy(self.number, what)
        self._before = self._seen.hexdigest()
        self._seen.update(written)
        try:
            line = json.loads(written)
        except (ValueError, RecursionError) as fault:
            raise BadCopy(self.number, "this is no line of JSON") from fault
        if not isinstance(line, dict):
            raise BadCopy(self.number, "this is no table")
        return line

    def end(self, last: Row) -> None:
        """Hold the last line to the hash of all before it, and to being the last."""
        if last != {"sha256": self._before}:
            raise BadCopy(self.number, "the lines before are not those that were written: their sha-256 is another")
        try:
            rest = self._packed.read(1)
        except (OSError, EOFError, zlib.error) as fault:
            raise BadCopy(self.number, f"the file is no whole gzip: {str(fault).lower()}") from fault
        if rest:
            raise BadCopy(self.number + 1, "the file goes on after its last line")


def _counts_of(lines: _Lines, newest: str) -> Counts:
    first = lines.next()
    if first.get("format") != FORMAT:
        raise BadCopy(1, f"this is no copy of a shelf: its first line does not name the format {FORMAT}")
    version, counts = first.get("version"), first.get("counts")
    if not isinstance(version, str) or version > newest:
        raise BadCopy(1, f"it was written by version {quote(version)} of the shelf, newer than this program's {newest}")
    names = {name for kind in KINDS for name in (kind, f"{kind}_revision")}
    if not isinstance(counts, dict) or counts.keys() != names or not all(type(n) is int for n in counts.values()):
        raise BadCopy(1, "its first line does not count what follows")
    return counts


def _item(lines: _Lines, line: Row) -> tuple[Item, Row]:
    """A sheet or plan with the revisions that follow it, and the line after those."""
    kind = next((kind for kind in KINDS if line.keys() == {kind}), None)
    if kind is None:
        raise BadCopy(lines.number, f"neither a sheet nor a plan stands here, but {quote(', '.join(line)[:80])}")
    ledger = KINDS[kind]
    listed = _checked(line[kind], list(ledger.latest.c), lines.number)
    revisions: list[Row] = []
    line = lines.next()
    while line.keys() == {f"{kind}_revision"}:
        revision = _checked(line[f"{kind}_revision"], list(ledger.revisions.c), lines.number)
        if (revision[ledger.owner.name], revision["number"]) != (listed["id"], len(revisions) + 1):
            what = f"revision {len(revisions) + 1} of {quote(listed['id'])} should stand here"
            raise BadCopy(lines.number, what)
        if kind == "plan":
            _hold_plan(revision["text"], lines.number)
        revisions.append(revision)
        line = lines.next()
    if len(revisions) != listed["latest"]:
        raise BadCopy(lines.number, f"{quote(listed['id'])} has {len(revisions)} revisions, not {listed['latest']}")
    return Item(kind, listed, tuple(revisions)), line


def _checked(row: Any, columns: list[Column[Any]], line: int) -> Row:
    """A row that fits its table; a column that may be empty may be left out."""
    names = {column.name for column in columns}
    if not isinstance(row, dict) or not row.keys() <= names:
        raise BadCopy(line, "this is no row of the shelf's tables")
    for column in columns:
        value = row.setdefault(column.name, None)
        if not (column.nullable if value is None else _fits(value, column)):
            raise BadCopy(line, f"{quote(str(value)[:80])} is no {column.name}")
    return row


def _fits(value: Any, column: Column[Any]) -> bool:
    match column.type:
        case Boolean():
            return isinstance(value, bool)
        case Integer():
            return type(value) is int and 0 <= value <= LARGEST_NUMBER
        case Float():
            return type(value) in (int, float) and math.isfinite(value)
        case String(length=length):
            if not isinstance(value, str) or (length is not None and len(value) > length) or "\x00" in value:
                return False
            return not any("\ud800" <= sign <= "\udfff" for sign in value) if not value.isascii() else True
    return False


def _hold_plan(text: str, line: int) -> None:
    try:
        plan = json.loads(text)
    except (ValueError, RecursionError) as fault:
        raise BadCopy(line, "the plan's text is no JSON") from fault
    if not isinstance(plan, dict):
        raise BadCopy(line, "the plan's text is no table")


def _say(counts: Counts) -> str:
    return ", ".join(f"{name} {count}" for name, count in counts.items())
