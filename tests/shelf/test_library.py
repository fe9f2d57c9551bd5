"""The library: sheets by id, read again when a file changes, later folders before earlier ones, faulty ones kept."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from wheelwork.shelf.library import Library

SMALL = """format = "wheelwork-part/1"
name = "{name}"
[core]
clock = "rc"
[core_voltage.only]
volts = "1.2 V"
[oscillator.rc]
frequency = "8 MHz"
"""


def put(folder: Path, name: str, text: str) -> None:
    """Write a file with a stamp of its own, as an editor would a moment later."""
    folder.mkdir(exist_ok=True)
    path = folder / f"{name}.toml"
    later = (path.stat().st_mtime_ns if path.exists() else 0) + 10**9
    path.write_text(text)
    os.utime(path, ns=(later, later))


def name_of(library: Library, sheet: str) -> str | None:
    found = library.sheet(sheet)
    return None if found is None or found.part is None else found.part.name


def test_a_sheet_that_comes_changes_and_goes_is_seen(tmp_path: Path) -> None:
    library = Library((tmp_path / "parts",))
    assert library.sheets() == {}
    put(tmp_path / "parts", "own", SMALL.format(name="First"))
    assert name_of(library, "own") == "First"
    put(tmp_path / "parts", "own", SMALL.format(name="Second"))
    assert name_of(library, "own") == "Second"
    (tmp_path / "parts" / "own.toml").unlink()
    os.utime(tmp_path / "parts", ns=(1, 1))
    assert library.sheet("own") is None


def test_a_sheet_of_a_later_folder_goes_before_one_of_the_demo(tmp_path: Path) -> None:
    put(tmp_path / "demo", "same", SMALL.format(name="Demo"))
    put(tmp_path / "own", "same", SMALL.format(name="Own"))
    library = Library((tmp_path / "demo", tmp_path / "own"))
    assert name_of(library, "same") == "Own"
    assert len(library.sheets()) == 1


def test_a_faulty_sheet_keeps_its_place_with_its_problems(tmp_path: Path) -> None:
    put(tmp_path / "parts", "faulty", SMALL.format(name="x").replace("8 MHz", "8"))
    sheet = Library((tmp_path / "parts",)).sheet("faulty")
    assert sheet is not None
    assert sheet.part is None
    assert [problem.line for problem in sheet.problems] == [8]


def test_a_sheet_that_becomes_faulty_stays_in_use_as_it_was_read_last(tmp_path: Path) -> None:
    library = Library((tmp_path / "parts",))
    put(tmp_path / "parts", "own", SMALL.format(name="Right"))
    assert name_of(library, "own") == "Right"
    put(tmp_path / "parts", "own", SMALL.format(name="Wrong").replace("8 MHz", "8"))
    sheet = library.sheet("own")
    assert sheet is not None
    assert (name_of(library, "own"), [problem.line for problem in sheet.problems]) == ("Right", [8])
    put(tmp_path / "parts", "own", SMALL.format(name="Mended"))
    assert (name_of(library, "own"), library.sheets()["own"].problems) == ("Mended", ())


@pytest.mark.parametrize("name", ["../secret", "/etc/passwd", "own.toml", "", "\0", "own/../own"])
def test_a_name_leads_nowhere_but_into_the_folder(tmp_path: Path, name: str) -> None:
    put(tmp_path / "parts", "own", SMALL.format(name="Own"))
    put(tmp_path, "secret", SMALL.format(name="Secret"))
    assert Library((tmp_path / "parts",)).sheet(name) is None


def test_a_plan_that_is_no_text_is_left_out(tmp_path: Path) -> None:
    put(tmp_path / "plans", "fine", 'part = "own"\n')
    (tmp_path / "plans" / "bytes.toml").write_bytes(b"\xff\xfe")
    assert list(Library((), (tmp_path / "plans",)).plans()) == ["fine"]
