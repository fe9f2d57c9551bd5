"""`POST /api/links` and `POST /api/links/{family}`: answers by the contract, bad input refused with its place."""

from __future__ import annotations

import json
import re
import tomllib
from contextlib import suppress
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.demo import load_demo
from tests.house.tree import ROOT
from wheelwork.api.links_described import ASK_EXAMPLES, LINKS_EXAMPLES, LinkAnswered, LinksJudged
from wheelwork.links.families import families
from wheelwork.links.fields import Fields, Refused
from wheelwork.plan.links import write_link
from wheelwork.plan.writing import write_plan

README = (ROOT / "README.md").read_text()
CONSOLE = {"name": "Console", "load": "serial_port", "family": "uart", "rate": "115200 Bd"}
PLAN = {"part": "turnstone-58", "in_use": ["processor", "serial_port"], "link": [CONSOLE]}


def ask(client: TestClient, family: str = "uart", **body: Any) -> Any:
    return client.post(f"/api/links/{family}", json=body)


def sentences(answer: Any) -> list[str]:
    assert answer.status_code in (404, 422)
    return [f"{each['where']}: {each['what']}; {each['allowed']}" for each in answer.json()["problems"]]


def test_a_family_answers_as_the_contract_says(client: TestClient) -> None:
    """1.8432 MHz / (16 * 12) = 9600 Bd exactly: TL16C550C data sheet SLLS177I, Table 7-9; 50 ppm is 1/20 000."""
    answer = ask(
        client,
        clock="1.8432 MHz",
        tolerance="±50 ppm",
        generator={"oversampling": [16], "divisor": "1..65535"},
        ask={"rate": "9600 Bd", "allowance": "±2 %"},
    )
    assert answer.status_code == 200
    told = answer.json()
    assert told["choices"][0] == {
        "oversampling": 16,
        "divisor": "12",
        "rate": "9600",
        "error": "0",
        "error_lowest": "-1/20000",
        "error_highest": "1/20000",
        "verdict": "inside",
    }
    assert told["allowance"] == {"lowest": "-1/50", "highest": "1/50", "source": "the link's own"}
    assert (told["verdict"], told["findings"]) == ("inside", [])


def test_none_fits_is_an_answer_with_the_nearest(client: TestClient) -> None:
    """1 MHz / 16 = 62 500 Bd is the fastest there is; 62 500 / 115 200 - 1 = -527 / 1152."""
    answer = ask(client, clock="1 MHz", generator={"divisor": "1..255"}, ask={"rate": "115200 Bd"})
    told = answer.json()
    assert told["verdict"] == "none fits"
    assert (told["choices"][0]["rate"], told["choices"][0]["error"]) == ("62500", "-527/1152")
    [finding] = told["findings"]
    assert finding["severity"] == "stop"
    assert finding["what"] == "Asynchronous serial cannot be met: the nearest is slow by 45.7\u00a0%."


@pytest.mark.parametrize("example", LINKS_EXAMPLES.values(), ids=list(LINKS_EXAMPLES))
def test_the_described_example_of_a_plan_is_answered_as_described(client: TestClient, example: dict[str, Any]) -> None:
    answer = client.post("/api/links", json=example["value"])
    assert answer.status_code == 200
    assert LinksJudged.model_validate(answer.json()).links


@pytest.mark.parametrize("name", ASK_EXAMPLES)
def test_the_described_example_of_a_family_is_answered_as_described(client: TestClient, name: str) -> None:
    example = ASK_EXAMPLES[name]
    answer = client.post(f"/api/links/{example['summary'].partition(':')[0]}", json=example["value"])
    assert answer.status_code == 200
    assert LinkAnswered.model_validate(answer.json()).choices


def test_a_plans_links_are_told_with_their_clock_and_their_choice(client: TestClient) -> None:
    """11 MHz / (16 * 6) = 114 583.333… Bd, 114 583.333… / 115 200 - 1 = -37 / 6912."""
    chosen = {**CONSOLE, "chosen": {"oversampling": 16, "divisor": 6}}
    [told] = client.post("/api/links", json={"plan": {**PLAN, "link": [chosen]}}).json()["links"]
    assert {key: told[key] for key in ("name", "load", "family", "clock", "nominal", "lowest", "highest")} == {
        "name": "Console",
        "load": "serial_port",
        "family": "uart",
        "clock": "port_source",
        "nominal": "11000000",
        "lowest": "10835000",
        "highest": "11132000",
    }
    assert told["chosen"]["rate"] == "343750/3"
    assert told["chosen"]["error"] == "-37/6912"
    assert told["verdict"] == told["chosen"]["verdict"]


def test_a_choice_that_is_judged_on_another_allowance_names_it(client: TestClient) -> None:
    """8 samples a bit bear less than 16; the link's allowance is that of the choice that counts."""
    plan = {**PLAN, "link": [{**CONSOLE, "chosen": {"oversampling": 16, "divisor": 6}}]}
    [told] = client.post("/api/links", json={"plan": plan}).json()["links"]
    assert told["allowance"]["highest"] == "1/50"
    assert {each["oversampling"]: each.get("allowance", {}).get("highest") for each in told["choices"]} == {
        16: None,
        8: "3/200",
    }


def test_nothing_chosen_is_null(client: TestClient) -> None:
    [told] = client.post("/api/links", json={"plan": PLAN}).json()["links"]
    assert told["chosen"] is None
    assert told["verdict"] == told["choices"][0]["verdict"]


