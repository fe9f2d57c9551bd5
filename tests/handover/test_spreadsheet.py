"""CSV: read by Python's reader, by SQLite's and by a spreadsheet, for which no cell of it is a formula or a date."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from zipfile import ZipFile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.compilers import run_tool
from tests.handover.plans import NAMES, judged, with_titles, written
from wheelwork.handover.c_header import read_constants
from wheelwork.handover.forms import Wish, forms
from wheelwork.handover.spreadsheet import cell

FORMULAS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "＝1",
    '=HYPERLINK("a","b")',
    '"quoted", and more',
    "a\nb",
]


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_lines_end_as_rfc_4180_has_it_and_all_are_as_long_as_the_head() -> None:
    text = written("01-skerry-3-steady-running", "csv")
    assert text.count("\n") == text.count("\r\n") == len(rows_of(text)) + 1
    assert {len(row) for row in csv.reader(io.StringIO(text, newline=""), strict=True)} == {15}


@pytest.mark.parametrize("name", NAMES)
def test_the_values_are_those_of_the_c_header(name: str) -> None:
    rows = rows_of(written(name, "csv"))
    assert {row["constant"]: row["value"] for row in rows if row["constant"]} == read_constants(written(name, "c"))


@pytest.mark.parametrize("name", NAMES)
def test_sqlites_reader_reads_the_same_cells(tmp_path: Path, name: str) -> None:
    """SQLite's shell, `.import --csv`, reads RFC 4180."""
    text = written(name, "csv")
    (tmp_path / "plan.csv").write_bytes(text.encode())
    said = f".import --csv {tmp_path / 'plan.csv'} plan\n.mode json\nselect * from plan;\n"
    status, answered = run_tool("sqlite3", ":memory:", given=said)
    assert status == 0
    assert json.loads(answered) == rows_of(text)


def in_spreadsheet(folder: Path, text: str) -> tuple[str, list[dict[str, str]]]:
    """The sheet that a spreadsheet makes of a text, in its file's own XML, and the cells it gives back."""
    (folder / "plan.csv").write_bytes(text.encode())
    for made, source in (("plan.xlsx", "plan.csv"), ("back.csv", "plan.xlsx")):
        assert run_tool("ssconvert", str(folder / source), str(folder / made))[0] == 0
    with ZipFile(folder / "plan.xlsx") as parts:
        return parts.read("xl/worksheets/sheet1.xml").decode(), rows_of((folder / "back.csv").read_text())


def shown(text: str) -> str | float:
    """A cell as a spreadsheet keeps it: a number as a float, a text without the apostrophe that made it one."""
    return float(text) if re.fullmatch(r"-?\d+(\.\d+)?", text) else text.removeprefix("'")


@pytest.mark.parametrize("name", ["01-skerry-3-steady-running", "03-fog-signal-44k1", "ratios"])
def test_a_spreadsheet_shows_every_cell_as_it_is(tmp_path: Path, name: str) -> None:
    """Gnumeric, by its converter; a number of more digits than a float has is rounded to one."""
    text = written(name, "csv")
    sheet, cells = in_spreadsheet(tmp_path, text)
    assert "<f>" not in sheet
    assert [{key: shown(value) for key, value in row.items()} for row in cells] == [
        {key: shown(value) for key, value in row.items()} for row in rows_of(text)
    ]


def test_a_spreadsheet_finds_no_formula_in_nasty_titles(tmp_path: Path) -> None:
    text = forms()["csv"].write(with_titles(judged("01-skerry-3-steady-running"), FORMULAS), Wish())
    sheet, cells = in_spreadsheet(tmp_path, text)
    assert not re.search(r"<f[ >]", sheet)
    assert [shown(row["title"]) for row in cells] == [shown(row["title"]) for row in rows_of(text)]
    bare, _ = in_spreadsheet(tmp_path, "title,value\r\n=1+1,1\r\n")
    assert re.search(r"<f[ >]", bare)  # it would have found one


def test_a_clock_stands_beside_its_window_exactly() -> None:
    """29 MHz ±30 ppm is 28 999 130 to 29 000 870 Hz; allowed 0.2 to 27 MHz, so 2 000 870 Hz over at worst."""
    rows = rows_of(written("01-skerry-3-steady-running", "csv"))
    [row] = [row for row in rows if row["constant"] == "PLAN_CONVERTER_HZ"]
    kept = (
        "verdict",
        "nominal_hz",
        "lowest_hz",
        "highest_hz",
        "allowed_from_hz",
        "allowed_to_hz",
        "room_hz",
        "outside",
    )
    assert [row[key] for key in kept] == [
        *("over", "29000000", "28999130", "29000870", "200000", "27000000", "-2000870"),
        "OUTSIDE: Converter clock (ADC) is over by 2 MHz",
    ]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_title_becomes_a_formula(text: str) -> None:
    judgement = with_titles(judged("walk"), [text])
    for row in rows_of(forms()["csv"].write(judgement, Wish())):
        assert not any(re.match(r"[=+@\t\r＝＋－＠]|-(?!\d+(\.\d+)?$)", each) for each in row.values())


def test_a_fraction_is_no_date() -> None:
    assert [cell(text) for text in ("3/2", "1/12/2020", "7250000/63", "1.5", "-1740")] == [
        *("'3/2", "'1/12/2020", "7250000/63", "1.5", "-1740")
    ]


@given(st.text(max_size=30))
def test_a_cell_is_read_back_whole(text: str) -> None:
    written_cell = cell(text)
    assert cell(written_cell) == written_cell or written_cell.startswith("'")
    line = io.StringIO(newline="")
    csv.writer(line, lineterminator="\r\n").writerow([written_cell, "end"])
    assert next(csv.reader(io.StringIO(line.getvalue(), newline=""), strict=True)) == [written_cell, "end"]
    assert "\n" not in written_cell
