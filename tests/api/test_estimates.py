"""`GET /api/estimates` and `POST /api/estimates/{name}`: answers by the contract, bad input refused with its place."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wheelwork.api.estimates_described import ESTIMATE_EXAMPLES, CalculatorEntry, Estimated
from wheelwork.estimates.calculators import calculators, estimate


def ask(client: TestClient, name: str, **body: Any) -> Any:
    return client.post(f"/api/estimates/{name}", json=body)


def sentences(answer: Any) -> list[str]:
    assert answer.status_code in (404, 422)
    return [f"{each['where']}: {each['what']}; {each['allowed']}" for each in answer.json()["problems"]]


def test_every_calculator_is_listed_with_its_keys(client: TestClient) -> None:
    told = [CalculatorEntry.model_validate(each) for each in client.get("/api/estimates").json()]
    assert [each.name for each in told] == list(calculators())
    for entry in told:
        assert [key.key for key in entry.keys] == [each.key for each in calculators()[entry.name].asks]
    board = next(key for each in told if each.name == "load_capacitors" for key in each.keys if "board" in key.key)
    assert (board.unit, board.least, board.most, board.default, board.needed) == ("F", "0 pF", "50 pF", None, True)


@pytest.mark.parametrize("name", ESTIMATE_EXAMPLES)
def test_each_described_example_is_answered_as_described(client: TestClient, name: str) -> None:
    body = ESTIMATE_EXAMPLES[name]["value"]
    answer = ask(client, name, **body)
    assert answer.status_code == 200
    told = Estimated.model_validate(answer.json())
    assert told.what == estimate(calculators()[name], body).what
    assert told.sources
    assert told.cautions


def test_load_capacitors_are_told_in_farad(client: TestClient) -> None:
    """XTAL-CL-4 of tests/reference/electrical.toml: 8.2 pF and 10 pF."""
    told = ask(client, "load_capacitors", load_capacitance="7 pF", board_capacitance="2.5 pF").json()
    assert [told["figures"][key]["typical"] for key in ("first", "second")] == [8.2e-12, 1e-11]
    assert told["figures"]["load"]["unit"] == "F"
    assert told["figures"]["load"]["typical"] == pytest.approx(7.00549450549451e-12)
    assert len(told["choices"]) == 5
    assert told["steps"][0] == "C_s = C_board + C_pin / 2 = 2.5\u00a0pF + 0\u00a0pF / 2 = 2.5\u00a0pF"


def test_a_watch_crystals_span_is_one_sided(client: TestClient) -> None:
    """XTAL-FORK-3: −100 ppm to 0, −68.85 ppm for the middle curve."""
    told = ask(
        client,
        "tuning_fork",
        coefficient="-0.034 ppm/K²",
        coefficient_spread="0.006 ppm/K²",
        temperatures="-20 °C .. 70 °C",
    ).json()
    off = told["figures"]["deviation"]
    assert (off["lowest"], off["typical"], off["highest"]) == (-100e-6, -68.85e-6, 0)
    assert told["tolerance"] == "-100 ppm .. 0 %"


def test_a_tolerance_that_is_told_may_stand_in_a_plan(client: TestClient) -> None:
    told = ask(client, "ppm_budget", initial="±10 ppm", ageing="±3 ppm", years=5).json()
    crystal = {"frequency": "8 MHz", "tolerance": told["tolerance"]}
    plan = {"part": "turnstone-58", "board": {"crystal": crystal}, "set": {"core_source": "crystal"}}
    judged = client.post("/api/check", json={"plan": plan}).json()["nodes"]["crystal"]
    assert (judged["lowest"], judged["highest"]) == ("7999800", "8000200")


@pytest.mark.parametrize(
    ("name", "body", "said"),
    [
        ("pulling", {}, 'motional_capacitance: is missing; write "10 fF"'),
        (
            "load_capacitors",
            {"load_capacitance": "7 MHz", "board_capacitance": "2 pF"},
            "load_capacitance: '7 MHz' has the unit 'MHz'; a capacitance is written in F, mF, µF, nF, pF, fF, "
            "like 8 pF",
        ),
        (
            "load_capacitors",
            {"load_capacitance": "7 nF", "board_capacitance": "2 pF"},
            "load_capacitance: '7 nF' is outside what is asked for; write one from 1 pF to 100 pF",
        ),
        ("drive_level", {"voltage": 3}, "voltage: '3' is no text with a unit; write a voltage as \"3.0 V\""),
        ("ppm_budget", {}, 'initial: is missing; give at least one term of the budget, such as "±10 ppm"'),
        (
            "ppm_budget",
            {"initial": "10 ppm"},
            "initial: '10 ppm' has no sign on both sides; write ±10 ppm, or two ends: -1 % .. +1.5 %",
        ),
        ("ppm_budget", {"initial": "±1 ppm", "judged_by": "best"}, "judged_by: 'best' is not known here; "
         "worst and mixed are"),
        ("ppm_budget", {"initial": "±1 ppm", "years": 2.5}, "years: '2.5' is no number that is exact; write a whole "
         'number, or a text like "10"'),
        ("rc_trim", {"frequency": "16 MHz", "tolerance": "±1 %", "trim": "1 %"}, "trim: 'trim' is no key here; "
         "frequency, tolerance, trim_step, drift and gate are"),
        (
            "tuning_fork",
            {"temperatures": "25 °C", "coefficient": "-0.01 ppm/K²", "coefficient_spread": "0.02 ppm/K²"},
            "coefficient_spread: with 0.02 ppm/K² the coefficient could be above zero; at most 0.01 ppm/K² is allowed "
            "beside it",
        ),
    ],
)  # fmt: skip
def test_bad_input_is_refused_at_its_place(client: TestClient, name: str, body: dict[str, Any], said: str) -> None:
    assert said in sentences(ask(client, name, **body))


def test_all_problems_are_told_together(client: TestClient) -> None:
    answer = ask(client, "gain_margin", frequency="0 Hz", load_capacitance="9", esr=1)
    assert [each.split(":")[0] for each in sentences(answer)] == [
        "frequency",
        "shunt_capacitance",
        "load_capacitance",
        "series_resistance",
        "esr",
    ]


def test_an_unknown_calculator_is_named_with_the_nearest(client: TestClient) -> None:
    answer = ask(client, "puling")
    assert answer.status_code == 404
    assert sentences(answer) == ["name: 'puling' is no calculator; did you mean pulling?"]


def test_a_body_with_far_too_much_is_refused(client: TestClient) -> None:
    assert ask(client, "pulling", motional_capacitance=[*range(500)]).status_code == 422


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.text(max_size=12)
    | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
PLAUSIBLE = st.sampled_from(
    ["8 pF", "10 fF", "±10 ppm", "-5 ppm .. 0 ppm", "32.768 kHz", "80 Ω", "5 mA/V", "0 pF", "1 V", "25 °C", "1 µW", 5]
)


@pytest.mark.parametrize("name", calculators())
@given(data=st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_that_is_asked_ends_in_a_fault(client: TestClient, name: str, data: st.DataObject) -> None:
    keys = [each.key for each in calculators()[name].asks]
    given_keys = data.draw(st.dictionaries(st.sampled_from(keys), PLAUSIBLE | ANYTHING, max_size=8))
    base = ESTIMATE_EXAMPLES[name]["value"] if data.draw(st.booleans()) else {}
    answer = client.post(f"/api/estimates/{name}", json={**base, **given_keys})
    assert answer.status_code in (200, 422)
    if answer.status_code == 422:
        assert all(problem["where"] for problem in answer.json()["problems"])
    else:
        Estimated.model_validate(answer.json())
