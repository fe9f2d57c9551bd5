"""`POST /api/find` and the address of a search: answers by the contract, waiting, stopping, what cannot be asked."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import httpx2
import pytest
from fastapi.testclient import TestClient

from tests.conftest import serving
from wheelwork.api.found_described import FIND_EXAMPLES, Found, Running
from wheelwork.app import make_app
from wheelwork.searches import Searches
from wheelwork.searches import searches as room
from wheelwork.settings import Settings

KNOWN = sorted((Path(__file__).parent.parent / "cases" / "find").glob("[abs]*.json"))
"""Those that are answered at once; `tests/find` has them all."""
PLAN = {
    "part": "turnstone-58",
    "core_voltage": "full",
    "in_use": ["processor", "usb_link"],
    "board": {"crystal": {"frequency": "8 MHz", "tolerance": "±30 ppm"}},
}
USB = {"node": "usb_link", "frequency": "48 MHz", "within": "0.25 %"}
SPIN = {"plan": {**PLAN, "name": "spin"}}
LONG = {"Prefer": "wait=60"}


def ask(client: TestClient, **keys: Any) -> dict[str, Any]:
    answer = client.post("/api/find", json={"plan": PLAN, **keys}, headers=LONG)
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    Found.model_validate(told)
    return told


@pytest.fixture(scope="module")
def slow() -> Iterator[TestClient]:
    """A server whose searches go on until their time is over, or do else what their plan's name says."""
    app = make_app(Settings())
    app.state.searches = Searches(worker="tests.searches.slow_worker")
    with TestClient(app) as client:
        yield client


@pytest.mark.parametrize("path", KNOWN, ids=lambda path: path.stem)
def test_a_problem_with_a_known_answer_is_answered_so(client: TestClient, path: Path) -> None:
    """The answers were made by another program (tests/cases/README.md)."""
    case = json.loads(path.read_text())
    body = {key: case[key] for key in ("part", "plan", "targets", "pinned", "prefer")}
    answer = client.post("/api/find", json={**body, "seconds": 60}, headers=LONG)
    assert answer.status_code == 200, answer.text[:400]
    told, expected = answer.json(), case["expected"]
    if expected["admissible"] is not None:
        assert (told["admissible"], told["complete"]) == (expected["admissible"], True)
    if case["prefer"] == ["highest core"] and expected["best_core"] is not None:
        assert told["solutions"][0]["score"]["core"] == expected["best_core"]
    assert told["fits"] is (expected["admissible"] != "0")


def test_what_is_found_can_be_merged_into_the_plan_and_is_what_it_says(client: TestClient) -> None:
    for found in ask(client, targets=[USB], prefer=["highest core"], top=5)["solutions"]:
        plan = {**PLAN, "set": found["set"], "core_voltage": found["core_voltage"]}
        checked = client.post("/api/check", json={"plan": plan}).json()
        assert checked["legal"] is True
        assert checked["nodes"]["core"]["nominal"] == found["score"]["core"]
        assert checked["wait_states"]["needed"] == found["wait_states"]
        assert checked["current"]["typical"] == pytest.approx(found["score"]["current"], rel=1e-12)
        low, high = (Fraction(checked["nodes"]["usb_link"][end]) for end in ("lowest", "highest"))
        assert Fraction(47_880_000) <= low <= high <= Fraction(48_120_000)


def test_the_best_are_first_and_no_more_than_asked(client: TestClient) -> None:
    """Both clocks hang below one VCO: 48 MHz · n / m for the core, at most 58 MHz; 48 itself is there with n = m."""
    cores = [
        int(found["score"]["core"]) for found in ask(client, targets=[USB], prefer=["highest core"], top=4)["solutions"]
    ]
    assert len(cores) == 4
    assert cores == sorted(cores, reverse=True)
    assert 48_000_000 <= cores[0] <= 58_000_000


def test_targets_left_out_are_the_plans_own_and_an_empty_list_is_none(client: TestClient) -> None:
    plan = {**PLAN, "target": [USB, {"node": "core", "at_most": "1 Hz"}]}
    assert ask(client, plan=plan)["admissible"] == "0"
    assert ask(client, plan=plan, targets=[])["fits"] is True


