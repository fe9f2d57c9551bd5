"""The Plan page in a real browser, and by plain post without script."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations

OpenPage = Callable[..., Page]


def row(page: Page, key: str) -> str:
    """The text of a row, its spaces made plain."""
    text = page.locator(f'[id="row-{key}"]').inner_text()
    return re.sub(r"\s+", " ", text)


def mark_x(page: Page, key: str) -> float:
    """Where the mark of a row's lane stands, in px."""
    box = page.locator(f'[id="row-{key}"] .lane-pic use[href^="#m-"]').first.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2


def test_a_changed_ratio_moves_frequency_lane_finding_and_sum_while_the_caret_stays(page: Page) -> None:
    """232 MHz / 9 = 25.777777… MHz, which is 1.2222 MHz below 27 MHz."""
    before = mark_x(page, "converter")
    field = page.locator('[id="f-set.main_converter"]')
    field.click()
    field.press("Control+A")
    field.press("9")
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    assert "25.777 777…" in row(page, "converter")
    assert "1.22 MHz of headroom" in row(page, "converter")
    assert mark_x(page, "converter") < before
    expect(page.locator(".findings")).not_to_contain_text("is over by 2")
    expect(page.locator("#said")).to_contain_text("PLL converter tap 25.777777… MHz. 10 of 10 clocks inside.")
    assert page.evaluate("document.activeElement.id") == "f-set.main_converter"
    assert page.evaluate("document.activeElement.selectionStart") == 1
    assert "plan=1." in page.url


def test_a_mend_is_one_button_and_focus_goes_to_what_it_changed(page: Page) -> None:
    page.locator("#sum-mend").click()
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    expect(page.locator('[id="f-set.main_converter"]')).to_have_value("9")
    expect(page.locator('[id="f-set.main_converter"]')).to_be_focused()
    expect(page.locator("#kept")).to_contain_text("1 change since it was opened")
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator('[id="f-set.main_converter"]')).to_have_value("8")


def test_a_ratio_that_is_not_offered_keeps_what_was_typed_and_what_counted(page: Page) -> None:
    field = page.locator('[id="f-set.main.feedback"]')
    field.fill("290")
    fault = page.locator('[id="w-set.main.feedback"]')
    expect(fault).to_contain_text("290 is not offered; 10 to 72 are. The plan still shows ×29.")
    expect(field).to_have_value("290")
    expect(field).to_have_attribute("aria-invalid", "true")
    assert "232.000 000" in row(page, "main.feedback")
    field.press("Escape")
    expect(field).to_have_value("29")
    expect(fault).to_have_count(0)


def test_arrow_keys_go_to_the_next_allowed_value(page: Page) -> None:
    """Slow bus: 1, 2, 3, 4, 6, 8."""
    field = page.locator('[id="f-set.slow_bus"]')
    field.focus()
    for key, value in (
        ("ArrowUp", "3"),
        ("ArrowUp", "4"),
        ("ArrowUp", "6"),
        ("ArrowDown", "4"),
        ("ArrowUp", "6"),
        ("ArrowUp", "8"),
        ("ArrowUp", "8"),
    ):
        field.press(key)
        expect(field).to_have_value(value)
    expect(page.locator('[id="row-slow_bus-out"]')).to_contain_text("7.250")


def test_a_load_taken_out_of_use_stops_what_only_it_needed(page: Page) -> None:
    page.locator('[id="f-use.analogue_converter"]').select_option("no")
    expect(page.locator('[id="row-converter"]')).to_contain_text("Not running")
    page.locator('[id="f-use.usb_link"]').select_option("yes")
    expect(page.locator('[id="row-usb_link"]')).to_contain_text("Over by")


def test_a_formula_opens_in_place_answers_a_wish_and_closes_by_escape(page: Page) -> None:
    """The core: 8 MHz / 1 * 29 / 4 = 58 MHz, so 56 MHz needs 224/29 MHz = 7.724137… MHz."""
    page.locator('[id="eq-core"]').click()
    drawer = page.locator('[id="drawer-core"]')
    expect(drawer.locator("math").first).to_be_visible()
    expect(drawer).to_contain_text("feedback multiplier 29")
    wish = page.locator('[id="f-wish.core"]')
    wish.fill("56 MHz")
    wish.press("Enter")
    expect(drawer).to_contain_text("7.724137… MHz (exactly 224/29 MHz) makes it exactly 56 MHz")
    wish.press("Escape")
    expect(drawer).to_have_count(0)
    expect(page.locator('[id="eq-core"]')).to_be_focused()


def test_an_address_opens_the_same_plan_elsewhere(page: Page, open_page: OpenPage) -> None:
    page.locator('[id="f-set.main_converter"]').fill("10")
    expect(page.locator('[id="row-main_converter"]')).to_contain_text("23.200")
    address = urlsplit(page.url)
    other = open_page(f"{address.path}?{address.query}")
    expect(other.locator('[id="f-set.main_converter"]')).to_have_value("10")
    assert row(other, "converter") == row(page, "converter")


