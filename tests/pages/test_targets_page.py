"""The Targets page by plain post and in a real browser: every button, and what a search found."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations
from tests.demo import load_demo
from wheelwork.pages.plan import permalink_of
from wheelwork.plan.permalink import read_permalink
from wheelwork.plan.plan import Plan, Target

OpenPage = Callable[..., Page]
MHZ = Fraction(10**6)
PART, PLAN = load_demo("01-skerry-3-steady-running")
HELD = ("core_source", "core", "converter_source", "port_source", "calendar_source", "core_voltage")
CORE, LINK = Target("core", 58 * MHZ, Fraction(1, 200)), Target("main_link", 48 * MHZ, Fraction(1, 400))
WANTED = replace(
    PLAN,
    targets=(CORE, Target("converter", 26 * MHZ, Fraction(1, 100)), Target("slow_bus", at_most=31 * MHZ)),
    held=HELD,
)
"""PLL ÷1 ×29 or ÷2 ×58, core tap ÷4, converter tap ÷9 with the slow bus at ÷2, 3, 4, 6 or 8: 2 * 5 = 10 settings."""
TOO_MUCH = replace(PLAN, targets=(CORE, LINK), keep_running=("main_link",), held=HELD)
"""232 MHz is a multiple of 58 and not of 48; the VCO cannot stand on both."""


def link_of(plan: Plan) -> str:
    return permalink_of(plan, PART)


def address_of(plan: Plan, **more: str) -> str:
    return "/targets?" + urlencode({"plan": link_of(plan), **more})


def form_of(plan: Plan, *rows: tuple[str, str, str], **more: str) -> dict[str, str]:
    """What a browser posts for a plan with these rows, all that the plan holds ticked."""
    fields = {"plan": link_of(plan), "first": "fewest changes", "search": "", "top": "24"}
    fields |= {f"held.{key}": "yes" for key in plan.held}
    for number, row in enumerate(rows):
        fields |= {
            f"target.{number}.{what}": text for what, text in zip(("node", "wanted", "within"), row, strict=True)
        }
    return fields | more


ROWS = (("core", "58 MHz", "±0.5 %"), ("converter", "26 MHz", "±1 %"), ("slow_bus", "at most 31 MHz", "none"))


def text_of(html: str) -> str:
    """The words of a page, spaces made plain."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("\u2009", " ")


def plan_in(address: str) -> dict[str, Any]:
    """The raw plan that an address carries."""
    raw, problems = read_permalink(parse_qs(urlsplit(address).query)["plan"][0])
    assert raw is not None, problems
    return raw


def search(client: TestClient, form: dict[str, str]) -> str:
    """Post a search as a browser without script does, and look until it is over; the page's text as markup."""
    answer = client.post("/targets", data=form)
    for _ in range(60):
        if 'id="running"' not in answer.text:
            return answer.text
        answer = client.get(str(answer.url))
    raise AssertionError("the search did not end")


def test_a_search_by_plain_post_leads_to_an_address_of_its_own(client: TestClient) -> None:
    answer = client.post("/targets", data=form_of(PLAN, *ROWS), follow_redirects=False)
    assert answer.status_code == 303
    query = parse_qs(urlsplit(answer.headers["location"]).query)
    assert query["search"]
    assert [target["node"] for target in plan_in(answer.headers["location"])["target"]] == [row[0] for row in ROWS]


def test_ten_settings_fit_and_are_proven_to_be_all(client: TestClient) -> None:
    page = search(client, form_of(WANTED, *ROWS))
    told = text_of(page)
    assert "10 settings fit" in told
    assert re.search(r"All [\d ]+ were searched in [\d.]+ m?s, so there are no others\.", told)
    assert "does not fit" in told
    assert "÷1 ×29 then ÷4, ÷9" in told


def test_use_leads_to_the_plan_page_with_those_settings(client: TestClient) -> None:
    page = search(client, form_of(WANTED, *ROWS))
    first = re.search(r'<a class="button" href="(/plan[^"]+)" aria-label="Use rank 1"', page)
    assert first is not None
    assert plan_in(first[1])["set"]["main_converter"] == 9
    assert "10 of 10" in text_of(client.get(first[1]).text)


def test_nothing_fits_and_a_button_opens_it_again(client: TestClient) -> None:
    form = form_of(TOO_MUCH, ("core", "58 MHz", "±0.5 %"), ("main_link", "48 MHz", "±0.25 %"))
    page = search(client, form)
    told = text_of(page)
    assert "Nothing fits" in told
    assert "These two already exclude each other." in told
    assert 'aria-label="A: 116' in page
    buttons = dict(re.findall(r'name="instead" value="([^"]+)" id="[^"]+">([^<]+)<', page))
    left = next(link for link, label in buttons.items() if label == "Leave B out")
    after = search(client, {**form, "instead": left})
    assert re.search(r"\d settings fit", text_of(after))
    assert "main_link" not in re.findall(r'<option value="(\w+)" selected', after)


