"""Charge over HTTP: what the interface promises, for every plan of the demo, and what it refuses."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.demo import PLANS, load_demo
from wheelwork.api import charge
from wheelwork.plan.writing import write_plan

NAMES = [path.stem for path in PLANS]


@pytest.mark.parametrize("name", NAMES)
def test_the_parts_sum_up_and_the_round_is_the_mean(client: TestClient, name: str) -> None:
    part, plan = load_demo(name)
    told = client.post("/api/charge", json={"plan": write_plan(plan, part)}).json()
    parts = sum(each["current"]["typical"] for each in told["parts_of_it"])
    assert parts == pytest.approx(told["run_current"]["typical"])
    mean = sum(each["charge"]["typical"] / each["every"] for each in told["phases"])
    assert mean == pytest.approx(told["mean_current"]["typical"])
    assert sum(each["lasts"] / each["every"] for each in told["phases"]) == pytest.approx(1)
    assert 0 < told["life"]["lowest"] <= told["life"]["typical"] <= told["life"]["highest"]


def test_each_step_s_least_point_is_legal_and_costs_what_it_says(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(charge, "SECONDS_FOR_POINTS", 60)
    part, plan = load_demo(NAMES[0])
    raw = write_plan(plan, part)
    told = client.post("/api/charge", json={"plan": raw}).json()
    assert told["counted"]
    assert [each["core_voltage"] for each in told["operating_points"]] == ["full", "middle", "low"]
    for point in told["operating_points"]:
        made = {**raw, "core_voltage": point["core_voltage"], "wait_states": point["wait_states"]}
        made["set"] = {**raw["set"], **point["set"]}
        judged = client.post("/api/check", json={"plan": made}).json()
        assert judged["legal"]
        assert judged["current"]["typical"] == pytest.approx(point["current"])
        assert point["charge_for_the_work"] == pytest.approx(point["current"] * point["seconds"])
    assert min(each["charge_for_the_work"] for each in told["operating_points"]) == pytest.approx(21.98e-6, rel=1e-3)


def test_a_phase_that_cannot_be_read_is_refused_at_its_place(client: TestClient) -> None:
    part, plan = load_demo(NAMES[0])
    raw = {**write_plan(plan, part), "phase": [{"name": "x", "mode": "holt"}]}
    answer = client.post("/api/charge", json={"plan": raw})
    assert (answer.status_code, answer.json()["problems"][0]["where"]) == (422, "phase.0.mode")
