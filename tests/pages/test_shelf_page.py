"""Keeping from the pages: revisions, two people at once, side by side, taken off and brought back, faults told."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from pathlib import Path
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations
from tests.demo import load_demo
from wheelwork.app import make_app
from wheelwork.pages.plan import permalink_of
from wheelwork.pages.shelf_together import put_together
from wheelwork.plan.permalink import read_permalink
from wheelwork.settings import Settings

OpenPage = Callable[..., Page]
PART, PLAN = load_demo("01-skerry-3-steady-running")


def link(name: str) -> str:
    return permalink_of(replace(PLAN, name=name), PART)


def text_of(html: str) -> str:
    plain = unescape(re.sub(r"<[^>]+>", " ", html)).replace("\u2009", " ").replace("\u00a0", " ")
    return re.sub(r"\s+", " ", plain)


def keep(client: TestClient, plan: str, worker: str = "bench 2", **fields: str) -> str:
    """The permalink of what was kept, or the address of the page that it led to."""
    named = {key.replace("__", "."): value for key, value in fields.items()}
    data = {"plan": plan, "opened": "", "before": "", "worker": worker, "keep": "yes", **named}
    answer = client.post("/plan", data=data, follow_redirects=False)
    assert answer.status_code == 303, text_of(answer.text)
    where = urlsplit(answer.headers["location"])
    return parse_qs(where.query)["plan"][0] if where.path == "/plan" else answer.headers["location"]


def kept(plan: str) -> str:
    raw, problems = read_permalink(plan)
    assert raw is not None, problems
    return str(raw["kept"])


@pytest.fixture
def desk(tmp_path: Path) -> TestClient:
    return TestClient(make_app(Settings(data=tmp_path)))


def test_a_plan_is_kept_and_revised(desk: TestClient) -> None:
    first = keep(desk, link("Tide gauge"))
    assert kept(first) == "tide-gauge/1"
    page = desk.get("/plan", params={"plan": first}).text
    assert "revision 1, kept" in text_of(page)
    assert 'id="keep"' not in page
    changed = desk.post("/plan", data={"plan": first, "set.slow_bus": "3", "opened": first, "before": ""}).text
    assert "1 change not kept" in text_of(changed)
    assert "Keep as revision 2" in changed
    assert kept(keep(desk, first, set__slow_bus="3")) == "tide-gauge/2"
    assert [each["revision"] for each in desk.get("/api/plans/tide-gauge/revisions").json()] == [2, 1]
    assert desk.get("/api/plans/tide-gauge").json()["plan"]["set"]["slow_bus"] == 3


def test_the_name_of_who_works_is_kept_in_the_browser(desk: TestClient) -> None:
    keep(desk, link("Tide gauge"), worker="bench „4“")
    assert 'value="bench „4“"' in unescape(desk.get("/plan", params={"plan": link("Other")}).text)
    assert desk.get("/api/plans").json()[0]["kept_by"] == "bench „4“"


def test_nothing_is_kept_while_a_field_cannot_be_taken(desk: TestClient) -> None:
    data = {"plan": link("Tide gauge"), "opened": "", "before": "", "keep": "yes", "set.slow_bus": "99"}
    answer = desk.post("/plan", data=data, follow_redirects=False)
    assert (answer.status_code, desk.get("/api/plans").json()) == (200, [])
    assert "99" in answer.text


def test_two_who_keep_at_once_lose_nothing(desk: TestClient) -> None:
    first = keep(desk, link("Storm log"))
    keep(desk, first, worker="bench 1", set__slow_bus="3", owner="Other owner")
    where = keep(desk, first, worker="bench 2", set__slow_bus="4", set__main_core="8")
    assert where.startswith("/shelf/storm-log/together?")
    page = desk.get(where).text
    words = text_of(page)
    assert "bench 1 kept revision 2 of Storm log, while you were working on 1." in words
    assert "You both changed Slow bus" in words
    assert "PLL core tap ÷4, unchanged ÷8" in words
    mine = parse_qs(urlsplit(where).query)["plan"][0]
    data = {"plan": mine, "shown": "2", "choose.set.slow_bus": "theirs", "worker": "bench 2"}
    answer = desk.post("/shelf/storm-log/together", data=data, follow_redirects=False)
    assert kept(parse_qs(urlsplit(answer.headers["location"]).query)["plan"][0]) == "storm-log/3"
    plan = desk.get("/api/plans/storm-log").json()["plan"]
    assert (plan["set"]["slow_bus"], plan["set"]["main_core"], plan["owner"]) == (3, 8, "Other owner")
    again = desk.post("/shelf/storm-log/together", data=data, follow_redirects=False)
    assert "/together?" in again.headers["location"], "yet another was kept meanwhile, and nothing is written over it"
    own = desk.post("/shelf/storm-log/together", data={**data, "own": "yes"}, follow_redirects=False)
    assert kept(parse_qs(urlsplit(own.headers["location"]).query)["plan"][0]) == "storm-log-2/1"


RAW = st.dictionaries(
    st.sampled_from("abcd"), st.integers(0, 2) | st.dictionaries(st.sampled_from("xy"), st.integers(0, 2))
)


@given(RAW, RAW, st.data())
def test_what_only_one_changed_stands(base: dict[str, object], theirs: dict[str, object], data: st.DataObject) -> None:
    assert (
        put_together(base, base, theirs, {}) == put_together(base, theirs, base, {}) == put_together({}, {}, theirs, {})
    )
    mine = data.draw(RAW)
    everything = {f"{key}{more}": "theirs" for key in "abcd" for more in ("", ".x", ".y")}
    if not any(isinstance(value, dict) for raw in (base, theirs, mine) for value in raw.values()):
        both = put_together(base, theirs, mine, everything)
        for key in "abcd":
            changed = theirs.get(key) != base.get(key)
            assert both.get(key) == (theirs if changed else mine).get(key)


def test_two_stand_side_by_side(desk: TestClient) -> None:
    first = keep(desk, link("Gauge one"))
    keep(desk, first, set__slow_bus="4")
    page = text_of(desk.get("/shelf/gauge-one?beside=gauge-one/1&beside=gauge-one/2").text)
    assert "Two plans side by side: 1 place differs" in page
    assert "Slow bus ÷2 ÷4" in page
    assert "Slow bus 29 MHz 14.5 MHz" in page
    assert "Supply current, estimated" in page


def test_an_earlier_revision_is_taken_back_to(desk: TestClient) -> None:
    first = keep(desk, link("Gauge one"))
    keep(desk, first, set__slow_bus="4")
    page = unescape(desk.get("/shelf/gauge-one").text)
    found = re.search(r'href="(/plan[^"]*)" aria-label="Take back to it: revision 1"', page)
    assert found is not None
    opened = desk.get(found[1]).text
    assert "1 change not kept" in text_of(opened)
    assert "Keep as revision 3" in opened
    assert kept(keep(desk, parse_qs(urlsplit(found[1]).query)["plan"][0])) == "gauge-one/3"
    plans = [desk.get(f"/api/plans/gauge-one/revisions/{number}").json()["plan"] for number in (1, 3)]
    assert plans[0] == plans[1]


def test_a_plan_is_taken_off_the_shelf_and_brought_back(desk: TestClient) -> None:
    keep(desk, link("Gauge one"))
    desk.post("/shelf/gauge-one/retire")
    assert "No plans on the shelf" in text_of(desk.get("/shelf").text)
    assert "1 plan taken off the shelf" in text_of(desk.get("/shelf?retired=yes").text)
    assert "Bring it back" in desk.get("/shelf/gauge-one").text
    desk.post("/shelf/gauge-one/bring-back")
    assert "1 plan on the shelf" in text_of(desk.get("/shelf").text)


def test_the_list_is_searched_and_turned(desk: TestClient) -> None:
    for number in range(53):
        keep(desk, link(f"Gauge {number}"), worker="wharf" if number == 7 else "bench 1")
    page = desk.get("/shelf").text
    assert "53 plans on the shelf" in text_of(page)
    assert "1 of 2" in text_of(page)
    assert "Gauge 0" in desk.get("/shelf?page=2").text
    found = text_of(desk.get("/shelf", params={"search": "gauge WHARF"}).text)
    assert "1 plan on the shelf with “gauge WHARF”" in found
    assert "Nothing here holds all these words." in desk.get("/shelf", params={"search": "100 %_"}).text


def test_what_is_not_on_the_shelf_is_told(desk: TestClient) -> None:
    keep(desk, link("Gauge one"))
    answer = desk.get("/shelf/gauge-on", headers={"accept": "text/html"})
    assert (answer.status_code, "did you mean gauge-one?" in answer.text) == (404, True)
    assert desk.get("/shelf/gauge-one/together", params={"plan": "1.x"}).status_code == 400


def test_a_shelf_that_cannot_be_written_says_so_and_nothing_typed_is_lost(desk: TestClient, tmp_path: Path) -> None:
    """Locked by another writer for longer than anyone waits: told at the plan, which stays as it was typed."""
    keep(desk, link("Gauge one"))
    (tmp_path / "shelf.db").unlink()
    (tmp_path / "shelf.db").write_bytes(b"this is no shelf" * 4096)
    data = {"plan": link("Gauge two"), "opened": "", "before": "", "keep": "yes", "set.slow_bus": "4"}
    answer = desk.post("/plan", data=data, follow_redirects=False)
    assert answer.status_code == 200
    assert "Not kept: the shelf's file is no shelf" in unescape(answer.text)
    assert 'value="4"' in answer.text
    assert desk.get("/shelf", headers={"accept": "text/html"}).status_code == 503


def test_a_server_without_a_shelf_offers_no_keeping() -> None:
    bare = TestClient(make_app(Settings()))
    page = bare.get("/plan", params={"plan": link("Gauge one")}).text
    assert 'id="keep"' not in page
    assert bare.get("/shelf", headers={"accept": "text/html"}).status_code == 503


def test_two_browsers_keep_at_once(open_page: OpenPage) -> None:
    one, other = (open_page(f"/plan?{urlencode({'plan': link('Lock gate')})}") for _ in range(2))
    one.locator("#f-worker").fill("bench 1")
    one.locator("#keep").click()
    expect(one.locator("#kept")).to_contain_text("revision 1, kept")
    other.goto(one.url)
    for page, name, bus in ((one, "bench 1", "3"), (other, "bench 2", "4")):
        page.locator("#f-worker").fill(name)
        page.locator('[id="f-set.slow_bus"]').fill(bus)
        expect(page.locator("#kept")).to_contain_text("1 change not kept")
    one.locator("#keep").click()
    expect(one.locator("#kept")).to_contain_text("revision 2, kept")
    other.locator("#keep").click()
    expect(other.locator(".lead")).to_contain_text("bench 1 kept revision 2 of Lock gate, while you were working on 1.")
    assert axe_violations(other) == []
    other.get_by_role("radio", name="÷3").check()
    other.locator("#keep-both").click()
    expect(other.locator("#kept")).to_contain_text("revision 3, kept")
    expect(other.locator('[id="f-set.slow_bus"]')).to_have_value("3")


def test_the_shelf_is_for_everyone(open_page: OpenPage) -> None:
    page = open_page(f"/plan?{urlencode({'plan': link('Everyone')})}")
    page.locator("#keep").click()
    expect(page.locator("#kept")).to_contain_text("revision 1, kept")
    page.locator('[id="f-set.slow_bus"]').fill("4")
    expect(page.locator("#keep")).to_have_text("Keep as revision 2")
    page.locator("#keep").click()
    expect(page.locator("#kept")).to_contain_text("revision 2, kept")
    for path in ("/shelf", "/shelf/everyone?beside=everyone/1&beside=everyone/2"):
        page.goto(path)
        assert axe_violations(page) == []
        for width in (1440, 900, 390):
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
