"""Part sheets on the shelf: checked before they are kept, revised by whoever knows the latest, never overwritten."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.demo import SCENARIOS
from wheelwork.part.reading import read_sheet
from wheelwork.part.text import read_toml
from wheelwork.shelf.revisions import NotKept
from wheelwork.shelf.sheets import CheckedSheet, SheetOvertaken, Sheets, Taken, check_tables, check_text, id_problem
from wheelwork.shelf.store import Store

SMALL = """# From the datasheet, page 3.
format = "wheelwork-part/1"
name = "Small"
[core]
clock = "rc"
[core_voltage.only]
volts = "1.2 V"
[oscillator.rc]
frequency = "8 MHz"
"""


def checked(text: str = SMALL) -> CheckedSheet:
    sheet, problems = check_text(text)
    assert sheet is not None, problems
    return sheet


def test_a_sheet_is_kept_as_it_was_written_with_its_remarks(store: Store) -> None:
    made = Sheets(store).put_in(checked(), "bench 2", "small")
    assert (made.id, made.revision, made.kept_by) == ("small", 1, "bench 2")
    assert Sheets(store).opened("small").text == SMALL


def test_a_sheet_from_another_desk_is_kept_with_plain_line_ends(store: Store) -> None:
    assert checked("\ufeff" + SMALL.replace("\n", "\r\n")).text == SMALL


def test_a_faulty_sheet_is_not_kept_and_every_problem_has_its_line() -> None:
    sheet, problems = check_text(SMALL.replace("8 MHz", "8").replace("volts", "folts"))
    assert sheet is None
    assert [problem.line for problem in problems if problem.line in (7, 9)] == [7, 9]


@pytest.mark.parametrize("sign", ["\ud800", "\x00"])
def test_what_no_store_can_hold_is_told_with_its_line(sign: str) -> None:
    sheet, problems = check_text(SMALL + f"# {sign}")
    assert sheet is None
    assert [problem.line for problem in problems] == [10]


@pytest.mark.parametrize("path", sorted((SCENARIOS / "parts").glob("*.toml")), ids=lambda path: path.stem)
def test_a_sheet_put_in_as_json_is_the_same_part(path: Path) -> None:
    text = path.read_text()
    raw, _ = read_toml(text, "sheet", 10**6)
    sheet, problems = check_tables(raw)
    assert sheet is not None, problems
    assert read_sheet(sheet.text)[0] == read_sheet(text)[0]


@pytest.mark.parametrize("raw", [None, 1, {"name": None}, {"format": "wheelwork-part/1", "name": "\ud800"}, []])
def test_json_that_is_no_sheet_is_told(raw: object) -> None:
    sheet, problems = check_tables(raw)
    assert sheet is None
    assert problems


def test_a_revision_is_added_and_the_earlier_ones_stay(store: Store) -> None:
    sheets = Sheets(store)
    sheets.put_in(checked(), "one", "small")
    assert sheets.revise("small", checked(SMALL + "# more\n"), "", 1).revision == 2
    assert [(each.revision, each.kept_by) for each in sheets.revisions("small")] == [(2, "somebody"), (1, "one")]
    assert sheets.opened("small").text == SMALL + "# more\n"
    assert sheets.opened("small", 1).text == SMALL
    assert [(entry.id, entry.revision, entry.name) for entry in sheets.listed()] == [("small", 2, "Small")]


def test_the_same_values_have_the_same_hash_whatever_the_text_looks_like(store: Store) -> None:
    sheets = Sheets(store)
    first = sheets.put_in(checked(), "one", "small")
    assert sheets.revise("small", checked(SMALL + "# more\n"), "", 1).hash == first.hash
    assert sheets.revise("small", checked(SMALL.replace("8 MHz", "9 MHz")), "", 2).hash != first.hash


def test_who_was_overtaken_writes_nothing_and_gets_what_stands_now(store: Store) -> None:
    sheets = Sheets(store)
    sheets.put_in(checked(), "one", "small")
    sheets.revise("small", checked(SMALL + "# two\n"), "two", 1)
    with pytest.raises(SheetOvertaken) as overtaken:
        sheets.revise("small", checked(SMALL + "# three\n"), "three", 1)
    assert (overtaken.value.present.revision, overtaken.value.present.text) == (2, SMALL + "# two\n")
    assert len(sheets.revisions("small")) == 2


def test_an_id_that_is_taken_stays_whose_it_is(store: Store) -> None:
    sheets = Sheets(store)
    sheets.put_in(checked(), "one", "small")
    sheets.retire("small")
    with pytest.raises(Taken) as taken:
        sheets.put_in(checked(SMALL + "# other\n"), "two", "small")
    assert "'small' is on the shelf already, taken off the list, kept by one as revision 1" in str(taken.value)
    assert sheets.opened("small").text == SMALL


def test_a_sheet_is_taken_off_the_list_and_brought_back(store: Store) -> None:
    sheets = Sheets(store)
    sheets.put_in(checked(), "one", "small")
    assert sheets.retire("small").retired
    assert (sheets.listed(), [entry.id for entry in sheets.listed(retired=True)]) == ([], ["small"])
    assert sheets.opened("small", 1).text == SMALL
    assert not sheets.retire("small", retired=False).retired
    assert [entry.id for entry in sheets.listed()] == ["small"]


def test_what_is_not_kept_is_told_with_the_nearest(store: Store) -> None:
    sheets = Sheets(store)
    sheets.put_in(checked(), "one", "small")
    for ask, said in (
        (lambda: sheets.opened("smal"), "'smal' is no part sheet on the shelf; did you mean small?"),
        (lambda: sheets.opened("small", 3), "there is no revision 3 of 'small'; 1 to 1 are kept"),
        (lambda: sheets.revise("smal", checked(), "", 1), "did you mean small?"),
        (lambda: sheets.retire("smal"), "did you mean small?"),
        (lambda: sheets.revisions("smal"), "did you mean small?"),
    ):
        with pytest.raises(NotKept, match=re.escape(said)):
            ask()


@pytest.mark.parametrize("id", ["", "../x", "a/b", ".hidden", "a b", "x" * 81, "ä", "a\n"])
def test_an_id_that_could_not_stand_in_an_address_is_told(id: str) -> None:
    problem = id_problem(id)
    assert problem is not None
    assert "such as" in problem.allowed


@pytest.mark.parametrize("id", ["small", "Buoy_16", "x.2", "x" * 80])
def test_an_id_is_what_files_are_called(id: str) -> None:
    assert id_problem(id) is None
