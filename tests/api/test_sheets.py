"""`/api/parts` with the shelf: sheets put in, revised, compared, retired; what they change for kept plans."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.demo import SCENARIOS
from tests.shelf.test_sheets import SMALL
from wheelwork.api import sheets as api_sheets
from wheelwork.app import make_app
from wheelwork.settings import Settings


@pytest.fixture(params=["sqlite", "postgresql"])
def lab(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[TestClient]:
    """A server with an empty shelf of either kind."""
    database = request.getfixturevalue("database_url") if request.param == "postgresql" else ""
    app = make_app(Settings(data=tmp_path / "data", database=database))
    yield TestClient(app, raise_server_exceptions=True)
    app.state.store.close()


def keep(lab: TestClient, name: str, **settings: Any) -> str:
    """A plan on `small`, kept; its id."""
    plan = {"name": name, "part": "small", "in_use": ["port"], **settings}
    answer = lab.post("/api/plans", json={"plan": plan})
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


WITH_PORT = (
    SMALL
    + """[divider.port_clock]
input = "rc"
ratios = [1, 2, 4]
limits = "up to 8 MHz"
[load.port]
input = "port_clock"
"""
)


def tables(text: str) -> dict[str, Any]:
    return tomllib.loads(text, parse_float=str)


def test_a_sheet_that_is_put_in_is_one_to_plan_on(lab: TestClient) -> None:
    answer = lab.post("/api/parts", json={"sheet": SMALL, "kept_by": "bench 2"})
    assert (answer.status_code, answer.json()) == (201, {"id": "small", "revision": 1, "instead_of_file": False})
    assert (answer.headers["location"], answer.headers["etag"]) == ("/api/parts/small", '"1"')
    shown = lab.get("/api/parts/small")
    assert (shown.json(), shown.headers["etag"]) == (tables(SMALL), '"1"')
    assert {"id": "small", "name": "Small", "about": ""} in lab.get("/api/parts").json()
    assert lab.post("/api/check", json={"plan": {"part": "small"}}).json()["legal"] is True


def test_a_sheet_is_taken_as_json_too(lab: TestClient) -> None:
    assert lab.post("/api/parts", json={"part": tables(SMALL), "id": "own_1"}).json()["id"] == "own_1"
    opened = lab.get("/api/parts/own_1/revisions/1").json()
    assert (opened["part"], tables(opened["sheet"])) == (tables(SMALL), tables(SMALL))


def test_a_faulty_sheet_is_refused_with_all_its_lines_and_the_last_right_one_stays(lab: TestClient) -> None:
    lab.post("/api/parts", json={"sheet": SMALL})
    faulty = SMALL.replace('"8 MHz"', '"8"').replace("volts", "folts")
    for answer in (
        lab.post("/api/parts", json={"sheet": faulty, "id": "other"}),
        lab.put("/api/parts/small", json={"sheet": faulty}, headers={"If-Match": '"1"'}),
    ):
        assert answer.status_code == 422
        assert {7, 9} <= {problem["line"] for problem in answer.json()["problems"]}
    assert [entry["revision"] for entry in lab.get("/api/sheets").json()] == [1]
    assert lab.get("/api/parts/small").json() == tables(SMALL)


@pytest.mark.parametrize("body", [{}, {"sheet": SMALL, "part": {}}, {"sheet": "\x00"}, {"sheet": ""}, {"part": {}}])
def test_a_body_without_one_sheet_is_told_what_to_send(lab: TestClient, body: dict[str, Any]) -> None:
    answer = lab.post("/api/parts", json=body)
    assert answer.status_code == 422
    assert all(problem["allowed"] for problem in answer.json()["problems"])


def test_what_is_missing_in_an_address_or_is_no_key_is_told(lab: TestClient) -> None:
    lab.post("/api/parts", json={"sheet": SMALL})
    missing = lab.get("/api/parts/small/difference?to=1")
    assert (missing.status_code, missing.json()["problems"]) == (
        422,
        [{"where": "from", "what": "is missing", "allowed": "write it in the address: ?from=…"}],
    )
    unknown = lab.post("/api/parts", json={"sheet": SMALL, "shet": 1})
    assert (unknown.status_code, unknown.json()["problems"][0]["what"]) == (422, "'shet' is no key here")


@pytest.mark.parametrize("id", ["../small", "a b", ".x", "x" * 81])
def test_an_id_that_is_none_is_told(lab: TestClient, id: str) -> None:
    answer = lab.post("/api/parts", json={"sheet": SMALL, "id": id})
    assert (answer.status_code, answer.json()["problems"][0]["where"]) == (422, "id")


def test_an_id_on_the_shelf_is_not_put_in_again(lab: TestClient) -> None:
    lab.post("/api/parts", json={"sheet": SMALL, "kept_by": "bench 2"})
    answer = lab.post("/api/parts", json={"sheet": SMALL + "# other\n"})
    assert answer.status_code == 409
    assert answer.json()["problems"][0]["allowed"] == 'revise that one (If-Match: "1"), or give another id'
    assert lab.get("/api/parts/small/revisions/1").json()["sheet"] == SMALL


def test_a_sheet_of_the_demo_is_gone_before_only_when_that_is_said(lab: TestClient) -> None:
    text = (SCENARIOS / "parts" / "turnstone-58.toml").read_text()
    changed = text.replace('revision = "', 'revision = "lab ', 1)
    refused = lab.post("/api/parts", json={"sheet": changed})
    assert refused.status_code == 409
    assert "'turnstone-58' lies in a file" in refused.json()["problems"][0]["what"]
    assert lab.get("/api/parts/turnstone-58").json() == tables(text)
    revised = lab.put("/api/parts/turnstone-58", json={"sheet": changed}, headers={"If-Match": '"1"'})
    assert revised.status_code == 404
    assert "lies in a file and is not on the shelf" in revised.json()["problems"][0]["what"]

    taken = lab.post("/api/parts", json={"sheet": changed, "instead_of_file": True})
    assert taken.json() == {"id": "turnstone-58", "revision": 1, "instead_of_file": True}
    assert lab.get("/api/parts/turnstone-58").json() == tables(changed)
    lab.post("/api/parts/turnstone-58/retire")
    assert lab.get("/api/parts/turnstone-58").json() == tables(text)


def test_a_sheet_is_revised_by_whoever_knows_the_latest(lab: TestClient) -> None:
    lab.post("/api/parts", json={"sheet": SMALL, "kept_by": "bench 2"})
    two, three = SMALL.replace("8 MHz", "9 MHz"), SMALL.replace("8 MHz", "7 MHz")
    answer = lab.put("/api/parts/small", json={"sheet": two, "kept_by": "bench 3"}, headers={"If-Match": '"1"'})
    assert (answer.status_code, answer.json()) == (200, {"id": "small", "revision": 2})
    assert answer.headers["etag"] == '"2"'

    assert lab.put("/api/parts/small", json={"sheet": three}).status_code == 428
    late = lab.put("/api/parts/small", json={"sheet": three}, headers={"If-Match": '"1"'})
    assert late.status_code == 412
    told = late.json()
    assert "bench 3 kept revision 2 meanwhile" in told["problems"][0]["what"]
    assert (told["yours"], told["theirs"]) == (tables(three), tables(two))
    assert told["difference"]["differs"] == [{"where": "oscillator.rc.frequency", "from": "9 MHz", "to": "7 MHz"}]
    assert len(lab.get("/api/parts/small/revisions").json()) == 2


def test_revisions_are_listed_opened_and_compared(lab: TestClient) -> None:
    lab.post("/api/parts", json={"sheet": SMALL, "kept_by": "bench 2"})
    two = SMALL.replace("8 MHz", "9 MHz")
    lab.put("/api/parts/small", json={"sheet": two}, headers={"If-Match": '"1"'})
    listed = lab.get("/api/parts/small/revisions").json()
    assert [(each["revision"], each["kept_by"]) for each in listed] == [(2, "somebody"), (1, "bench 2")]
    assert lab.get("/api/parts/small/revisions/1").json()["sheet"] == SMALL
    compared = lab.get("/api/parts/small/difference?from=1&to=2").json()
    assert compared == {
        "differs": [{"where": "oscillator.rc.frequency", "from": "8 MHz", "to": "9 MHz"}],
        "same": 3,
    }
    for path in ("smal/revisions", "small/revisions/3", "small/difference?from=1&to=3", "smal/verdicts"):
        assert lab.get(f"/api/parts/{path}").status_code == 404


def test_a_sheet_is_taken_off_the_list_and_brought_back(lab: TestClient) -> None:
    lab.post("/api/parts", json={"sheet": SMALL})
    assert lab.post("/api/parts/small/retire").json()["retired"] is True
    assert "small" not in {sheet["id"] for sheet in lab.get("/api/parts").json()}
    assert lab.get("/api/sheets").json() == []
    assert [entry["id"] for entry in lab.get("/api/sheets?retired=true").json()] == ["small"]
    assert lab.post("/api/check", json={"plan": {"part": "small"}}).status_code == 200
    assert lab.post("/api/parts/small/bring-back").json()["retired"] is False
    assert [entry["id"] for entry in lab.get("/api/sheets").json()] == ["small"]
    assert lab.post("/api/parts/smal/retire").status_code == 404


def test_a_kept_plan_says_the_sheet_revision_it_was_judged_with(lab: TestClient) -> None:
    lab.post("/api/parts", json={"sheet": WITH_PORT})
    plan = keep(lab, "One")
    lab.put("/api/parts/small", json={"sheet": WITH_PORT + "# more\n"}, headers={"If-Match": '"1"'})
    lab.put(f"/api/plans/{plan}", json={"plan": {"part": "small"}}, headers={"If-Match": '"1"'})
    revisions = lab.get(f"/api/plans/{plan}/revisions").json()
    assert [each["sheet_revision"] for each in revisions] == [2, 1]


class TestVerdicts:
    """A window of 8 MHz that becomes one of 4 MHz: 8 MHz divided by 1 is over it, by 2 on it, by 4 below."""

    @pytest.fixture
    def plans(self, lab: TestClient) -> dict[int, str]:
        """Plans at each ratio, and a sheet in revisions: as it was, with the lower limit, without the load."""
        lab.post("/api/parts", json={"sheet": WITH_PORT})
        kept = {ratio: keep(lab, f"By {ratio}", set={"port_clock": ratio}) for ratio in (1, 2, 4)}
        lower = WITH_PORT.replace("up to 8 MHz", "up to 4 MHz")
        for worked_on, text in ((1, lower), (2, lower.replace("port]", "other]"))):
            answer = lab.put("/api/parts/small", json={"sheet": text}, headers={"If-Match": f'"{worked_on}"'})
            assert answer.status_code == 200, answer.text
        return kept

    def test_the_plans_that_stand_otherwise_are_named(self, lab: TestClient, plans: dict[int, str]) -> None:
        told = lab.get("/api/parts/small/verdicts?revision=2").json()
        assert (told["id"], told["revision"], told["looked_at"], told["not_looked_at"]) == ("small", 2, 3, 0)
        assert told["changes"] == [
            {
                "id": plans[1],
                "name": "By 1",
                "revision": 1,
                "sheet_revision": 1,
                "before": {"legal": True, "inside": 1, "windows": 1, "problems": []},
                "after": {"legal": False, "inside": 0, "windows": 1, "problems": []},
            }
        ]

    def test_with_the_revision_of_old_nothing_changes(self, lab: TestClient, plans: dict[int, str]) -> None:
        assert lab.get("/api/parts/small/verdicts?revision=1").json()["changes"] == []

    def test_plans_that_cannot_be_read_any_more_say_why(self, lab: TestClient, plans: dict[int, str]) -> None:
        changes = lab.get("/api/parts/small/verdicts").json()["changes"]
        assert {change["id"] for change in changes} == set(plans.values())
        for change in changes:
            assert change["after"]["legal"] is False
            assert "'port' is no load of Small" in change["after"]["problems"][0]["what"]

    def test_plans_off_the_list_and_on_other_sheets_are_left_alone(
        self, lab: TestClient, plans: dict[int, str]
    ) -> None:
        lab.post(f"/api/plans/{plans[1]}/retire")
        lab.post("/api/plans", json={"plan": {"part": "turnstone-58"}})
        told = lab.get("/api/parts/small/verdicts?revision=2").json()
        assert (told["looked_at"], told["changes"]) == (2, [])

    def test_when_the_time_is_up_the_rest_is_counted_and_can_be_asked_for(
        self, lab: TestClient, plans: dict[int, str], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(api_sheets, "SECONDS_FOR_VERDICTS", -1)
        seen, skip = [], 0
        for left in (2, 1, 0):
            told = lab.get(f"/api/parts/small/verdicts?skip={skip}").json()
            assert (told["looked_at"], told["not_looked_at"]) == (1, left)
            seen += [change["id"] for change in told["changes"]]
            skip += told["looked_at"]
        assert sorted(seen) == sorted(plans.values())
        beyond = lab.get(f"/api/parts/small/verdicts?skip={skip}").json()
        assert (beyond["looked_at"], beyond["not_looked_at"]) == (0, 0)


@pytest.mark.parametrize(
    "name", ["%00", "x%00y", "%ff", "'; DROP TABLE sheet; --", "%2e%2e%2fsecret", "<b>", "x" * 100]
)
def test_a_trick_for_a_name_is_a_name_that_is_not_kept(lab: TestClient, name: str) -> None:
    lab.post("/api/parts", json={"sheet": SMALL})
    for path in (f"{name}/revisions", f"{name}/revisions/1", f"{name}/verdicts", f"{name}/difference?from=1&to=1"):
        assert lab.get(f"/api/parts/{path}").status_code == 404
    put = lab.put(f"/api/parts/{name}", json={"sheet": SMALL}, headers={"If-Match": '"1"'})
    assert put.status_code == 404
    assert lab.post(f"/api/parts/{name}/retire").status_code == 404
    assert [entry["id"] for entry in lab.get("/api/sheets").json()] == ["small"]


def test_a_server_without_a_shelf_says_so() -> None:
    client = TestClient(make_app(Settings()))
    for answer in (client.get("/api/sheets"), client.post("/api/parts", json={"sheet": SMALL})):
        assert answer.status_code == 503
        assert "this server has no shelf" in answer.json()["problems"][0]["what"]
