"""Between the page and its server: slow answers, changes made meanwhile, a server that is lost or refuses."""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import Page, expect

OpenPage = Callable[..., Page]
WIDE = {"width": 1440, "height": 900}
CONVERTER_TAP = '[id="f-set.main_converter"]'
SLOW_BUS = '[id="f-set.slow_bus"]'


def slowly(page: Page, milliseconds: int) -> None:
    """Let every answer come so much later."""
    page.evaluate(
        """late => {
            const ask = window.fetch;
            window.fetch = async (...what) => {
                const answer = await ask(...what);
                await new Promise(done => setTimeout(done, late));
                return answer;
            };
        }""",
        milliseconds,
    )


def test_a_slow_answer_is_shown_by_figures_that_stand_back_and_nothing_moves(page: Page) -> None:
    slowly(page, 1000)
    before = page.locator("#sum").bounding_box()
    page.locator(CONVERTER_TAP).fill("9")
    expect(page.locator("#sum")).to_have_attribute("aria-busy", "true")
    assert page.locator("#sum").bounding_box() == before
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    expect(page.locator("#sum")).not_to_have_attribute("aria-busy", "true")


def test_a_change_made_while_an_answer_is_on_its_way_is_not_lost(page: Page) -> None:
    """The second field is left before the first answer comes, within the 200 ms in which changes gather."""
    slowly(page, 600)
    page.locator(CONVERTER_TAP).fill("9")
    page.wait_for_timeout(720)
    page.locator(SLOW_BUS).fill("4")
    page.locator(CONVERTER_TAP).focus()
    expect(page.locator('[id="row-slow_bus-out"]')).to_contain_text("14.5")
    expect(page.locator(SLOW_BUS)).to_have_value("4")
    expect(page.locator(CONVERTER_TAP)).to_have_value("9")


def test_text_counts_when_it_is_left_and_not_while_it_is_typed(page: Page) -> None:
    counted: list[str] = []
    page.on("request", lambda request: counted.append(request.method) if request.method == "POST" else None)
    field = page.locator('[id="f-supply"]')
    field.click()
    field.press("Control+A")
    field.press_sequentially("2.5 V", delay=80)
    page.wait_for_timeout(400)
    assert counted == []
    field.blur()
    page.wait_for_url(re.compile("plan=1"))
    assert counted == ["POST"]
    expect(field).to_have_value("2.5 V")


def test_a_server_that_does_not_answer_is_said_with_the_time_and_the_change(open_page: OpenPage) -> None:
    page = open_page("/", refused=True, viewport=WIDE)
    page.route("**/plan", lambda route: route.abort("aborted"))
    page.locator(CONVERTER_TAP).fill("9")
    lost = page.get_by_role("alert")
    expect(lost).to_contain_text(re.compile(r"No answer since \d\d:\d\d"))
    expect(lost).to_contain_text("your last change, PLL converter tap: divided by 9, has not been counted")
    expect(page.locator(CONVERTER_TAP)).to_be_editable()
    page.unroute("**/plan")
    page.get_by_role("button", name="Try now").click()
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    expect(page.locator("#lost")).to_be_hidden()


def test_a_server_that_refuses_leaves_the_page_as_it_is_and_is_said(open_page: OpenPage) -> None:
    page = open_page("/", refused=True, viewport=WIDE)
    page.route("**/plan", lambda route: route.fulfill(status=502, body="<h1>Bad gateway</h1>"))
    page.locator(CONVERTER_TAP).fill("9")
    expect(page.get_by_role("alert")).to_contain_text("The server answers 502")
    expect(page.locator("#outline")).to_be_visible()
    expect(page.get_by_text("Bad gateway")).to_have_count(0)


def test_a_form_that_has_lost_its_plan_leads_to_the_page_that_says_so(open_page: OpenPage) -> None:
    page = open_page("/", refused=True, viewport=WIDE)
    page.evaluate("document.querySelector('input[name=plan]').value = '1.broken'")
    page.locator(CONVERTER_TAP).fill("9")
    expect(page.locator("h1")).to_have_text("This address opens no plan")
