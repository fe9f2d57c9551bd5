"""The Charge page: what it says, what a change of phase or battery makes, faults told at their fields."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations
from tests.demo import PLANS, load_demo
from wheelwork.pages import charge_points
from wheelwork.pages.kept import Kept
from wheelwork.pages.plan import permalink_of
from wheelwork.plan.permalink import read_permalink

OpenPage = Callable[..., Page]
PART, PLAN = load_demo("01-skerry-3-steady-running")
LINK = permalink_of(PLAN, PART)


def text_of(html: str) -> str:
    plain = unescape(re.sub(r"<[^>]+>", " ", html)).replace("\u2009", " ").replace("\u00a0", " ")
    return re.sub(r"\s+", " ", plain)


def post(client: TestClient, link: str = LINK, **fields: str) -> str:
    named = {key.replace("__", "."): text for key, text in fields.items()}
    answer = client.post("/charge", data={"plan": link, "opened": "", "before": "", **named})
    assert answer.status_code == 200
    return answer.text


def raw_in(html: str) -> dict[str, object]:
    found = re.search(r'name="plan" value="([^"]*)"', html)
    assert found is not None
    raw, problems = read_permalink(unescape(found[1]))
    assert raw is not None, problems
    return raw


@pytest.mark.parametrize("name", [path.stem for path in PLANS])
def test_the_page_says_in_one_sentence_how_long_the_cell_lasts(client: TestClient, name: str) -> None:
    part, plan = load_demo(name)
    page = text_of(client.get("/charge", params={"plan": permalink_of(plan, part)}).text)
    assert re.search(r"[\d.]+ (years|months|days) on .+, mean [\d.]+ [mµ]A", page)
    assert "Ended by: " in page
    assert "One round every " in page


def test_a_phase_is_changed_and_the_sum_follows(client: TestClient) -> None:
    page = post(client, phase__0__lasts="464 000 clocks")
    assert raw_in(page)["phase"][0]["cycles"] == 464_000  # type: ignore[index]
    assert "8 ms" in text_of(page)
    page = post(client, phase__1__draws="radio 29 mA, lamp 5 mA (each)")
    draws = [{"of": "radio", "current": "29 mA"}, {"of": "lamp", "current": "5 mA", "pin": "each"}]
    assert raw_in(page)["phase"][1]["draws"] == draws  # type: ignore[index]
    assert 'value="radio 29 mA, lamp 5 mA (each)"' in page


def test_a_phase_is_added_and_taken_out(client: TestClient) -> None:
    page = post(client, add="yes")
    assert len(raw_in(page)["phase"]) == 4  # type: ignore[arg-type]
    assert len(raw_in(post(client, drop="1"))["phase"]) == 2  # type: ignore[arg-type]


def test_what_cannot_be_taken_is_told_at_its_field_and_the_last_right_value_counts(client: TestClient) -> None:
    page = post(client, phase__0__every="soon", battery__usable="120 %", battery__peak="40 mA")
    assert 'value="soon"' in page
    assert 'id="w-phase.0.every"' in page
    assert 'id="w-battery.usable"' in page
    assert raw_in(page)["phase"][0]["every"] == "125 ms"  # type: ignore[index]
    post_again = raw_in(post(client, battery__peak="40 mA"))["battery"]
    assert post_again["peak"] == "40 mA"  # type: ignore[index]


def test_the_supply_and_the_step_are_fields_here_too(client: TestClient) -> None:
    page = post(client, supply="2.5 V", core_voltage="middle")
    assert (raw_in(page)["supply"], raw_in(page)["core_voltage"]) == ("2.5 V", "middle")


def test_the_report_has_the_charge(client: TestClient) -> None:
    page = text_of(client.get("/hand-over", params={"plan": LINK, "form": "print"}).text)
    assert "Charge 1.4 years on two LR6 cells" in page


def test_it_counts_as_one_types_and_is_for_everyone(open_page: OpenPage) -> None:
    page = open_page(f"/charge?{urlencode({'plan': LINK})}")
    before = page.locator("#charge-sum").inner_text()
    page.locator('[id="f-phase.0.every"]').fill("500 ms")
    page.keyboard.press("Tab")
    expect(page.locator("#charge-sum")).not_to_have_text(before)
    expect(page.locator('[id="f-phase.0.draws"]')).to_be_focused()
    page.locator("#add").click()
    expect(page.locator('[id="f-phase.3.name"]')).to_be_focused()
    assert axe_violations(page) == []
    for width in (1440, 900, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_best_operating_point_is_said_and_made_a_plan_of(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 11 MHz and 0.95 V: 232 000 · (77 pA/Hz + (110 + 85 + 0.35) µA / 11 MHz) = 21.98 µC, reckoned by hand."""
    monkeypatch.setattr(charge_points, "SECONDS", 60)  # a loaded machine is slow, not wrong
    monkeypatch.setattr(charge_points, "_POINTS", Kept(1))
    page = client.get("/charge", params={"plan": LINK}).text
    words = text_of(page)
    assert "At 11 MHz and 950 mV from the fast RC oscillator it costs 22 µC, 10 % less than now, takes 21.1 ms" in words
    assert "Every legal setting of every step was counted: none costs less." in words
    assert "Its peripheral clocks run as slow as is legal: look at Links before it is kept." in words
    found = re.search(r'href="(/plan\?[^"]*)">Make a plan of it', page)
    assert found is not None
    made = client.get(unescape(found[1]))
    assert made.status_code == 200
    raw = raw_in(made.text)
    settings = raw["set"]
    assert isinstance(settings, dict)
    assert (raw["core_voltage"], settings.get("core_source", PART.resets["core_source"])) == ("low", "fast_rc")
