"""The library: part sheets of the demo, of the data folder and of the shelf, and the demo's plans.

A file that changes is read again at the next question; a faulty sheet keeps its place with its problems. Of sheets with
the same id the shelf's goes before a file's, and a file of the data folder before one of the demo.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from io import StringIO
from pathlib import Path
from typing import Any, overload

from wheelwork.findings import Problem, nearest
from wheelwork.folders import find_folder
from wheelwork.part.nodes import Part
from wheelwork.part.reading import LARGEST_SHEET, read_sheet
from wheelwork.plan.reading import LARGEST_PLAN, read_plan_text
from wheelwork.settings import Settings
from wheelwork.shelf.offered import Offer, OfferedSheets
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.sheets import Sheets

Stamp = tuple[int, int]


@dataclass(frozen=True, slots=True)
class StoredSheet:
    """A sheet in the library: its id (the file's name), its part, the problems of the file as it stands.

    A file that became faulty keeps the part that was read from it last; one that never was right has none.
    """

    id: str
    part: Part | None
    problems: tuple[Problem, ...] = ()
    revision: int | None = None
    """That of the shelf's sheet; None for one that lies in a file."""


@dataclass(frozen=True, slots=True)
class StoredPlan:
    """A plan of the demo as it was written."""

    id: str
    raw: dict[str, Any]


@dataclass
class Library:
    """The sheets and plans in some folders; the same id in a later folder replaces the earlier one."""

    sheet_folders: tuple[Path, ...]
    plan_folders: tuple[Path, ...] = ()
    kept: Plans | None = None
    """The plans of the shelf; None for a server that has none."""
    _sheets: dict[Path, tuple[Stamp, StoredSheet]] = field(default_factory=dict)
    _plans: dict[Path, tuple[Stamp, StoredPlan | None]] = field(default_factory=dict)
    _folders: dict[Path, tuple[int, list[Path]]] = field(default_factory=dict)
    _offered: OfferedSheets | None = None

    def sheets(self) -> dict[str, StoredSheet]:
        """All sheets by id: those of files in the order of their names, then those of the shelf."""
        files = {path.stem: self._sheet(path) for path in self._files(self.sheet_folders)}
        shelf = {} if self._shelf is None else self._shelf.on_the_list()
        return {**files, **{id: _stored(id, offer) for id, offer in shelf.items()}}

    def sheet(self, name: str, revision: int | None = None) -> StoredSheet | None:
        """The sheet of that id, or a revision of the shelf's; None where there is none.

        One that was taken off the shelf's list gives way to a file. Raises ShelfFault where only a shelf that does not
        answer could tell.
        """
        shelf = self._shelf
        if revision is not None:
            return None if shelf is None else _stored(name, shelf.revision(name, revision))
        offer = None if shelf is None else shelf.latest(name)
        if offer is None or offer.retired:
            path = self._file(name)
            if path is not None:
                return self._sheet(path)
        if offer is None and shelf is not None:
            shelf.must_answer()
        return _stored(name, offer)

    def has_file(self, name: str) -> bool:
        """Whether a sheet of that id lies in a file, whatever the shelf has."""
        return self._file(name) is not None

    def nearest(self, name: str) -> str | None:
        """The id of a sheet most like a name."""
        return nearest(name, self.sheets())

    def plans(self) -> dict[str, StoredPlan]:
        """The plans by id, in the order of their names."""
        read = ((path.stem, self._plan(path)) for path in self._files(self.plan_folders))
        return {name: plan for name, plan in read if plan is not None}

    @property
    def _shelf(self) -> OfferedSheets | None:
        """The sheets of the shelf."""
        if self.kept is not None and (self._offered is None or self._offered.sheets.store is not self.kept.store):
            self._offered = OfferedSheets(Sheets(self.kept.store))
        return None if self.kept is None else self._offered

    def _file(self, name: str) -> Path | None:
        """The last of the files that hold a sheet of that id."""
        return next((path for path in self._files(self.sheet_folders)[::-1] if path.stem == name), None)

    def _files(self, folders: tuple[Path, ...]) -> list[Path]:
        return [path for folder in folders for path in self._listed(folder)]

    def _listed(self, folder: Path) -> list[Path]:
        """The TOML files of a folder by name; listed again once a file came or went."""
        try:
            changed = folder.stat().st_mtime_ns
        except OSError:
            return []
        known = self._folders.get(folder)
        if known is None or known[0] != changed:
            known = (changed, sorted(folder.glob("*.toml")))
            self._folders[folder] = known
        return known[1]

    def _sheet(self, path: Path) -> StoredSheet:
        stamp = _stamp(path)
        known = self._sheets.get(path)
        if known is None or known[0] != stamp:
            read = _read(path)
            known = (stamp, read if known is None or read.part is not None else replace(read, part=known[1].part))
            self._sheets[path] = known
        return known[1]

    def _plan(self, path: Path) -> StoredPlan | None:
        stamp = _stamp(path)
        known = self._plans.get(path)
        if known is None or known[0] != stamp:
            text, problem = read_text_file(path, LARGEST_PLAN)
            raw = None if problem is not None else read_plan_text(text)[0]
            known = (stamp, None if raw is None else StoredPlan(path.stem, raw))
            self._plans[path] = known
        return known[1]


def make_library(settings: Settings) -> Library:
    """The demo's sheets and plans, and the sheets of the data folder after them."""
    scenarios = find_folder("scenarios")
    own = () if settings.data is None else (settings.data / "parts",)
    return Library((scenarios / "parts", *own), (scenarios / "plans",))


@overload
def _stored(id: str, offer: Offer) -> StoredSheet: ...
@overload
def _stored(id: str, offer: Offer | None) -> StoredSheet | None: ...
def _stored(id: str, offer: Offer | None) -> StoredSheet | None:
    return None if offer is None else StoredSheet(id, offer.part, offer.problems, offer.revision)


def _stamp(path: Path) -> Stamp:
    try:
        seen = path.stat()
    except OSError:
        return (0, 0)
    return (seen.st_mtime_ns, seen.st_size)


def _read(path: Path) -> StoredSheet:
    if not path.is_file():  # a pipe would be waited on for ever
        return StoredSheet(path.stem, None, (Problem(path.name, "it is no file", "keep each sheet in a file"),))
    part, problems = read_sheet_file(path)
    return StoredSheet(path.stem, part, tuple(problems))


def read_sheet_file(path: Path) -> tuple[Part | None, list[Problem]]:
    """A part from a file, or its problems; a file that cannot be read or is far too large is one problem."""
    text, problem = read_text_file(path, LARGEST_SHEET)
    return (None, [problem]) if problem is not None else read_sheet(text)


def read_text_file(path: Path, largest: int) -> tuple[str, Problem | None]:
    """The text of a file, or why it cannot be read: missing, too large, not UTF-8."""
    try:
        with path.open("rb") as file:
            read = file.read(4 * largest + 1)
        if len(read) > 4 * largest:
            size = f"it is more than {4 * largest // 1024} kB long"
            return "", Problem(path.name, size, f"at most {largest // 1024} kB are read")
        return StringIO(read.decode("utf-8-sig"), newline=None).read(), None
    except UnicodeDecodeError:
        return "", Problem(path.name, "it is not UTF-8 text", "keep it as UTF-8")
    except OSError as fault:
        return "", Problem(str(path), f"it cannot be read: {fault.strerror}", "name a file that is there")
