"""The estimates page: what is asked for each oscillator that runs, the answer with its formula, the way to the plan."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from html import unescape
from types import MappingProxyType
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations
from tests.demo import load_demo
from wheelwork.estimates.calculators import calculators, calculators_for
from wheelwork.judge import judge
from wheelwork.pages.names import page_names
from wheelwork.pages.plan import permalink_of
from wheelwork.part.nodes import Oscillator, Part
from wheelwork.plan.permalink import read_permalink
from wheelwork.plan.plan import Plan

OpenPage = Callable[..., Page]
Board = tuple[Part, Plan]
PART, PLAN = load_demo("01-skerry-3-steady-running")
PPM = Fraction(1, 10**6)
PAIR = {"crystal.load_capacitance": "7 pF", "crystal.board_capacitance": "2.5 pF"}
TERMS = {
    "crystal.initial": "±10 ppm",
    "crystal.temperature": "±20 ppm",
    "crystal.ageing": "±3 ppm",
    "crystal.years": "5",
    "crystal.load": "±5 ppm",
}
"""XTAL-PPM-2 of tests/reference/electrical.toml: 50 ppm."""


def address(
    calculator: str = "", of: str = "", keys: Mapping[str, Any] = MappingProxyType({}), board: Board = (PART, PLAN)
) -> str:
    part, plan = board
    asked = {"of": of, "calculator": calculator}
    query = {"plan": permalink_of(plan, part), **{name: text for name, text in asked.items() if text}, **keys}
    return f"/estimates?{urlencode(query)}"


def show(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return unescape(answer.text).replace("\u00a0", " ")


def links(text: str, words: str) -> list[str]:
    return [
        found for found, said in re.findall(r'<a class="button[^>]*href="([^"]+)">([^<]+)</a>', text) if words in said
    ]


def test_the_page_has_no_name_of_its_own_and_stands_under_charge(client: TestClient) -> None:
    assert not [name for name in page_names() if name.address == "/estimates"]
    text = show(client, address())
    assert re.search(r'<a href="/charge\?plan=[^"]+" aria-current="page">Charge</a>', text)
    assert "/estimates?plan=" in client.get("/charge", follow_redirects=True).text


def test_without_a_plan_the_demos_is_shown(client: TestClient) -> None:
    moved = client.get("/estimates", follow_redirects=False)
    assert moved.status_code == 303
    assert moved.headers["location"].startswith("/estimates?plan=1.")
    assert client.get("/estimates?plan=1.nothing").status_code in (400, 404, 422)


@pytest.mark.parametrize(
    "name",
    [
        "01-skerry-3-steady-running",
        "02-skerry-3-waiting-for-the-tide",
        "03-fog-signal-44k1",
        "04-harbour-lamp",
        "05-pier-head-logging",
        "06-pier-head-storm-watch",
    ],
)
def test_every_oscillator_that_runs_is_offered_with_what_suits_it(client: TestClient, name: str) -> None:
    part, plan = load_demo(name)
    judgement = judge(part, plan)
    running = {
        node.id: (node, clock)
        for node in part.nodes.values()
        if isinstance(node, Oscillator) and (clock := judgement.nodes[node.id].clock)
    }
    text = show(client, address(board=(part, plan)))
    assert re.findall(r'name="of" id="of-(\w+)"', text) == list(running)
    for oscillator, (node, clock) in running.items():
        of_one = show(client, address(of=oscillator, board=(part, plan)))
        offered = [each.name for each in calculators_for(node.source, clock.nominal)]
        assert re.findall(r'name="calculator" id="calculator-(\w+)"', of_one) == offered
        for calculator in offered:
            whole = show(client, address(calculator, oscillator, board=(part, plan)))
            assert f'<h3 id="asked-head">{calculators()[calculator].title}</h3>' in whole
            for caution in calculators()[calculator].cautions:
                assert f"<li>{caution}</li>" in whole


def test_what_is_needed_is_said_before_anything_is_typed_and_is_no_fault(client: TestClient) -> None:
    text = show(client, address("load_capacitors", "crystal"))
    assert "It is reckoned once this is given: load capacitance of the crystal and capacitance of the board." in text
    assert "aria-invalid" not in text
    assert "How it is reckoned" in text


def test_the_nearest_pair_is_shown_with_formula_sources_and_cautions(client: TestClient) -> None:
    """XTAL-CL-4 of tests/reference/electrical.toml."""
    text = show(client, address("load_capacitors", "crystal", PAIR))
    assert "8.2 pF and 10 pF make 7.005 pF of the 7 pF wanted." in text
    assert "<mn>8.2 pF</mn><mo>×</mo><mn>10 pF</mn>" in text
    assert "IEC 60063" in text
    assert "Crystal margin and drive are estimates: measure hot, cold and at minimum supply." in text
    assert "an estimate, not a measurement" in text


def test_a_crystal_that_does_not_suit_is_said_to_be_so(client: TestClient) -> None:
    text = show(client, address("load_capacitors", "crystal", {**PAIR, "crystal.board_capacitance": "8 pF"}))
    assert "The crystal does not suit the board" in text
    assert "#g-over" in text


def test_a_value_that_cannot_be_taken_is_told_at_its_field_and_stays_there(client: TestClient) -> None:
    text = show(client, address("load_capacitors", "crystal", {**PAIR, "crystal.load_capacitance": "7<b>"}))
    assert "One value cannot be taken." in text
    assert 'value="7<b>"' in text  # unescaped by the test
    assert "'7<b>' has the unit '<b>'" in text
    raw = client.get(address("load_capacitors", "crystal", {**PAIR, "crystal.load_capacitance": "7<b>"})).text
    assert "7<b>" not in raw


def test_the_plan_gives_frequency_and_temperatures(client: TestClient) -> None:
    text = show(client, address("tuning_fork", "watch_crystal"))
    assert 'name="watch_crystal.temperatures" aria-label="Temperatures" value="-20 °C .. 50 °C"' in text
    assert 'value="8 MHz"' in show(client, address("gain_margin", "crystal"))


def test_a_watch_crystals_span_goes_on_into_its_budget_one_sided(client: TestClient) -> None:
    text = show(client, address("tuning_fork", "watch_crystal"))
    [onward] = links(text, "into the budget")
    budget = show(client, onward)
    assert "In the worst case the clock is off by −100 ppm to 0 ppm." in budget
    assert "Unlike to both sides, and so in full beside the root: over temperature." in budget


def test_capacitors_go_on_to_the_pulling_and_that_into_the_budget(client: TestClient) -> None:
    [pulling] = links(show(client, address("load_capacitors", "crystal", PAIR)), "pulling")
    more = urlencode({"crystal.motional_capacitance": "10 fF", "crystal.shunt_capacitance": "3 pF"})
    text = show(client, f"{pulling}&{more}")
    assert 'value="7.005 pF"' in text
    [budget] = links(text, "into the budget")
    keys = parse_qs(urlsplit(budget).query)
    assert keys["calculator"] == ["ppm_budget"]
    assert keys["crystal.load"][0].endswith("ppm")
    assert keys["crystal.load_capacitance"] == ["7 pF"]


def test_the_worst_case_goes_into_the_plan_and_nothing_else_does(client: TestClient) -> None:
    text = show(client, address("ppm_budget", "crystal", TERMS))
    assert "In the worst case the clock is off by ±50 ppm." in text
    [taken] = links(text, "Take it into the plan")
    raw, problems = read_permalink(parse_qs(urlsplit(taken).query)["plan"][0])
    before, _ = read_permalink(permalink_of(PLAN, PART))
    assert raw is not None
    assert before is not None
    assert not problems
    assert raw["board"]["crystal"] == {**before["board"]["crystal"], "tolerance": "±50 ppm"}
    assert {key: value for key, value in raw.items() if key != "board"} == {
        key: value for key, value in before.items() if key != "board"
    }
    assert client.get(taken).status_code == 200
    again = show(
        client,
        f"/estimates?{urlsplit(taken).query}&{urlencode({'of': 'crystal', 'calculator': 'ppm_budget', **TERMS})}",
    )
    assert "The plan has it already." in again
    assert not links(again, "Take it into the plan")


def test_a_worst_case_that_no_plan_could_hold_is_not_offered(client: TestClient) -> None:
    wide = {"crystal.initial": "±50 %", "crystal.load": "±50 %"}
    text = show(client, address("ppm_budget", "crystal", wide))
    assert "It cannot be taken into the plan" in text
    assert not links(text, "Take it into the plan")


def test_what_was_typed_for_one_oscillator_stays_while_another_is_looked_at(client: TestClient) -> None:
    text = show(client, address("ppm_budget", "watch_crystal", {**PAIR, "watch_crystal.initial": "±20 ppm"}))
    for name, value in PAIR.items():
        assert f'<input type="hidden" name="{name}" value="{value}">' in text
    assert 'name="watch_crystal.load" aria-label="Load" value=""' in text


def test_what_does_not_run_is_said_and_the_first_crystal_shown(client: TestClient) -> None:
    text = show(client, address("pulling", "wat<ch"))
    assert "'wat<ch' is no oscillator that runs in this plan." in text
    assert 'id="of-crystal" value="crystal" checked' in text


@pytest.mark.parametrize("text", ["", " ", "±", "9" * 500, "\u202e", "\ud800", "1/0 pF", "-1 pF", "∞"])
def test_no_text_in_a_field_ends_in_a_fault(client: TestClient, text: str) -> None:
    for calculator in calculators().values():
        keys: dict[str, Any] = {f"crystal.{ask.key}": text.encode("utf-8", "surrogatepass") for ask in calculator.asks}
        assert client.get(address(calculator.name, "crystal", keys)).status_code == 200


def test_keys_that_calculators_share_mean_the_same() -> None:
    seen: dict[str, tuple[object, ...]] = {}
    for calculator in calculators().values():
        for ask in calculator.asks:
            assert seen.setdefault(ask.key, (ask.form, ask.unit)) == (ask.form, ask.unit)


def test_the_form_works_without_script(open_page: OpenPage) -> None:
    page = open_page(address("load_capacitors", "crystal"), java_script_enabled=False)
    page.get_by_label("Load capacitance of the crystal").fill("7 pF")
    page.get_by_label("Capacitance of the board").fill("2.5 pF")
    page.get_by_role("button", name="Reckon it").click()
    expect(page.locator("#estimate-sum")).to_have_text(
        "8.2\u00a0pF and 10\u00a0pF make 7.005\u00a0pF of the 7\u00a0pF wanted."
    )
    page.get_by_role("radio", name="Frequency budget").check()
    page.get_by_role("button", name="Reckon it").click()
    page.get_by_label("Initial tolerance").fill("±10 ppm")
    page.get_by_role("button", name="Reckon it").click()
    page.get_by_role("link", name="Take it into the plan").click()
    expect(page.locator('input[name="board.crystal.tolerance"]')).to_have_value("±10\u00a0ppm")


def test_a_change_is_reckoned_at_once_and_the_address_follows(open_page: OpenPage) -> None:
    page = open_page(address("load_capacitors", "crystal", PAIR))
    field = page.get_by_label("Capacitance of each pin")
    field.fill("3 pF")
    field.press("Enter")
    expect(page.locator("#said")).to_contain_text("Fast crystal oscillator, load capacitors.")
    expect(page.locator("#estimate-sum")).not_to_contain_text("8.2")
    expect(field).to_be_focused()
    assert "crystal.pin_capacitance=3+pF" in page.url
    page.get_by_role("radio", name="Watch crystal oscillator").check()
    expect(page.locator("#asked")).to_contain_text("Load capacitors")
    page.get_by_role("radio", name="Tuning fork over temperature").check()
    expect(page.locator("#estimate-sum")).to_contain_text("slow at most")


LOOKS = [
    ("load_capacitors", "crystal", PAIR),
    ("load_capacitors", "crystal", {}),
    ("gain_margin", "crystal", {"crystal.added_resistance": "5"}),
    ("ppm_budget", "crystal", TERMS),
    ("tuning_fork", "watch_crystal", {}),
]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 900, 390])
@pytest.mark.parametrize(("calculator", "of", "keys"), LOOKS, ids=lambda value: value if isinstance(value, str) else "")
def test_the_page_is_open_to_all_and_never_wider_than_its_window(
    open_page: OpenPage, calculator: str, of: str, keys: dict[str, str], width: int, scheme: str
) -> None:
    size = {"width": width, "height": 900}
    page = open_page(address(calculator, of, keys), viewport=size, color_scheme=scheme)
    assert axe_violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
