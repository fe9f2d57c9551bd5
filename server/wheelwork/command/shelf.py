"""`wheelwork shelf`: where the shelf is and how much it holds; `export FILE` and `import FILE` copy it out and in.

A copy is one file, whole or refused: it is checked by its hash before anything is written, and comes in at once or not
at all. It fills a file's shelf and a PostgreSQL's alike, so that it also moves one to the other. `-` stands for
standard input and output.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

from sqlalchemy.engine import make_url

from wheelwork.command.check import tell_problems
from wheelwork.command.printing import show, show_fault
from wheelwork.findings import Problem
from wheelwork.settings import read_settings
from wheelwork.shelf.copies import BadCopy, Counts, read_copy, write_copy
from wheelwork.shelf.copying import NotEmpty, bring_in, copied_out, count_holdings
from wheelwork.shelf.migrating import HEAD
from wheelwork.shelf.store import FILE, ShelfFault, Store, make_store

STREAM = "-"


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("shelf", help="tell of the shelf, back it up, restore it", description=__doc__)
    parser.set_defaults(run=run)
    acts = parser.add_subparsers(title="acts", metavar="ACT")
    export = acts.add_parser("export", help="copy the shelf into a file", description="Copy the shelf into one file.")
    export.add_argument("file", metavar="FILE", help="a new file; - for standard output")
    export.add_argument("--replace", action="store_true", help="replace a file that is there")
    export.set_defaults(run=run_export)
    bring = acts.add_parser("import", help="fill a shelf from a file", description="Fill a shelf from a copy of one.")
    bring.add_argument("file", metavar="FILE", help="what export wrote; - for standard input")
    how = bring.add_mutually_exclusive_group()
    how.add_argument("--into-empty", action="store_true", help="only into a shelf that holds nothing (the default)")
    how.add_argument("--merge", action="store_true", help="add what is missing to a shelf that holds something")
    bring.set_defaults(run=run_import)


def run(parsed: argparse.Namespace) -> int:
    """Tell where the shelf is and how much it holds."""
    with _shelf() as store:
        show(f"The shelf is {_place(store)}.")
        if not store.begun:
            show("Nothing has been kept on it yet.")
            return 0
        held = count_holdings(store)
    plans, sheets = _many(held.plans, "plan"), _many(held.sheets, "part sheet")
    show(
        f"It holds {plans}{_off(held.retired_plans)} in {_many(held.plan_revisions, 'revision')}\n"
        f"and {sheets}{_off(held.retired_sheets)} in {_many(held.sheet_revisions, 'revision')}."
    )
    return 0


def run_export(parsed: argparse.Namespace) -> int:
    """Copy the shelf into a file."""
    path = None if parsed.file == STREAM else Path(parsed.file)
    with _shelf() as store:
        if not store.begun:
            what = f"the shelf would be {_place(store)}, and nothing has been kept there"
            return tell_problems([Problem("shelf", what, "name its data folder or database as the server has it")])
        if path is not None and path.exists() and not parsed.replace:
            return tell_problems([Problem(str(path), "it is there already", "name a new file, or say --replace")])
        try:
            with copied_out(store) as (counts, items), _written(path) as file:
                digest = write_copy(items, counts, HEAD, file)
        except OSError as fault:
            where = "standard output" if path is None else str(path)
            return tell_problems([Problem(where, f"it cannot be written: {fault.strerror}", "name a file that can be")])
    (show_fault if path is None else show)(f"Copied {_counted(counts)}; sha-256 {digest}")
    return 0


def run_import(parsed: argparse.Namespace) -> int:
    """Fill a shelf from a copy of one; 0 where all came in, 1 where something clashes, 2 where nothing was changed."""
    try:
        with _read(parsed.file) as file, _shelf() as store:
            for _ in read_copy(file, HEAD):  # to its end, before anything is written
                pass
            file.seek(0)
            brought = bring_in(store, read_copy(file, HEAD), parsed.merge)
    except (BadCopy, NotEmpty) as fault:
        return tell_problems([fault.problem])
    except OSError as fault:
        what = f"it cannot be read: {fault.strerror or fault}"
        return tell_problems([Problem(parsed.file, what, "name a file that export wrote")])
    show(
        f"Brought in {_many(brought.items['plan'], 'plan')} and {_many(brought.items['sheet'], 'part sheet')} with "
        f"{_many(sum(brought.revisions.values()), 'revision')}."
    )
    for clash in brought.clashes:
        show_fault(clash.sentence())
    return 1 if brought.clashes else 0


@contextmanager
def _shelf() -> Iterator[Store]:
    """The shelf that the environment names. Raises ShelfFault where it names none."""
    store = make_store(read_settings())
    if store is None:
        raise ShelfFault(Problem("shelf", "there is none here", "name a data folder in WHEELWORK_DATA"))
    try:
        yield store
    finally:
        store.close()


def _place(store: Store) -> str:
    if store.folder is not None:
        return f"the file {store.folder / FILE}"
    return f"the database {make_url(store.url).render_as_string(hide_password=True)}"


@contextmanager
def _written(path: Path | None) -> Iterator[IO[bytes]]:
    """A file that is there whole, on disk, or not at all."""
    if path is None:
        yield sys.stdout.buffer
        sys.stdout.buffer.flush()
        return
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with open(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
    finally:
        with suppress(FileNotFoundError):
            os.unlink(beside)


@contextmanager
def _read(name: str) -> Iterator[IO[bytes]]:
    """A file that can be read twice; what comes over standard input is laid aside first."""
    if name != STREAM:
        if not Path(name).is_file():
            raise OSError(None, "it is no file" if Path(name).exists() else "it is not there")
        with open(name, "rb") as file:
            yield file
        return
    with tempfile.TemporaryFile() as file:
        shutil.copyfileobj(sys.stdin.buffer, file)
        file.seek(0)
        yield file


def _counted(counts: Counts) -> str:
    revisions = counts["plan_revision"] + counts["sheet_revision"]
    return (
        f"{_many(counts['plan'], 'plan')} and {_many(counts['sheet'], 'part sheet')} with "
        f"{_many(revisions, 'revision')}"
    )


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _off(count: int) -> str:
    return f" ({count} of them off the list)" if count else ""