def test_what_cannot_be_taken_is_not_searched_and_stays_as_it_was_typed(client: TestClient) -> None:
    answer = client.post(
        "/targets", data=form_of(PLAN, ("core", "58", "±0.5 %"), ("slow_bus", "at most 31 MHz", "1 %"))
    )
    assert answer.status_code == 200
    assert 'value="58"' in answer.text
    assert answer.text.count('aria-invalid="true"') == 2
    assert "write it as 58 MHz" in answer.text
    assert "2 fields cannot be taken" in answer.text
    assert "Nothing" not in text_of(answer.text.split('id="found"')[1])


def test_a_row_more_keeps_all_that_was_typed(client: TestClient) -> None:
    answer = client.post("/targets", data=form_of(PLAN, ("core", "fifty", "half"), **{"add": "yes"}))
    assert 'value="fifty"' in answer.text
    assert 'aria-invalid="true"' not in answer.text
    assert 'id="f-target.1.wanted"' in answer.text
    assert 'data-focus="target.1.wanted"' in answer.text


def test_a_row_is_taken_out_by_its_number(client: TestClient) -> None:
    answer = client.post("/targets", data=form_of(PLAN, *ROWS, drop="1"))
    assert 'value="26 MHz"' not in answer.text
    assert answer.text.count('class="drop"') == 2
    assert 'value="at most 31 MHz"' in answer.text


def test_clear_takes_out_targets_and_what_is_held(client: TestClient) -> None:
    answer = client.post("/targets", data=form_of(WANTED, *ROWS, clear="yes"))
    assert answer.text.count('class="drop"') == 0
    assert not re.search(r'name="held[^>]+checked', answer.text)


def test_every_setting_that_could_matter_has_its_box_with_its_value(client: TestClient) -> None:
    """The link's tap and its source matter only with the link in use, the converter's with the converter."""
    told = text_of(client.get(address_of(replace(PLAN, held=("slow_bus",)))).text)
    held = told.split("What stays as it is")[1].split("Which to put first")[0]
    assert held.index("Slow bus ÷ 2") < held.index("PLL reference fast crystal oscillator")
    assert "PLL factors ÷ 1, × 29" in held
    assert "Core voltage 1.15 V" in held
    assert "link tap" not in held
    in_use = replace(PLAN, in_use=(*PLAN.in_use, "usb_link"))
    assert "PLL link tap" in text_of(client.get(address_of(in_use)).text)


def test_one_factor_that_is_held_is_told_apart(client: TestClient) -> None:
    page = client.get(address_of(replace(PLAN, held=("main.reference_divider",)))).text
    assert re.search(r'name="held.main.reference_divider" value="yes" checked', page)
    assert re.search(r'name="held.main.feedback" value="yes">', page)
    assert 'name="held.main"' not in page


def test_the_list_is_kept_as_csv(client: TestClient) -> None:
    page = search(client, form_of(WANTED, *ROWS))
    found = re.search(r'href="(/targets/list.csv[^"]+)"', page)
    assert found is not None
    kept = client.get(found[1])
    assert kept.headers["content-type"] == "text/csv; charset=utf-8"
    assert "attachment" in kept.headers["content-disposition"]
    assert kept.text.splitlines()[0].startswith("rank,core_voltage,wait_states,core_hertz")
    assert kept.text.splitlines()[1].startswith("1,full,2,58000000,")


def test_another_crystal_is_tried_from_standard_values(client: TestClient) -> None:
    page = search(client, form_of(WANTED, *ROWS, crystal="crystal"))
    table = text_of(page.split('class="crystals"')[1])
    assert table.index("8 MHz") < table.index("16 MHz")  # what is fitted, and with it as many settings
    assert re.search(r"Nothing fits with \d+ other values", table)
    assert "11.0592 MHz" in table.split("Nothing fits with")[1]  # no multiple of it over a divider is 58 MHz ±0.5 %


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("/targets?plan=1.broken", 400, "This address opens no plan"),
        ("/targets/list.csv?search=none", 404, "This list is not kept any more"),
        (address_of(PLAN, search="none"), 200, "This search is not kept any more"),
        (address_of(PLAN, first="cheapest"), 200, "is no preference"),
    ],
)
def test_an_address_that_leads_nowhere_says_so(client: TestClient, path: str, status: int, words: str) -> None:
    answer = client.get(path)
    assert answer.status_code == status
    assert words in answer.text


def test_the_page_without_a_plan_opens_the_demos(client: TestClient) -> None:
    answer = client.get("/targets")
    assert answer.status_code == 200
    assert "What it must reach" in answer.text


def test_targets_stand_second_among_the_page_names(client: TestClient) -> None:
    names = re.search(r'<nav class="pages".*?</nav>', client.get("/").text, re.S)
    assert names is not None
    assert re.findall(r"<a [^>]+>([^<]+)</a>", names[0])[:2] == ["Plan", "Targets"]


