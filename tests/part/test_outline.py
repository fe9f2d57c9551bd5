"""The outline: groups, rows and their order, by the rules of the page's design, section 3."""

from __future__ import annotations

from tests.pages.sheets import SHEET, dipper
from wheelwork.part.outline import Outline, outline_of
from wheelwork.part.reading import read_sheet


def outline(sheet: str = SHEET) -> Outline:
    part, problems = read_sheet(sheet)
    assert part is not None, problems
    return outline_of(part)


def groups(drawn: Outline) -> dict[str, list[str]]:
    return {group.title: [row.key for row in group.rows] for group in drawn.groups}


def test_rows_stand_in_five_groups_by_the_way_of_the_clock() -> None:
    assert groups(outline()) == {
        "Oscillators": ["rc", "crystal"],
        "PLL": ["main.reference_divider", "main.feedback", "tap"],
        "Core": ["core"],
        "Buses": ["bus"],
        "Loads": ["processor", "port_clock", "port", "half", "counter"],
    }


def test_a_divider_of_the_core_is_a_bus_even_where_it_feeds_one_load() -> None:
    drawn = outline(SHEET.replace('title = "Half clock"\ninput = "bus"', 'title = "Half clock"\ninput = "core"'))
    assert groups(drawn)["Buses"] == ["bus", "half"]


def test_rows_are_numbered_by_group_for_talk_in_reviews() -> None:
    rows = outline().row_of
    assert [rows[key].number for key in ("rc", "main.feedback", "tap", "core")] == ["1.1", "2.2", "2.3", "3.1"]


def test_a_selector_that_feeds_one_row_stands_in_it() -> None:
    rows = outline().row_of
    assert rows["reference"].key == "main.reference_divider"
    assert rows["source"].key == "core"
    assert rows["core"].chooser == "source"


def test_a_selector_that_feeds_several_has_a_row_of_its_own() -> None:
    more = SHEET + '\n[load.trace]\ntitle = "Trace"\ninput = "source"\n'
    drawn = outline(more)
    assert drawn.row_of["source"].key == "source"
    assert drawn.row_of["core"].chooser is None


def test_a_row_is_indented_under_what_feeds_it_within_its_group() -> None:
    rows = outline().row_of
    assert rows["main.feedback"].indent == 0
    assert rows["tap"].indent == 1
    assert rows["core"].indent == 0


def test_a_fed_row_never_stands_above_its_feeder() -> None:
    drawn = outline(SHEET.replace('title = "Bus"\n', 'title = "Bus"\ngroup = "Oscillators"\n'))
    place = {row.key: place for place, row in enumerate(drawn.rows)}
    assert place["bus"] > place["core"]


def test_a_group_of_the_sheet_takes_the_place_of_the_rule() -> None:
    drawn = outline(SHEET.replace('title = "Counter"\n', 'title = "Counter"\ngroup = "Timers"\n'))
    assert groups(drawn)["Timers"] == ["half", "counter"]  # what feeds only it comes along


def test_a_part_has_one_outline() -> None:
    assert outline_of(dipper()) is outline_of(dipper())
