"""The Links page in a browser: it counts as one types, keeps focus and caret, closes by Escape, and fits its window."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations
from tests.demo import load_demo
from tests.pages.boards import RADIO, SLOW, TIDE, TOO_FAST, address_of, plan_with
from wheelwork.pages.plan import permalink_of

OpenPage = Callable[..., Page]
FOUR = plan_with(TIDE, RADIO, SLOW, TOO_FAST)


def row(page: Page, place: int) -> str:
    return page.locator(f"#link-{place}").inner_text().replace("\u2009", " ").replace("\u00a0", " ")


def field(place: int, key: str) -> str:
    return f'[id="f-link.{place}.{key}"]'


def test_a_row_opens_with_the_keyboard_and_escape_closes_it_again(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR))
    name = page.locator("#eq-link-1")
    name.focus()
    page.keyboard.press("Enter")
    expect(name).to_have_attribute("aria-expanded", "true")
    expect(name).to_be_focused()
    page.locator(field(1, "rate")).focus()
    page.keyboard.press("Escape")
    expect(name).to_have_attribute("aria-expanded", "false")
    expect(name).to_be_focused()
    expect(page.locator("#drawer-link-1")).to_have_count(0)


def test_a_divisor_is_ticked_and_counted_and_said(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR, 1))
    page.get_by_label(re.compile("÷ 3 15/16")).check()
    expect(page.locator("#link-1 .l-share")).to_contain_text("uses 5")
    expect(page.locator("#said")).to_contain_text("Radio modem: uses 5")
    expect(page.get_by_label(re.compile("÷ 3 15/16"))).to_be_checked()
    assert "plan=" in page.url
    address = page.url
    again = open_page(address)
    assert "÷ 3 15/16" in row(again, 1)


def test_a_rate_counts_when_it_is_left_and_what_cannot_be_taken_is_told_there(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR, 1))
    rate = page.locator(field(1, "rate"))
    rate.fill("460800")
    page.keyboard.press("Tab")
    expect(rate).to_have_attribute("aria-invalid", "true")
    expect(page.locator('[id="w-link.1.rate"]')).to_contain_text("'460800' has no unit")
    expect(rate).to_have_value("460800")
    rate.fill("460800 Bd")
    page.keyboard.press("Tab")
    expect(rate).not_to_have_attribute("aria-invalid", "true")
    expect(page.locator("#link-1 .l-wanted")).to_have_text(re.compile("460.800.Bd"))


def test_a_standard_brings_its_rate_into_the_field_and_it_can_be_taken_back(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR, 0))
    page.locator(field(0, "from")).select_option("standard:midi")
    expect(page.locator(field(0, "rate"))).to_have_value("31250 Bd")
    expect(page.locator("#said")).to_contain_text("and no longer 9600")
    expect(page.locator(field(0, "from"))).to_have_value("standard:midi")
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator(field(0, "rate"))).to_have_value("9600 Bd")


def test_an_allowance_of_ones_own_gets_a_field(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR, 1))
    page.locator(field(1, "from")).select_option("common")
    expect(page.locator(field(1, "allowance"))).to_have_count(0)
    page.locator(field(1, "from")).select_option("own")
    expect(page.locator(field(1, "allowance"))).to_have_value("±1 %")
    expect(page.locator("#link-1 .l-share")).to_contain_text("slow by 1.67")


def test_a_link_is_added_and_taken_out_and_that_taken_back(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR))
    page.get_by_role("button", name="Add a link").click()
    expect(page.locator(field_new("on"))).to_be_focused()
    page.locator(field_new("on")).select_option("serial_port/uart")
    expect(page.locator(field_new("frame"))).to_be_visible()
    page.locator(field_new("rate")).fill("115200 Bd")
    page.locator(field_new("name")).fill("Console")
    page.keyboard.press("Tab")
    expect(page.locator("#link-4")).to_contain_text("Console")
    expect(page.locator("#links-sum")).to_contain_text("3 of 5 links")
    page.locator("#drop-4").click()
    expect(page.locator("#link-4")).to_have_count(0)
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#link-4")).to_contain_text("Console")


def field_new(key: str) -> str:
    return f'[id="f-link.new.{key}"]'


def test_the_focus_goes_where_a_button_acted(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR))
    page.get_by_role("button", name="Open it").first.click()
    expect(page.locator("#eq-link-2")).to_be_focused()
    page.locator("#close-2").click()
    expect(page.locator("#eq-link-2")).to_be_focused()
    page.get_by_role("button", name="Use the nearest").click()
    expect(page.locator("#eq-link-2")).to_be_focused()
    expect(page.locator("#links-sum")).to_contain_text("3 of 4 links")
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#links-sum")).to_be_focused()
    expect(page.locator("#said")).to_contain_text("Taken back. 2 of 4 links")


def test_a_wanted_clock_leads_to_the_search(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR))
    page.get_by_role("button", name="Make it a target").last.click()
    page.wait_for_url("**/targets?plan=*")
    expect(page.locator('input[name$=".wanted"]').last).to_have_value("29.75 MHz")


@pytest.mark.parametrize("width", [320, 390, 700, 701, 900, 1240, 1241, 1440])
def test_nothing_reaches_past_the_window(open_page: OpenPage, width: int) -> None:
    page = open_page(address_of(FOUR, 0, 1), viewport={"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [320, 390, 900, 1440])
def test_an_equation_breaks_its_lines_before_an_equals_sign_and_never_scrolls(open_page: OpenPage, width: int) -> None:
    part, plan = load_demo("06-pier-head-storm-watch")
    places = " ".join(str(place) for place in range(len(plan.links)))
    address = f"/links?{urlencode({'plan': permalink_of(plan, part), 'open': places})}"
    page = open_page(address, viewport={"width": width, "height": 900})
    equations = page.locator(".sums .formula")
    assert equations.count() > 40
    assert (
        equations.evaluate_all(
            "all => all.filter(each => each.scrollWidth > each.clientWidth).map(each => each.ariaLabel)"
        )
        == []
    )
    long = page.get_by_label("At worst of Pump drive").locator("math")
    tops = [box["y"] for math in long.all() if (box := math.bounding_box()) is not None]
    assert len(tops) == 3
    assert len(set(map(round, tops))) > 1


@pytest.mark.parametrize("width", [390, 1440])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_read_it(open_page: OpenPage, width: int, scheme: str) -> None:
    page = open_page(address_of(FOUR, 1), viewport={"width": width, "height": 900}, color_scheme=scheme)
    assert axe_violations(page) == []
    page.get_by_role("button", name="Add a link").click()
    expect(page.locator("#new-link")).to_be_visible()
    assert axe_violations(page) == []


def test_everybody_can_read_the_empty_page(open_page: OpenPage) -> None:
    assert axe_violations(open_page(address_of(plan_with()))) == []


def test_on_a_phone_the_picture_has_a_line_of_its_own_and_what_is_touched_is_large_enough(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR, 1), viewport={"width": 390, "height": 900})
    name, picture = page.locator("#eq-link-1").bounding_box(), page.locator("#link-1 > .walls").first.bounding_box()
    assert name is not None
    assert picture is not None
    assert picture["y"] >= name["y"] + name["height"]
    assert picture["width"] > 340
    picks = page.locator(".pick").all()
    assert picks
    assert all((box := pick.bounding_box()) is not None and box["height"] >= 44 for pick in picks)


def test_it_works_without_script(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR, 1), java_script_enabled=False)
    page.get_by_label(re.compile("÷ 3 15/16")).check()
    page.get_by_role("button", name="Count again").last.click()
    assert "uses 5 %" in row(page, 1)


def test_on_paper_the_rows_stay_and_the_buttons_go(open_page: OpenPage) -> None:
    page = open_page(address_of(FOUR))
    page.emulate_media(media="print")
    expect(page.locator("#eq-link-0")).to_be_visible()
    expect(page.locator("#link-0 .lane-pic")).to_be_visible()
    expect(page.locator("#f-add")).not_to_be_visible()
    expect(page.locator("#target-1")).not_to_be_visible()