def test_show_leads_to_the_row(page: Page) -> None:
    page.get_by_role("link", name="Show 3.1").click()
    assert page.evaluate("document.activeElement.closest('.row').id") == "row-core"


def test_the_page_works_without_script(open_page: OpenPage) -> None:
    page = open_page("/", java_script_enabled=False, viewport={"width": 1440, "height": 900})
    page.locator('[id="f-set.main_converter"]').fill("9")
    page.get_by_role("button", name="Count again").last.click()
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    page.locator('[id="eq-main.feedback"]').click()
    expect(page.locator('[id="drawer-main.feedback"] math').first).to_be_visible()
    page.locator('[id="f-set.main_converter"]').fill("8")
    page.locator('[id="f-set.main_converter"]').press("Enter")
    expect(page.locator("#sum")).to_contain_text("9 of 10")
    page.locator("#sum-mend").click()
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    page.locator("#copy").click()
    expect(page).to_have_url(re.compile(r"/plan\?plan=1\."))


@pytest.mark.parametrize("width", [1440, 900, 390])
def test_the_page_fits_its_width(open_page: OpenPage, width: int) -> None:
    page = open_page("/", viewport={"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") == width
    figures = "[...document.querySelectorAll('.hz')].filter(e => e.getClientRects().length)"
    assert page.evaluate(f"{figures}.filter(e => e.offsetHeight > 34).map(e => e.innerText)") == []


@pytest.mark.parametrize("path", ["/", "/plans", "/plan?part=dunlin-192", "/plan?plan=1.cut"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(open_page: OpenPage, path: str, scheme: str) -> None:
    page = open_page(path, refused="cut" in path, viewport={"width": 1440, "height": 900}, color_scheme=scheme)
    assert axe_violations(page) == []


def test_axe_finds_nothing_with_drawer_fault_and_phone(open_page: OpenPage) -> None:
    page = open_page("/", viewport={"width": 390, "height": 800})
    page.locator('[id="eq-core"]').click()
    expect(page.locator('[id="drawer-core"]')).to_be_visible()
    page.locator('[id="f-set.main.feedback"]').fill("290")
    expect(page.locator('[id="w-set.main.feedback"]')).to_be_visible()
    assert axe_violations(page) == []


def test_a_lost_server_is_said_with_what_was_not_counted(open_page: OpenPage) -> None:
    page = open_page("/", viewport={"width": 1440, "height": 900})
    page.route("**/plan", lambda route: route.fulfill(status=204, body=""))
    page.unroute("**/plan")
    page.evaluate("document.dispatchEvent(new CustomEvent('htmx:error'))")
    expect(page.get_by_role("alert")).to_contain_text("No answer since")
    page.get_by_role("button", name="Try now").click()
    expect(page.locator("#lost")).to_be_hidden()


def test_markup_in_a_name_is_shown_as_text(client: TestClient) -> None:
    first = client.get("/").text
    fields = dict(re.findall(r'name="(plan|opened)" value="([^"]*)"', first))
    answer = client.post("/plan", data={**fields, "name": "<script>alert(1)</script>\u202e", "owner": '"><b>'})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.text
    assert "&lt;script&gt;alert(1)" in answer.text


def test_every_page_sends_a_policy_without_inline_script(client: TestClient) -> None:
    for path in ("/", "/plans", "/nowhere", "/static/fields.js", "/healthz"):
        policy = client.get(path).headers["content-security-policy"]
        assert policy.startswith("default-src 'self'; img-src 'self' data:")
        assert "unsafe" not in policy


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("/plan?plan=1.eJx", 400, "cut short or altered"),
        ("/plan?plan=9.abc", 400, "this server reads version 1"),
        ("/plan?plan=", 400, "copy the whole address again"),
        ("/plan?part=turnstone-85", 404, "Turnstone 58"),
    ],
)
def test_an_address_that_opens_nothing_says_why(client: TestClient, address: str, status: int, words: str) -> None:
    answer = client.get(address)
    assert answer.status_code == status
    assert words in answer.text


def test_a_plan_on_an_unknown_sheet_opens_for_reading_only(client: TestClient) -> None:
    from wheelwork.plan.permalink import write_permalink

    link = write_permalink({"name": "Old", "part": "turnstone-85", "set": {"core": 4}})
    answer = client.get("/plan", params={"plan": link})
    assert answer.status_code == 404
    assert "for reading only" in answer.text
    assert "Turnstone 58" in answer.text
    offered = re.search(r'href="/plan\?([^"]*)">Turnstone 58', answer.text)
    assert offered is not None
    assert "plan" in parse_qs(offered[1])


def test_a_switch_to_another_sheet_starts_a_first_plan_on_it(page: Page) -> None:
    page.locator('[id="f-part"]').select_option("whimbrel-132")
    expect(page.locator(".meta")).to_contain_text("part Whimbrel 132")
    expect(page.locator('[id="row-audio.fraction"]')).to_be_visible()
