"""The faces of the page: dark and light, narrow, and on paper. Values are the tokens and columns of its design."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

OpenPage = Callable[..., Page]
GROUND_LIGHT, GROUND_DARK = "rgb(237, 241, 238)", "rgb(14, 21, 20)"  # #EDF1EE and #0E1514


def ground(page: Page) -> str:
    found: str = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    return found


def shown(page: Page, selector: str) -> bool:
    return page.locator(selector).first.is_visible()


@pytest.mark.parametrize(
    ("scheme", "theme", "colour"),
    [
        ("light", None, GROUND_LIGHT),
        ("dark", None, GROUND_DARK),
        ("light", "dark", GROUND_DARK),
        ("dark", "light", GROUND_LIGHT),
    ],
)
def test_dark_comes_by_the_systems_wish_or_by_the_roots_theme(
    open_page: OpenPage, scheme: str, theme: str | None, colour: str
) -> None:
    page = open_page("/", color_scheme=scheme)
    if theme:
        page.evaluate(f"document.documentElement.dataset.theme = '{theme}'")
    assert ground(page) == colour


def test_below_1241_px_the_room_column_goes_and_words_and_lane_stay(open_page: OpenPage) -> None:
    page = open_page("/", viewport={"width": 1240, "height": 800})
    row = '[id="row-main_core"]'
    assert not shown(page, f"{row} .room")
    assert shown(page, f"{row} .lane")
    assert shown(page, f"{row} .verdict")


def test_a_phone_has_its_lane_in_a_line_of_its_own_without_threads(open_page: OpenPage) -> None:
    page = open_page("/", viewport={"width": 390, "height": 800})
    row = '[id="row-main_core"]'
    lane, name = page.locator(f"{row} .lane").bounding_box(), page.locator(f"{row} .name").bounding_box()
    assert lane is not None
    assert name is not None
    assert lane["height"] == 32
    assert lane["y"] >= name["y"] + name["height"]
    assert not shown(page, f'{row} use[href="#t"]')
    assert not shown(page, f"{row} .ratio")


def test_a_finger_finds_fields_of_44_px(open_page: OpenPage) -> None:
    page = open_page("/", viewport={"width": 390, "height": 800})
    small = "[...document.querySelectorAll('main input, main select, main button:not(.eq)')]"
    heights = page.evaluate(f"{small}.filter(e => e.checkVisibility()).map(e => e.getBoundingClientRect().height)")
    assert min(heights) >= 44


def test_marks_threads_and_windows_stand_where_the_sums_say(page: Page) -> None:
    """Axis 20 kHz to 500 MHz; 58 MHz at log10(2900) / log10(25000) = 3.462398 / 4.397940 = 78.73 %."""
    row = page.locator('[id="row-main_core"] .lane-pic')
    lane = row.bounding_box()
    mark = row.locator('use[href^="#m-"]').bounding_box()
    band = row.locator("rect.band").bounding_box()
    assert lane is not None
    assert mark is not None
    assert band is not None
    at = lane["x"] + lane["width"] * 0.7873
    assert mark["x"] + mark["width"] / 2 == pytest.approx(at, abs=0.6)
    assert band["x"] == pytest.approx(lane["x"], abs=0.6)
    assert band["x"] + band["width"] == pytest.approx(at, abs=0.6)
    assert band["height"] == 14
    assert band["y"] + 7 == pytest.approx(lane["y"] + lane["height"] / 2, abs=0.6)


def test_the_wall_is_one_line_through_all_rows(page: Page) -> None:
    bank, room = page.locator(".bank").bounding_box(), page.locator('[id="row-main_core"] .room').bounding_box()
    outline = page.locator("#outline").bounding_box()
    assert bank is not None
    assert room is not None
    assert outline is not None
    assert bank["x"] == pytest.approx(room["x"] + room["width"] * 0.68, abs=1)
    assert bank["height"] == pytest.approx(outline["height"] - 46, abs=4)


def test_paper_has_plain_text_in_place_of_fields_and_keeps_the_verdicts(page: Page) -> None:
    page.emulate_media(media="print")
    assert ground(page) == "rgb(255, 255, 255)"
    for gone in ("select", "button", ".allowed", ".pages a", "#copy", ".eq"):
        assert not any(each.is_visible() for each in page.locator(gone).all()), gone
    row = page.locator('[id="row-core"]')
    assert row.locator(".paper").inner_text() == "PLL core tap"
    assert row.locator(".verdict").inner_text() == "On the upper limit"
    assert row.locator(".room").is_visible()
    assert page.locator(".mend").first.is_visible()
    assert "Address: /plan?plan=1." in page.locator(".printed").inner_text()


def test_a_plan_of_twenty_rows_fits_on_one_sheet(page: Page) -> None:
    """A4 upright holds it; a second sheet would be a second page object in the file."""
    paper = page.pdf(format="A4", print_background=True)
    assert paper.count(b"/Type /Page\n") + paper.count(b"/Type /Page/") == 1
