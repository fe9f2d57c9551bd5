"""`POST /api/handover/{form}`: each form with its media type, the same text as the command's, bad asking refused."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.compilers import C, run_tool
from tests.demo import PLANS, load_demo
from wheelwork.api.described import EXAMPLES
from wheelwork.handover.forms import Wish, forms
from wheelwork.judge import judge
from wheelwork.plan.writing import write_plan

PLAN = {"part": "turnstone-58", "in_use": ["processor"], "set": {"core": 2}}


def ask(client: TestClient, form: str, asked: str = "", **body: Any) -> Any:
    return client.post(f"/api/handover/{form}{asked}", json=body or {"plan": PLAN})


def sentences(answer: Any, status: int) -> list[str]:
    assert answer.status_code == status
    return [f"{each['where']}: {each['what']}; {each['allowed']}" for each in answer.json()["problems"]]


@pytest.mark.parametrize("name", forms())
def test_each_form_is_given_with_its_media_type_and_a_name_for_its_file(client: TestClient, name: str) -> None:
    answer = ask(client, name)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == forms()[name].media_type
    assert answer.headers["content-disposition"] == f'inline; filename="plan_clocks.{forms()[name].ending}"'


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_the_text_is_the_forms_own(client: TestClient, path: Any) -> None:
    part, plan = load_demo(path.stem)
    for form in forms().values():
        body = {"plan": write_plan(plan, part), "part": dict(part.written)}
        answer = ask(client, form.name, "?prefix=CLOCK_&reasons=no", **body)
        assert answer.content.decode() == form.write(judge(part, plan), Wish("CLOCK_", False))


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=list(EXAMPLES))
def test_the_described_examples_become_headers_that_compile(client: TestClient, example: dict[str, Any]) -> None:
    text = ask(client, "c", **example["value"]).text
    assert run_tool(*C["C11"], "-", given=f"{text}\nint any;\n") == (0, "")


def test_an_unknown_form_is_named_with_the_nearest(client: TestClient) -> None:
    assert sentences(ask(client, "devicetre"), 404) == [
        "form: 'devicetre' is no form of hand-over; did you mean devicetree?"
    ]
    [said] = sentences(ask(client, "spreadsheet"), 404)
    assert said.startswith("form: 'spreadsheet' is no form of hand-over; c, rust, devicetree, markdown, csv, json and")


def test_all_that_is_wrong_with_the_asking_is_told_together(client: TestClient) -> None:
    assert sentences(ask(client, "c", "?prefix=int&reasons=maybe&prefx=A_"), 422) == [
        "query.prefx: 'prefx' is no key here; prefix and reasons are",
        "query.prefix: 'int' is a keyword of C, C++ or Rust; write INT_ in its place",
        "query.reasons: 'maybe' is neither; write yes or no",
    ]


def test_a_plan_that_cannot_be_read_is_refused_with_its_places(client: TestClient) -> None:
    [said] = sentences(ask(client, "c", plan={**PLAN, "set": {"core": 5}}), 422)
    assert said.startswith("set.core: 5 is not offered")


@given(prefix=st.text(max_size=50), reasons=st.text(max_size=5), form=st.sampled_from([*forms(), "C", "x"]))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_that_is_asked_ends_in_a_fault(client: TestClient, prefix: str, reasons: str, form: str) -> None:
    answer = client.post(
        f"/api/handover/{form}",
        json={"plan": PLAN},
        params={"prefix": prefix.encode("utf-8", "replace").decode(), "reasons": reasons.encode("utf-8", "replace")},
    )
    assert answer.status_code in (200, 404, 422)
    assert answer.status_code == 200 or all(each["allowed"] for each in json.loads(answer.content)["problems"])
