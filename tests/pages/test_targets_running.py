"""A long search on the Targets page: its progress, looking again, stopping it; and a server that takes no more."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations, serving
from tests.demo import load_demo
from wheelwork.app import make_app
from wheelwork.find.answering import FullAnswer
from wheelwork.find.question import Answer, Progress, Question, Solution
from wheelwork.pages.plan import permalink_of
from wheelwork.searches import Full, Search
from wheelwork.settings import Settings

OpenPage = Callable[..., Page]
PART, PLAN = load_demo("01-skerry-3-steady-running")
ADDRESS = "/targets?" + urlencode({"plan": permalink_of(PLAN, PART)})


@dataclass
class Patient:
    """Searches that run until a test ends them; 5 of 8 parts are covered in 15 s, 12 settings fit."""

    kept: dict[str, Search] = field(default_factory=dict)
    full: bool = False

    def start(self, question: Question, seconds: float, crystal: str | None = None) -> str:
        if self.full:
            raise Full
        progress = Progress(40_000_000, 64_000_000, 12)
        self.kept["long"] = Search("long", "running", question, seconds, 15.0, progress, crystal=crystal)
        return "long"

    def look(self, id: str) -> Search | None:
        return self.kept.get(id)

    def wait(self, id: str, seconds: float) -> Search | None:
        return self.kept.get(id)

    def stop(self, id: str) -> None:
        self.end(id, complete=False)

    def end(self, id: str, complete: bool) -> None:
        """Let a search be over, with the plan's own settings as what was found."""
        running = self.kept[id]
        answer = Answer(
            question=running.question,
            fits=True,
            complete=complete,
            ordered=complete,
            admissible=12,
            searched=64_000_000 if complete else None,
            solutions=(_own(running.question),),
        )
        state = "done" if complete else "stopped"
        self.kept[id] = replace(running, state=state, answer=FullAnswer(answer))  # type: ignore[arg-type]


def _own(question: Question) -> Solution:
    settings = question.plan.complete(question.part)
    core = question.plan.targets[0].frequency if question.plan.targets else None
    return Solution(
        settings=settings,
        core_voltage=question.plan.core_voltage,
        wait_states=2,
        core=core or PART.steps[0].volts,
        current=PART.steps[0].volts,
        alike=1,
        changes=0,
        plan=question.plan,
    )


@pytest.fixture(scope="module")
def patient() -> Patient:
    return Patient()


@pytest.fixture(scope="module")
def server(patient: Patient) -> Iterator[str]:
    """A server whose searches are these."""
    app = make_app(Settings())
    app.state.searches = _Closing(patient)
    with serving(Settings(), app) as address:
        yield address


class _Closing:
    """The searches as the roof ends them."""

    def __init__(self, patient: Patient) -> None:
        self.patient = patient

    def __getattr__(self, name: str) -> object:
        return getattr(self.patient, name)

    def close(self) -> None: ...


@pytest.fixture
def asked(patient: Patient) -> Iterator[TestClient]:
    """The application with these searches, asked without a network."""
    app = make_app(Settings())
    app.state.searches = patient
    yield TestClient(app)
    patient.full = False
    patient.kept.clear()


def start(page: Page) -> None:
    page.get_by_role("button", name="Search every setting").click()
    expect(page.get_by_role("progressbar")).to_have_attribute("aria-valuenow", "62")


def test_a_long_search_tells_how_far_it_is_and_ends_on_the_page(open_page: OpenPage, patient: Patient) -> None:
    page = open_page(ADDRESS, viewport={"width": 1440, "height": 900})
    start(page)
    expect(page.locator("#running")).to_contain_text("40 of 64 million tried, 12 fit so far. About 9")
    assert axe_violations(page) == []
    page.get_by_role("button", name="Add a target").focus()
    patient.end("long", complete=True)
    expect(page.locator("#f-found")).to_have_text("12 settings fit")
    expect(page.locator("#said")).to_contain_text("12 settings fit. All 64")
    expect(page.get_by_role("button", name="Add a target")).to_be_focused()
    assert page.locator("#running").count() == 0