def test_what_is_pinned_or_held_stays(client: TestClient) -> None:
    """The reset value of `core_source` is its first input, the RC oscillator of 11 MHz; a divider makes no 48 of it."""
    wanted = {"node": "core", "at_least": "20 MHz"}
    assert ask(client, targets=[wanted])["fits"] is True
    assert ask(client, targets=[wanted], pinned=["core_source"])["fits"] is False
    assert ask(client, plan={**PLAN, "held": ["core_source"]}, targets=[wanted])["fits"] is False


def test_an_oscillator_with_nothing_fitted_is_no_fault(client: TestClient) -> None:
    plan = {"part": "turnstone-58", "set": {"core_source": "crystal"}}
    assert client.post("/api/check", json={"plan": plan}).status_code == 422
    found = ask(client, plan=plan, count=False, top=200)
    assert found["fits"] is True
    assert "crystal" not in {each["set"]["core_source"] for each in found["solutions"]}


def test_a_count_not_asked_for_is_null(client: TestClient) -> None:
    told = ask(client, targets=[USB], count=False, top=1)
    assert (told["admissible"], told["fits"], told["complete"]) == (None, True, True)


def test_a_target_on_what_nothing_reaches_does_not_fit(client: TestClient) -> None:
    told = ask(client, targets=[{"node": "usb_link", "frequency": "1 GHz"}])
    assert (told["fits"], told["admissible"], told["solutions"]) == (False, "0", [])


def test_the_plans_own_settings_have_their_place(client: TestClient) -> None:
    best = ask(client, targets=[USB], prefer=["highest core"], top=1)["solutions"][0]
    plan = {**PLAN, "set": best["set"], "core_voltage": best["core_voltage"]}
    assert ask(client, plan=plan, targets=[USB], prefer=["highest core"])["plan"] == {"fits": True, "rank": 1}
    assert ask(client, plan=plan, targets=[{**USB, "frequency": "47 MHz"}])["plan"] == {"fits": False, "rank": None}


@pytest.mark.parametrize("name", FIND_EXAMPLES)
def test_every_example_is_answered(client: TestClient, name: str) -> None:
    answer = client.post("/api/find", json=FIND_EXAMPLES[name]["value"], headers=LONG)
    assert answer.status_code == 200
    Found.model_validate(answer.json())
    assert answer.json()["fits"] is (name == "best")


def test_where_nothing_fits_it_is_said_what_is_to_blame_and_what_would_open_it(client: TestClient) -> None:
    """The bus is the core's 58 MHz by 1, 2, 3 …: 58 MHz is above the sheet's 31 MHz, 29 MHz below what is wanted."""
    told = ask(client, **FIND_EXAMPLES["none"]["value"])
    assert (told["fits"], told["complete"], told["admissible"], told["solutions"]) == (False, True, "0", [])
    assert told["conflict"] == [
        {"target": 0, "what": "Core clock: 58\u00a0MHz"},
        {"target": 1, "what": "Slow bus: at least 30\u00a0MHz"},
    ]
    assert told["nearest_miss"]
    assert any(opening["admissible"] != "0" for opening in told["openings"])


def test_what_would_open_it_does_with_the_count_that_is_told(client: TestClient) -> None:
    body = FIND_EXAMPLES["none"]["value"]
    for opening in ask(client, **body)["openings"]:
        plan = {**body["plan"], **{key: value for key, value in opening["plan"].items() if value is not None}}
        again = ask(client, plan=plan, targets=opening["targets"], pinned=opening["pinned"])
        assert again["admissible"] == opening["admissible"], opening["act"]


def test_an_oscillator_left_open_is_answered_with_crystals(client: TestClient) -> None:
    choices = {choice["frequency"]: choice for choice in ask(client, targets=[USB], crystal="crystal")["crystals"]}
    alone = ask(client, targets=[USB])
    assert choices["8 MHz"]["admissible"] == alone["admissible"]
    assert choices["8 MHz"]["best"]["score"]["core"] == alone["solutions"][0]["score"]["core"]
    assert [choice["best"] is None for choice in choices.values()] == [
        choice["admissible"] == "0" for choice in choices.values()
    ]
    assert "crystals" not in alone


def test_blame_for_a_pin_names_it(client: TestClient) -> None:
    """At 11 MHz with 1.5 % the RC oscillator cannot keep 0.25 % on any setting."""
    told = ask(client, pinned=["reference", "core"])
    assert told["conflict"] == [{"pinned": "reference", "what": "PLL reference stays Fast RC oscillator"}]