def test_a_finding_without_a_mend_leads_to_the_search(client: TestClient) -> None:
    """Three settings are wrong at once, and no change of one or two mends all."""
    wrong = PLAN.with_settings({key: Fraction(3) for key in ("main_converter", "main_core")})
    wrong = replace(wrong.with_settings({"main.reference_divider": Fraction(6)}), in_use=(*PLAN.in_use, "usb_link"))
    page = client.get("/plan?" + urlencode({"plan": link_of(wrong)})).text
    found = re.search(r'<a href="(/targets[^"]+)">Search for one</a>', page)
    assert found is not None
    assert "What it must reach" in client.get(found[1].replace("&amp;", "&")).text


@pytest.mark.parametrize(
    "more",
    [
        {"target.99999999999999.node": "core"},
        {f"target.{'9' * 3000}.node": "core", "add": "yes"},
        {f"target.{number}.wanted": "58 MHz" for number in range(1200)},
        {"target..wanted": "58 MHz", "target.-1.node": "core", "target.x.node": "core"},
        {"drop": "../..", "target.0.node": "<b>"},
        {"held.": "yes", "held.\x00": "yes"},
        {"stop": "none"},
        {"instead": "1.broken"},
    ],
)
def test_a_form_that_no_browser_sends_is_answered_in_words(client: TestClient, more: dict[str, str]) -> None:
    answer = client.post("/targets", data=form_of(PLAN) | more)
    assert answer.status_code in (200, 400)
    assert "<b>:" not in answer.text


def test_a_form_of_another_kind_is_refused(client: TestClient) -> None:
    assert client.post("/targets", json={"plan": "1.x"}).status_code == 415


# In a browser


def test_a_search_is_one_button_and_its_result_is_said_and_has_an_address(open_page: OpenPage) -> None:
    page = open_page(address_of(WANTED), viewport={"width": 1440, "height": 900})
    page.get_by_role("button", name="Search every setting").click()
    expect(page.locator("#f-found")).to_have_text("10 settings fit")
    expect(page.locator("#said")).to_contain_text("10 settings fit. All")
    expect(page).to_have_title("Targets of Skerry 3, steady running · Wheelwork")
    expect(page.locator("#f-found")).to_be_focused()
    assert "search=" in page.url
    assert axe_violations(page) == []
    page.get_by_role("link", name="Use rank 1").click()
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    page.go_back()
    expect(page.locator("#f-found")).to_have_text("10 settings fit")


def test_rows_come_and_go_under_the_keyboard(open_page: OpenPage) -> None:
    page = open_page(address_of(PLAN))
    page.get_by_role("button", name="Add a target").click()
    wanted = page.locator('[id="f-target.0.wanted"]')
    expect(wanted).to_be_focused()
    page.keyboard.type("58")
    page.keyboard.press("Enter")
    expect(page.locator('[id="w-target.0.wanted"]')).to_contain_text("'58' has no unit; write it as 58 MHz.")
    expect(wanted).to_have_value("58")
    expect(wanted).to_be_focused()
    page.get_by_role("button", name="Add a target").click()
    page.get_by_role("button", name="Take target 1 out").click()
    expect(page.locator(".targets li")).to_have_count(1)
    expect(wanted).to_have_value("")
    expect(page.get_by_role("button", name="Add a target")).to_be_focused()


def test_what_is_unticked_is_searched(open_page: OpenPage) -> None:
    page = open_page(address_of(WANTED))
    page.get_by_role("checkbox", name="Core voltage").uncheck()
    page.get_by_role("radio", name="Lowest supply current").check()
    page.get_by_role("button", name="Search every setting").click()
    expect(page.locator("#f-found")).to_contain_text("fit")
    expect(page.get_by_role("checkbox", name="Core voltage")).not_to_be_checked()
    expect(page.get_by_role("radio", name="Lowest supply current")).to_be_checked()
    assert "core_voltage" not in plan_in(page.url)["held"]
    assert "first=least+current" in page.url


@pytest.mark.parametrize("plan", [WANTED, TOO_MUCH], ids=["fits", "nothing fits"])
def test_the_page_works_without_script_on_a_phone(open_page: OpenPage, plan: Plan) -> None:
    page = open_page(address_of(plan), viewport={"width": 390, "height": 844}, java_script_enabled=False)
    page.get_by_role("button", name="Search every setting").click()
    while page.get_by_role("link", name="Look again").count():
        page.get_by_role("link", name="Look again").click()
    expect(page.locator("#f-found")).to_be_in_viewport()
    assert page.locator("body").evaluate("at => at.scrollWidth") <= 390


def test_nothing_wider_than_a_phone_and_nothing_that_axe_finds(open_page: OpenPage) -> None:
    page = open_page(address_of(TOO_MUCH), viewport={"width": 390, "height": 844}, color_scheme="dark")
    page.get_by_role("button", name="Search every setting").click()
    expect(page.locator("#f-found")).to_have_text("Nothing fits")
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    assert axe_violations(page) == []