def test_what_is_typed_while_a_search_runs_stays(open_page: OpenPage, patient: Patient) -> None:
    page = open_page(ADDRESS)
    page.get_by_role("button", name="Add a target").click()
    page.locator('[id="f-target.0.wanted"]').fill("58 MHz")
    start(page)
    page.locator('[id="f-target.0.within"]').fill("1 %")
    page.get_by_role("checkbox", name="Core source").check()
    patient.end("long", complete=True)
    expect(page.locator("#f-found")).to_have_text("12 settings fit")
    expect(page.locator('[id="f-target.0.within"]')).to_have_value("1 %")
    expect(page.get_by_role("checkbox", name="Core source")).to_be_checked()


def test_a_search_that_is_stopped_keeps_what_it_found(open_page: OpenPage) -> None:
    page = open_page(ADDRESS)
    start(page)
    page.get_by_role("button", name="Stop and keep these 12").click()
    expect(page.locator("#f-found")).to_have_text("At least 12 settings fit")
    expect(page.locator(".proof")).to_contain_text("Stopped after 15")
    expect(page.locator(".after")).to_contain_text("The best found until then.")


def test_leaving_the_page_leaves_the_search_and_its_address(open_page: OpenPage, patient: Patient) -> None:
    page = open_page(ADDRESS)
    start(page)
    address = page.url
    page.goto("/")
    page.goto(address)
    expect(page.get_by_role("progressbar")).to_be_visible()
    patient.end("long", complete=True)
    expect(page.locator("#f-found")).to_have_text("12 settings fit")


def test_without_script_a_link_looks_again(asked: TestClient, patient: Patient) -> None:
    page = asked.post("/targets", data={"plan": permalink_of(PLAN, PART), "first": "most room"})
    assert 'role="progressbar"' in page.text
    assert "Look again" in page.text
    patient.end("long", complete=True)
    assert "12 settings fit" in asked.get(str(page.url)).text


def test_a_search_found_before_the_form_changed_says_so(asked: TestClient, patient: Patient) -> None:
    asked.post("/targets", data={"plan": permalink_of(PLAN, PART)})
    patient.end("long", complete=True)
    changed = urlencode({"plan": permalink_of(replace(PLAN, held=("core",)), PART), "search": "long"})
    assert "searched before the form changed" in asked.get(f"/targets?{changed}").text
    same = urlencode({"plan": permalink_of(PLAN, PART), "search": "long"})
    assert "searched before the form changed" not in asked.get(f"/targets?{same}").text


def test_a_server_that_takes_no_more_searches_says_so(asked: TestClient, patient: Patient) -> None:
    patient.full = True
    page = asked.post("/targets", data={"plan": permalink_of(PLAN, PART)})
    assert "Not searched" in page.text
    assert "ask again in a minute" in page.text


def test_a_search_whose_worker_ended_says_why(asked: TestClient, patient: Patient) -> None:
    asked.post("/targets", data={"plan": permalink_of(PLAN, PART)})
    patient.kept["long"] = replace(patient.kept["long"], state="failed", why="Its worker ran out of memory.")
    query = urlencode({"plan": permalink_of(PLAN, PART), "search": "long"})
    page = asked.get(f"/targets?{query}")
    assert "No answer" in page.text
    assert "Its worker ran out of memory." in page.text


def test_a_look_at_a_search_is_only_the_right_side(asked: TestClient, patient: Patient) -> None:
    asked.post("/targets", data={"plan": permalink_of(PLAN, PART)})
    query = urlencode({"plan": permalink_of(PLAN, PART), "search": "long"})
    running = asked.get(f"/targets/found?{query}")
    assert "<form" not in running.text
    assert 'id="said"' not in running.text  # what is said once is not said each second
    patient.end("long", complete=True)
    assert 'id="said"' in asked.get(f"/targets/found?{query}").text