def test_the_same_question_has_the_same_answer(client: TestClient) -> None:
    body = FIND_EXAMPLES["best"]["value"]
    answers = {client.post("/api/find", json=body, headers=LONG).content for _ in range(3)}
    assert len(answers) == 1


def start(client: httpx2.Client, **keys: Any) -> str:
    answer = client.post("/api/find", json={**SPIN, **keys}, headers={"Prefer": "respond-async"})
    assert answer.status_code == 202, answer.text
    Running.model_validate(answer.json())
    assert answer.headers["location"] == answer.json()["search"]
    assert int(answer.headers["retry-after"]) >= 1
    return answer.headers["location"]


def test_a_long_search_has_an_address_and_tells_how_far_it_is(slow: TestClient) -> None:
    address = start(slow, seconds=60)
    ends = time.monotonic() + 20
    while (told := slow.get(address).json())["progress"] is None and time.monotonic() < ends:
        time.sleep(0.02)
    Running.model_validate(told)
    assert (told["state"], told["limit"], told["progress"]["fit"]) == ("running", 60, "12")
    slow.delete(address)


def test_a_stopped_search_keeps_what_it_found(slow: TestClient) -> None:
    address = start(slow, seconds=60)
    while slow.get(address).json()["progress"] is None:
        time.sleep(0.02)
    for method in (slow.delete, slow.get, slow.delete):
        stopped = method(address)
        assert stopped.status_code == 200
        Found.model_validate(stopped.json())
        assert (stopped.json()["fits"], stopped.json()["complete"], stopped.json()["admissible"]) == (True, False, "12")


def test_one_stopped_before_its_turn_has_found_nothing(slow: TestClient) -> None:
    addresses = [start(slow, seconds=60) for _ in range(3)]
    told = slow.delete(addresses[2]).json()
    assert (told["fits"], told["complete"], told["admissible"], told["solutions"]) == (None, False, None, [])
    for address in addresses:
        slow.delete(address)


def test_who_asks_waits_two_seconds_unless_told_otherwise(slow: TestClient) -> None:
    began = time.monotonic()
    answer = slow.post("/api/find", json={**SPIN, "seconds": 60})
    assert answer.status_code == 202
    assert 2 <= time.monotonic() - began < 10
    began = time.monotonic()
    assert slow.get(answer.headers["location"], headers={"Prefer": "wait=1"}).status_code == 202
    assert 1 <= time.monotonic() - began < 10
    slow.delete(answer.headers["location"])


@pytest.mark.parametrize("wish", ["wait=20", 'return=minimal, wait="20"', "respond-async; x, wait=20", "WAIT = 20"])
def test_a_script_may_wait_as_long_as_it_likes(slow: TestClient, wish: str) -> None:
    answer = slow.post("/api/find", json={**SPIN, "seconds": 2.5}, headers={"Prefer": wish})
    assert answer.status_code == 200
    assert (answer.json()["complete"], answer.json()["admissible"]) == (False, "12")


def test_a_wish_that_cannot_be_read_is_left_aside(slow: TestClient) -> None:
    """RFC 7240, section 2: what is not understood is ignored."""
    answer = slow.post("/api/find", json={"plan": PLAN}, headers={"Prefer": "wait=-1, await=5; wait=x"})
    assert answer.status_code == 200


@pytest.mark.parametrize("does", ["die", "fail", "grow"])
def test_a_search_that_is_lost_is_said_to_be(slow: TestClient, does: str) -> None:
    answer = slow.post("/api/find", json={"plan": {**PLAN, "name": does}}, headers=LONG)
    assert answer.status_code == 500
    (problem,) = answer.json()["problems"]
    assert problem["where"] == "search"
    assert problem["what"].startswith("it")
    assert slow.post("/api/find", json={"plan": PLAN}, headers=LONG).status_code == 200


def test_a_full_turn_is_refused_in_words(slow: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "MOST_IN_TURN", 1)
    addresses = [start(slow, seconds=60) for _ in range(2)]
    while any(slow.get(address).json()["state"] == "waiting" for address in addresses):
        time.sleep(0.02)
    addresses.append(start(slow, seconds=60))
    refused = slow.post("/api/find", json=SPIN)
    assert refused.status_code == 503
    assert refused.json()["problems"][0]["what"] == "1 searches wait in turn already"
    assert "retry-after" in refused.headers
    for address in addresses:
        slow.delete(address)