def test_a_stopped_link_has_no_choices_and_says_why(client: TestClient) -> None:
    told = client.post("/api/links", json={"plan": {**PLAN, "in_use": ["processor"]}}).json()
    [link] = told["links"]
    assert (link["verdict"], link["choices"], link["nominal"]) == ("stopped", [], None)
    assert [finding["what"] for finding in told["findings"]] == [
        "Console is not judged: Serial port (UART) is not in use."
    ]


def test_findings_of_links_are_among_those_of_the_check(client: TestClient) -> None:
    plan = {**PLAN, "link": [{**CONSOLE, "rate": "10 MBd"}]}
    alone = client.post("/api/links", json={"plan": plan}).json()["findings"]
    checked = client.post("/api/check", json={"plan": plan}).json()
    assert checked["legal"] is True
    assert [finding for finding in checked["findings"] if finding.get("link")] == alone
    assert [finding["severity"] for finding in alone] == ["stop"]


@pytest.mark.parametrize("name", ["01-skerry-3-steady-running", "05-pier-head-logging", "06-pier-head-storm-watch"])
def test_the_demos_links_are_answered_as_described(client: TestClient, name: str) -> None:
    part, plan = load_demo(name)
    answer = client.post("/api/links", json={"plan": write_plan(plan, part), "part": dict(part.written)})
    assert answer.status_code == 200
    assert len(LinksJudged.model_validate(answer.json()).links) == len(plan.links) > 0


def test_all_that_is_wrong_with_a_body_is_told_together(client: TestClient) -> None:
    answer = ask(client, clock="8", tolerance="x", generator={"divisor": "0..4"}, ask={"rat": 1}, asks={})
    assert [sentence.split(":")[0] for sentence in sentences(answer)] == [
        "clock",
        "tolerance",
        "asks",
        "generator.divisor",
        "ask.rate",
        "ask.rat",
    ]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"ask": {"rate": "1 Bd"}, "generator": {"divisor": 4}}, 'clock: is missing; write "8 MHz"'),
        ({"clock": "1 MHz", "generator": {"divisor": 4}, "ask": {"rate": "-1 Bd"}}, "ask.rate: '-1 Bd' is below"),
        ({"clock": "0 Hz", "generator": {"divisor": 4}, "ask": {"rate": "1 Bd"}}, "clock: '0 Hz' is zero"),
        ({"clock": "1 MHz", "generator": {"divisor": []}, "ask": {"rate": "1 Bd"}}, "generator.divisor: "),
        ({"clock": "1 MHz", "generator": 4, "ask": {"rate": "1 Bd"}}, "generator: '4' is no table"),
        ({"clock": "1 MHz", "generator": {"divisor": 4}, "ask": {"standard": "mdi"}}, "ask.standard: 'mdi' is not"),
    ],
)
def test_bad_input_is_refused_at_its_place(client: TestClient, body: dict[str, Any], said: str) -> None:
    assert any(sentence.startswith(said) for sentence in sentences(ask(client, **body)))


def test_readme_shows_what_is_answered(client: TestClient) -> None:
    body, choice = (json.loads(block) for block in re.findall(r"^```json\n(.*?)^```$", README, re.M | re.S))
    assert ask(client, **body).json()["choices"][0] == choice


def test_readmes_link_is_that_of_the_demo() -> None:
    """Skerry 3's console."""
    [block] = re.findall(r"^```toml\n(\[\[link\]\].*?)^```$", README, re.M | re.S)
    _, plan = load_demo("01-skerry-3-steady-running")
    assert tomllib.loads(block)["link"] == [write_link(plan.links[0])]


def test_an_unknown_family_is_named_with_the_nearest(client: TestClient) -> None:
    answer = ask(client, "uarrt", clock="1 MHz", ask={})
    assert answer.status_code == 404
    assert sentences(answer) == ["family: 'uarrt' is no family of links; did you mean uart?"]


def test_a_body_with_far_too_much_is_refused(client: TestClient) -> None:
    answer = ask(client, clock="1 MHz", generator={"divisor": [*range(1, 5000)]}, ask={"rate": "1 Bd"})
    assert answer.status_code == 422


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.text(max_size=12)
    | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


def keys_of(family: str) -> list[str]:
    """The keys that a family looks for, in its generator and in what is asked."""
    reading, known = families()[family], []
    for read in (reading.read_generator, reading.read_ask):
        fields = Fields({}, "any")
        with suppress(Refused):
            read(fields)
        known += fields.known
    return list(dict.fromkeys(known))


PLAUSIBLE = st.sampled_from(
    ["1..65535", [1, 2, 4], 16, 1, "8N1", "9600 Bd", "1 MHz", "0 Hz", "1 ms", "50 ns", "1 Hz", "87.5 %", "0 %", "fast"]
)


@pytest.mark.parametrize("family", families())
@given(data=st.data(), clock=st.sampled_from(["8 MHz", "1/3 Hz", "0.001 Hz", "1 THz", 4]))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_that_is_asked_ends_in_a_fault(
    client: TestClient, family: str, data: st.DataObject, clock: str | int
) -> None:
    table = st.dictionaries(st.sampled_from(keys_of(family)), PLAUSIBLE | ANYTHING, max_size=8)
    generator, asked = data.draw(table | ANYTHING), data.draw(table | ANYTHING)
    answer = ask(client, family, clock=clock, generator=generator, ask=asked)
    assert answer.status_code in (200, 422)
    if answer.status_code == 422:
        assert all(problem["where"] for problem in answer.json()["problems"])
    else:
        LinkAnswered.model_validate(answer.json())
