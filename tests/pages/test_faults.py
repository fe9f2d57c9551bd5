"""Fields that cannot be right: one stands at its field, several are listed above the form as well."""

from __future__ import annotations

import re

from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect


def test_one_fault_stands_at_its_field_and_moves_nothing_above_it(page: Page) -> None:
    place = "document.getElementById('findings').getBoundingClientRect().y + scrollY"
    before = page.evaluate(place)
    page.locator('[id="f-set.slow_bus"]').fill("80")
    expect(page.locator('[id="w-set.slow_bus"]')).to_be_visible()
    expect(page.locator(".told")).to_have_count(0)
    assert page.evaluate(place) == before


def test_several_faults_are_listed_each_with_the_way_to_its_field(page: Page) -> None:
    page.locator('[id="f-set.slow_bus"]').fill("80")
    expect(page.locator('[id="w-set.slow_bus"]')).to_be_visible()
    page.locator('[id="f-set.main.feedback"]').fill("290")
    told = page.locator(".told")
    expect(told.get_by_role("heading")).to_have_text("2 fields cannot be taken")
    expect(told).to_contain_text("4.1 Slow bus: ")
    told.get_by_role("link", name="4.1 Slow bus").click()
    expect(page.locator('[id="f-set.slow_bus"]')).to_be_focused()


def fields_of(page: str) -> dict[str, str]:
    """The fields of a page's form that a browser without script would send: those with a value in the markup."""
    inputs = re.findall(r'<input\b[^>]*\bname="([^"]+)"[^>]*\bvalue="([^"]*)"', page)
    selects = re.findall(r'<select\b[^>]*\bname="([^"]+)"[^>]*>.*?value="([^"]*)" selected', page, re.S)
    return dict(inputs + selects)


def test_without_script_the_list_takes_the_focus(client: TestClient) -> None:
    fields = fields_of(client.get("/").text)
    answer = client.post("/plan", data=fields | {"set.slow_bus": "80", "supply": "3"}).text
    assert re.search(r'<h2 id="told-head" tabindex="-1" autofocus>2 fields cannot be taken</h2>', answer)
    assert 'value="80"' in answer
    assert "The plan still shows ÷2." in answer


def test_a_plan_goes_on_from_its_last_right_values(client: TestClient) -> None:
    fields = fields_of(client.get("/").text)
    answer = client.post("/plan", data=fields | {"set.slow_bus": "80", "set.main_converter": "9"}).text
    assert "10 of 10" in answer
    again = fields_of(answer)
    assert (again["set.slow_bus"], again["set.main_converter"]) == ("80", "9")
    reopened = fields_of(client.get("/plan", params={"plan": again["plan"]}).text)
    assert (reopened["set.slow_bus"], reopened["set.main_converter"]) == ("2", "9")
