"""Findings of links on the Plan page: among the others, leading to the Links page, the plan still inside."""

from __future__ import annotations

from typing import Any

from fastapi.testclient import TestClient

from tests.demo import load_demo
from wheelwork.plan.permalink import write_permalink
from wheelwork.plan.writing import write_plan

MODEM = {"name": "Modem", "load": "serial_port", "family": "uart", "rate": "20 MBd"}


def shown(client: TestClient, name: str, *links: dict[str, Any]) -> str:
    part, plan = load_demo(name)
    raw = {**write_plan(plan, part), "link": list(links)}
    return client.get("/plan", params={"plan": write_permalink(raw)}).text


def test_a_link_that_stops_is_the_first_finding_and_leads_to_its_page(client: TestClient) -> None:
    """66 MHz / 8 is 8.25 MBd: 58.75 % below 20 MBd."""
    page = shown(client, "03-fog-signal-44k1", MODEM)
    [finding] = [line for line in page.splitlines() if line.startswith('<li class="f-stop">')]
    assert "Modem cannot be met: the nearest is slow by 58.8\u00a0%." in finding
    assert 'href="/links?plan=' in finding
    assert "Search for one" not in finding
    [first] = [line for line in page.splitlines() if line.startswith('<div class="s-first">')]
    assert "Modem cannot be met" in first
    assert "mends it" not in first
    assert "13 of 13" in page


def test_what_stops_the_plan_itself_is_told_before_its_links(client: TestClient) -> None:
    page = shown(client, "01-skerry-3-steady-running", MODEM)
    stops = [line for line in page.splitlines() if line.startswith('<li class="f-stop">')]
    assert ["Converter clock" in stops[0], "Modem" in stops[1]] == [True, True]
    assert 'name="mend"' in stops[0]
    assert 'name="mend"' not in stops[1]
