"""README's walk through a part sheet: the blocks are the file, the file is what its datasheet says, and plans on it."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from wheelwork.judge import judge
from wheelwork.pages.form import fresh_plan
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan, read_plan_text

ROOT = Path(__file__).resolve().parents[2]
WALK = ROOT / "scenarios" / "walk"
SHEET = (WALK / "buoy-16.toml").read_text("utf-8")
PLAN = (WALK / "channel-buoy-4.toml").read_text("utf-8")
DATASHEET = (WALK / "buoy-16-datasheet.md").read_text("utf-8")
SECTION = (ROOT / "README.md").read_text("utf-8").partition("\n## Write the sheet of your own part\n")[2]
SECTION = SECTION.partition("\n## ")[0]
BLOCKS = re.findall(r"^```toml\n(.*?)^```$", SECTION, re.M | re.S)
MHZ = 1_000_000

SLIPS = ('start_up = "2 ms"', 'startup = "2 ms"'), ('"up to 40 MHz"', '"max 40 MHz"')
"""The two slips of which the walk shows what is told."""

SAID_BESIDES = {
    'frequency = ["14 MHz", "28 MHz"]': 'frequency = "4 MHz"\n',
    'fits = ["8 MHz", "12 MHz"]': 'start_up = "2 ms"\n',
    'tolerance = [{ over = "0 °C .. 85 °C", is = "±1 %" }, …]': 'tolerance = "±9 %"\n',
    "fraction_of = 65536": 'lock_time = "80 µs"\n',
    'ratios = [1, "3/2", 2]': "ratios = [1, 2, 4]\n",
    "reset = 2": 'see = "page 17, table 12"\n\n[divider.sensor]',
    'codes = "ratio - 1"': 'ratios = "1..16"\n',
    'group = "Radio"': 'title = "Radio link (UART)"\n',
}
"""What the table at the end of the walk shows, with the line of the sheet that it stands before or replaces."""

ADDED = (
    '[scaler.timer]\ninput = "bus"\nmultiply = 2\nwhen = { divider = "bus", ratio_above = 2 }\n',
    '[[rule]]\nnode = "bus"\nat_most = "1/2"\nof = "core"\n',
)
"""The tables it shows, as one would add them."""


def part() -> Part:
    read, problems = read_sheet(SHEET)
    assert read is not None, [problem.sentence() for problem in problems]
    return read


def test_the_blocks_one_after_the_other_are_the_sheet() -> None:
    assert "\n".join(BLOCKS[:-1]) == SHEET


def test_the_last_block_is_the_plan() -> None:
    assert BLOCKS[-1] == PLAN


def test_each_step_is_one_block() -> None:
    steps = [int(number) for number in re.findall(r"^\*\*(\d)\. ", SECTION, re.M)]
    assert (steps, len(BLOCKS)) == ([1, 2, 3, 4, 5, 6, 7, 8], 7)


def test_the_minutes_come_to_half_an_hour() -> None:
    """3 + 7 + 5 + 5 + 5 + 3 = 28 minutes of writing; two are left for checking."""
    assert sum(int(minutes) for minutes in re.findall(r"\((\d+) minutes\)", SECTION)) == 28


def test_the_sheet_has_sixteen_nodes() -> None:
    """Counted in the datasheet: 3 oscillators, the PLL's choice, the PLL, 2 taps, core choice, core, bus, sensor, 5."""
    assert len(part().nodes) == 3 + 1 + 1 + 2 + 1 + 3 + 5


def test_each_figure_names_a_page_and_a_table_that_the_datasheet_has() -> None:
    pages = {text.partition(":")[0]: text for text in re.split(r"^## Page ", DATASHEET, flags=re.M)[1:]}
    for see in re.findall(r'^see = "(.+)"$', SHEET, re.M):
        page, *tables = re.findall(r"\d+", see)
        assert page in pages, see
        assert [table for table in tables if f"**Table {table}.**" not in pages[page]] == [], see


def test_each_quantity_of_the_sheet_stands_in_the_datasheet() -> None:
    """Numbers with their units; `2 MHz .. 8 MHz` counts as two."""
    stated = {number_of(text) for text in re.findall(QUANTITY, DATASHEET)}
    written = [line for line in SHEET.splitlines() if not line.startswith(("about", "figures_from", "#"))]
    assert [text for line in written for text in re.findall(QUANTITY, line) if number_of(text) not in stated] == []


QUANTITY = r"\d+(?:\.\d+)? (?:MHz|kHz|V|µA/MHz|µA|µs|ms)\b|\d+(?:\.\d+)? %"


def number_of(text: str) -> tuple[Fraction, str]:
    number, unit = text.split()
    return Fraction(number), unit


def test_a_first_plan_on_it_is_legal() -> None:
    """After reset the core runs at 4 MHz: at most 6 MHz at `low`, and up to 4 MHz without wait state."""
    first = judge(part(), fresh_plan(part(), "buoy-16"))
    assert (first.legal, first.plan.core_voltage, first.wait_states_needed) == (True, "low", 0)
    assert first.clocks["core"].nominal == 4 * MHZ


def test_the_walk_ends_with_a_legal_plan() -> None:
    """8 MHz / 2 = 4, · 30 = 120; / 8 = 15 core, 1 wait state above 8 MHz; / 2 = 7.5 bus; / 6 = 1.25 sensor."""
    raw, _ = read_plan_text(PLAN)
    plan, problems = read_plan(raw or {}, part())
    assert plan is not None, [problem.sentence() for problem in problems]
    judged = judge(part(), plan)
    clocks = {"lamp": Fraction(120), "core": Fraction(15), "bus": Fraction("7.5"), "sensor": Fraction("1.25")}
    assert {name: judged.clocks[name].nominal for name in clocks} == {name: mhz * MHZ for name, mhz in clocks.items()}
    assert (judged.legal, judged.wait_states_needed, judged.findings) == (True, 1, ())
    assert set(plan.in_use) == set(re.findall(r"^\[load\.(\w+)\]$", SHEET, re.M))


def test_the_slips_shown_are_told_as_shown() -> None:
    slipped = SHEET
    for right, wrong in SLIPS:
        assert slipped.count(right) == 1
        slipped = slipped.replace(right, wrong)
    told = [problem.sentence() for problem in read_sheet(slipped)[1]]
    assert "\n".join([f"buoy-16.toml: {len(told)} problems", *told]) in SECTION


@pytest.mark.parametrize("written", SAID_BESIDES)
def test_what_a_sheet_can_say_besides_is_read(written: str) -> None:
    assert f"`{written}`" in SECTION
    line = SAID_BESIDES[written]
    assert line in SHEET
    same_key = line.startswith(written.partition(" ")[0])
    new = written.replace(", …", "") + "\n" + ("" if same_key else line)
    _, problems = read_sheet(SHEET.replace(line, new, 1))
    assert [problem.sentence() for problem in problems] == []


@pytest.mark.parametrize("table", ADDED, ids=["scaler", "rule"])
def test_a_table_can_be_added(table: str) -> None:
    _, problems = read_sheet(SHEET + table)
    assert [problem.sentence() for problem in problems] == []


def test_the_demo_does_not_offer_the_walk(client: TestClient) -> None:
    assert "buoy-16" not in {sheet["id"] for sheet in client.get("/api/parts").json()}
    assert "Buoy 16" not in client.get("/plans").text
