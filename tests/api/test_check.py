"""`POST /api/check`, `GET /api/parts`: answers by the contract, and bad input refused with its place, never a 5xx."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

CASES = Path(__file__).parent.parent / "cases"
EXPECTED = json.loads((CASES / "expected.json").read_text())


def read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(), parse_float=str)


def check(client: TestClient, plan: dict[str, Any], part: dict[str, Any] | None = None) -> Any:
    body = {"plan": plan} if part is None else {"plan": plan, "part": part}
    return client.post("/api/check", json=body)


@pytest.mark.parametrize("name", EXPECTED)
def test_a_check_agrees_with_the_independent_reading(client: TestClient, name: str) -> None:
    plan = read(CASES / "plans" / f"{name}.toml")
    answer = check(client, plan, read(CASES / "parts" / f"{plan['part']}.toml"))
    assert answer.status_code == 200
    told, expected = answer.json(), EXPECTED[name]
    assert told["legal"] is expected["legal"]
    assert told["wait_states"]["needed"] == expected["wait_states_needed"]
    assert told["core_voltage"]["lowest_that_does"] == expected["lowest_that_does"]
    running = {node: said for node, said in told["nodes"].items() if said["verdict"] != "stopped"}
    assert running.keys() == expected["nodes"].keys()
    for node, values in expected["nodes"].items():
        detector = values.pop("phase_detector", None)
        assert {key: running[node][key] for key in values} == values
        if detector is not None:
            assert running[node]["phase_detector"] == detector
            values["phase_detector"] = detector


def test_stopped_nodes_have_nulls(client: TestClient) -> None:
    told = check(client, {"part": "turnstone-58"}).json()["nodes"]["usb_link"]
    assert told["verdict"] == "stopped"
    assert (told["nominal"], told["window"], told["margin"]) == (None, None, None)


def test_every_mend_can_be_merged_into_the_plan_and_makes_it_legal(client: TestClient) -> None:
    plan = read(CASES.parent.parent / "scenarios/plans/06-pier-head-storm-watch.toml")
    findings = check(client, plan).json()["findings"]
    mends = [mend for finding in findings for mend in finding.get("mend", [])]
    assert mends
    for mend in mends:
        merged = {**plan, "set": merge(plan["set"], mend["set"])}
        for key in ("core_voltage", "wait_states"):
            if mend[key] is not None:
                merged[key] = mend[key]
        assert check(client, merged).json()["legal"] is True


def merge(settings_: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    merged = dict(settings_)
    for key, value in changes.items():
        merged[key] = {**merged.get(key, {}), **value} if isinstance(value, dict) else value
    return merged


def test_parts_are_listed_and_shown_as_they_were_written(client: TestClient) -> None:
    listed = client.get("/api/parts").json()
    assert {"turnstone-58", "whimbrel-132", "dunlin-192"} <= {part["id"] for part in listed}
    assert set(listed[0]) == {"id", "name", "about"}
    shown = client.get("/api/parts/turnstone-58").json()
    assert shown == read(CASES.parent.parent / "scenarios/parts/turnstone-58.toml")


SHEET = read(CASES / "parts" / "turnstone-58.toml")


def altered(path: str, value: Any) -> dict[str, Any]:
    sheet: dict[str, Any] = json.loads(json.dumps(SHEET))
    table = sheet
    *way, last = path.split(".")
    for key in way:
        table = table.setdefault(key, {})
    table[last] = value
    return sheet


BAD_SHEETS = [
    (altered("oscillator.fast_rc.frequency", "11"), "part.oscillator.fast_rc.frequency", "no unit"),
    (altered("oscillator.fast_rc.frequency", "11 V"), "part.oscillator.fast_rc.frequency", "unit 'V'"),
    (altered("oscillator.fast_rc.frequency", "1e400 MHz"), "part.oscillator.fast_rc.frequency", "exponent"),
    (altered("oscillator.fast_rc.frequency", "0 MHz"), "part.oscillator.fast_rc.frequency", "zero"),
    (altered("oscillator.fast_rc.frequency", "-8 MHz"), "part.oscillator.fast_rc.frequency", "below"),
    (altered("oscillator.fast_rc.frequency", 11000000), "part.oscillator.fast_rc.frequency", "no text"),
    (altered("divider.core.ratios", 1.5), "part.divider.core.ratios", "no ratio"),
    (altered("divider.core.input", "slow_bus"), "part.divider.slow_bus", "circle"),
    (altered("divider.class", {"input": "core", "ratios": "1..2"}), "part.divider.class", "something else"),
    (altered('divider.a"b', {"input": "core", "ratios": "1..2"}), 'part.divider.a"b', "no id"),
    (altered("divider.<b>", {"input": "core", "ratios": "1..2"}), "part.divider.<b>", "no id"),
    (altered("selector.reference.inputs", ["cristal"]), "part.selector.reference.inputs", "no node"),
    (altered("core_voltage.low.volts", "9 V"), "part.core_voltage.low", "above"),
    (altered("load.usb_link.limts", "48 MHz"), "part.load.usb_link.limts", "no key"),
    (altered("name", "x" * 1_000_00), "part.name", "too long"),
]


@pytest.mark.parametrize(("sheet", "where", "what"), BAD_SHEETS, ids=[case[1] for case in BAD_SHEETS])
def test_a_faulty_sheet_names_its_places(client: TestClient, sheet: dict[str, Any], where: str, what: str) -> None:
    answer = check(client, {"part": "x"}, sheet)
    assert answer.status_code == 422
    found = [problem for problem in answer.json()["problems"] if problem["where"] == where]
    assert found, answer.json()
    assert what in found[0]["what"]
    assert found[0]["allowed"]


BAD_PLANS = [
    ({"set": {"core": 5}}, "set.core", "5 is not offered", "1 to 4, 6, 8"),
    ({"set": {"main": {"feedback": 80}}}, "set.main.feedback", "80 is not offered", "10 to 72"),
    ({"set": {"main": {"fraction": 1}}}, "set.main.fraction", "not offered", "whole factors"),
    ({"set": {"core_source": "main"}}, "set.core_source", "not offered", "fast_rc"),
    ({"set": {"cor": 2}}, "set.cor", "no node", "did you mean core?"),
    ({"set": {"crystal": "8 MHz"}}, "set.crystal", "fitted on the board", "board.crystal.frequency"),
    ({"set": {"fast_rc": "8 MHz"}}, "set.fast_rc", "its own frequency", "leave it out"),
    ({"board": {"fast_rc": {"frequency": "8 MHz"}}}, "board.fast_rc.frequency", "its own frequency", "tolerance"),
    ({"board": {"crystal": {"frequency": "8"}}}, "board.crystal.frequency", "no unit", "8 MHz"),
    ({"set": {"core_source": "crystal"}}, "board.crystal.frequency", "nothing is fitted", "8 MHz"),
    ({"core_voltage": "higher"}, "core_voltage", "no core-voltage step", "full, middle and low"),
    ({"wait_states": -1}, "wait_states", "out of range", "at least 0"),
    ({"wait_states": 1.5}, "wait_states", "kind", "whole number"),
    ({"supply": 3.0}, "supply", "no text", "3.0 V"),
    ({"in_use": ["procesor"]}, "in_use", "no load", "did you mean processor?"),
    ({"in_use": "processor"}, "in_use", "no list", "list"),
    ({"owner": "x" * 10**5}, "owner", "too long", "2000"),
    ({"temprature": "20 °C"}, "temprature", "no key", "did you mean temperature?"),
    ({"target": [{"node": "core"}]}, "target.0", "nothing is asked", "frequency"),
    ({"format": "wheelwork-plan/9"}, "format", "not offered", "wheelwork-plan/1"),
]


@pytest.mark.parametrize(
    ("plan", "where", "what", "allowed"), BAD_PLANS, ids=[f"{case[1]}-{case[2]}" for case in BAD_PLANS]
)
def test_what_the_sheet_does_not_offer_is_refused_by_name(
    client: TestClient, plan: dict[str, Any], where: str, what: str, allowed: str
) -> None:
    answer = check(client, {"part": "turnstone-58", **plan})
    assert answer.status_code == 422
    problem = answer.json()["problems"][0]
    assert problem["where"] == where
    assert what in problem["what"]
    assert allowed in problem["allowed"]


def test_an_unknown_part_offers_the_nearest(client: TestClient) -> None:
    answer = check(client, {"part": "turnstone-85"})
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["allowed"] == "did you mean turnstone-58?"
    assert client.get("/api/parts/turnstone-85").status_code == 404


DEEP = b'{"plan": ' + b'{"a":' * 10_000 + b"1" + b"}" * 10_000 + b"}"


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"{", 400),
        (b"[]", 422),
        (b'"plan"', 422),
        (b"", 422),
        (b'{"plan": 1}', 422),
        (b'{"plan": {}, "prt": {}}', 422),
        (b'{"plan": {"part": "\\ud800"}}', 422),
        (b'{"plan": {"part": "turnstone-58", "set": {"\\ud800": 1}}}', 422),
        (b'{"plan": {"part": "turnstone-58", "set": {"core": 1e999}}}', 422),
        (b'{"plan": {"part": "turnstone-58", "set": {"core": ' + b"9" * 5000 + b"}}}", 400),
        (b'{"plan": {"part": "turnstone-58", "set": {"core": ' + b"9" * 4000 + b"}}}", 422),
        (b'{"plan": {"part": "turnstone-58", "owner": "' + b"x" * 1_000_000 + b'"}}', 422),
        (b"\xff\xfe", 400),
        (DEEP, 400),
        (b" " * 10_000_000, 413),
    ],
    ids=lambda case: str(case)[:24],
)
def test_a_body_that_is_no_plan_is_refused_in_the_same_shape(client: TestClient, body: bytes, status: int) -> None:
    answer = client.post("/api/check", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == status, answer.text[:300]
    problems = answer.json()["problems"]
    assert problems
    assert {"where", "what", "allowed"} <= problems[0].keys()


def test_a_ratio_set_of_a_thousand_million_is_judged_like_any_other(client: TestClient) -> None:
    sheet = altered("divider.core.ratios", "1..1000000000")
    sheet["divider"]["core"].pop("codes")
    answer = check(client, {"set": {"core": 999_999_999}}, sheet)
    assert answer.status_code == 200
    assert answer.json()["nodes"]["core"]["nominal"] == "11000000/999999999"


AS_JSON = {"content-type": "application/json"}

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
plan_keys = st.sampled_from(
    [
        "name",
        "set",
        "board",
        "in_use",
        "held",
        "target",
        "core_voltage",
        "wait_states",
        "supply",
        "temperature",
        "link",
        "phase",
    ]
)
sheet_paths = st.sampled_from(
    [
        "core",
        "core.clock",
        "core_voltage",
        "core_voltage.full",
        "core_voltage.full.flash",
        "oscillator",
        "oscillator.crystal",
        "pll.main",
        "pll.main.codes",
        "pll.main.feedback",
        "pll.main.vco_at",
        "divider.core.ratios",
        "selector.reference.inputs",
        "scaler.capture_kernel.when",
        "load.usb_link.also",
        "rule",
        "reset",
        "mode",
        "together",
        "change",
        "supply",
        "divider.core.codes",
        "oscillator.fast_rc.tolerance",
    ]
)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.dictionaries(plan_keys, json_values, max_size=4))
def test_no_plan_ends_in_a_server_fault(client: TestClient, plan: dict[str, Any]) -> None:
    body = json.dumps({"plan": {"part": "turnstone-58", **plan}})
    assert client.post("/api/check", content=body, headers=AS_JSON).status_code in (200, 400, 422)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sheet_paths, json_values)
def test_no_sheet_ends_in_a_server_fault(client: TestClient, path: str, value: Any) -> None:
    body = json.dumps({"plan": {}, "part": altered(path, value)})
    assert client.post("/api/check", content=body, headers=AS_JSON).status_code in (200, 400, 422)