def test_an_unknown_search_is_not_found(slow: TestClient) -> None:
    for method in (slow.get, slow.delete):
        answer = method("/api/find/nowhere")
        assert answer.status_code == 404
        assert answer.json()["problems"][0]["what"] == "'nowhere' is no search here"


def test_other_answers_come_while_searches_spin_and_many_wait() -> None:
    """More wait than the server has threads for its answers (40, the framework's limit)."""
    app = make_app(Settings())
    app.state.searches = Searches(worker="tests.searches.slow_worker")
    with serving(Settings(), app) as address, httpx2.Client(base_url=address, timeout=60) as client:
        spinning = [start(client, seconds=120) for _ in range(2)]

        def wait_long(place: int) -> None:
            httpx2.get(address + spinning[place % 2], headers={"Prefer": "wait=100"}, timeout=100)

        waiting = [threading.Thread(target=wait_long, args=(place,)) for place in range(48)]
        for thread in waiting:
            thread.start()
        time.sleep(1)
        took = [seconds_for(client, lambda client: client.get("/healthz")) for _ in range(20)]
        took.append(seconds_for(client, lambda client: client.post("/api/check", json={"plan": PLAN})))
        assert all(thread.is_alive() for thread in waiting)
        for place in spinning:
            client.delete(place)
        for thread in waiting:
            thread.join()
    assert max(took) < 5  # a bound on what is held up, on a busy machine too; alone it takes milliseconds


def seconds_for(client: httpx2.Client, ask: Callable[[httpx2.Client], httpx2.Response]) -> float:
    began = time.monotonic()
    assert ask(client).status_code == 200
    return time.monotonic() - began


BAD = [
    ({"plan": {**PLAN, "set": {"cor": 1}}}, "set.cor", "'cor' is no node"),
    ({"plan": {**PLAN, "part": "turnstone-85"}}, "plan.part", "'turnstone-85' is no part sheet"),
    ({"plan": "x"}, "plan", "'x' is no table"),
    ({"plan": PLAN, "part": "x"}, "part", "'x' is no table"),
    ({"plan": PLAN, "part": {}}, "part.format", "is missing"),
    ({"plan": PLAN, "targets": [{**USB, "node": "usb"}]}, "targets.0.node", "'usb' is no node"),
    ({"plan": PLAN, "targets": [USB] * 1000}, "targets", "there are 1000 entries"),
    ({"plan": PLAN, "targets": [{**USB, "within": "-1 %"}]}, "targets.0.within", "'-1 %' is no share"),
    ({"plan": PLAN, "targets": [{**USB, "within": "900 %"}]}, "targets.0.within", "'900 %' is no share"),
    (
        {"plan": PLAN, "targets": [{"node": "core", "at_least": "9 MHz", "at_most": "8 MHz"}]},
        "targets.0.at_most",
        "cann",
    ),
    ({"plan": PLAN, "pinned": ["cor"]}, "pinned.0", "'cor' is no setting"),
    ({"plan": PLAN, "prefer": ["fastest"]}, "prefer.0", "'fastest' is no preference"),
    ({"plan": PLAN, "top": 1_000_000}, "top", "'1000000' is out of range"),
    ({"plan": PLAN, "seconds": 1e9}, "seconds", "'1000000000.0' is out of range"),
    ({"plan": PLAN, "crystal": "slow_rc"}, "crystal", "Slow RC oscillator is nothing that a board fits"),
    ({"plan": PLAN, "tops": 3}, "tops", "'tops' is no key here"),
    ({"targets": []}, "plan", "is missing"),
    ([], "body", "'[]' is no table"),
]


@pytest.mark.parametrize(("body", "where", "what"), BAD, ids=[f"{case[1]}-{case[2][:12]}" for case in BAD])
def test_what_cannot_be_asked_is_refused_at_its_place(client: TestClient, body: Any, where: str, what: str) -> None:
    answer = client.post("/api/find", json=body)
    assert answer.status_code == 422
    problem = answer.json()["problems"][0]
    assert problem["where"] == where
    assert what in problem["what"]
    assert problem["allowed"]


def test_problems_of_plan_and_wishes_are_told_together(client: TestClient) -> None:
    body = {"plan": {**PLAN, "set": {"cor": 1}}, "pinned": ["cor"], "prefer": ["x"]}
    problems = client.post("/api/find", json=body).json()["problems"]
    assert [problem["where"] for problem in problems] == ["set.cor", "pinned.0", "prefer.0"]
