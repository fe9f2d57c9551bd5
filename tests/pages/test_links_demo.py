"""The links of the demo's plans on the page: every one of them is drawn, and every error can be found by hand."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.conftest import TESTS
from tests.demo import PLANS, load_demo
from wheelwork.judge import judge
from wheelwork.judge.link_words import say_errors
from wheelwork.judge.rates import JudgedLink, judge_links
from wheelwork.links.families import families
from wheelwork.pages.links_rows import settings_view
from wheelwork.pages.links_sums import show_sums
from wheelwork.pages.plan import permalink_of
from wheelwork.pages.rendering import draw_settings

NAMES = [path.stem for path in PLANS]


def links_of(name: str) -> list[JudgedLink]:
    part, plan = load_demo(name)
    return list(judge_links(judge(part, plan)))


@pytest.mark.parametrize("name", NAMES)
def test_every_link_of_the_demo_opens(client: TestClient, name: str) -> None:
    part, plan = load_demo(name)
    places = " ".join(str(place) for place in range(len(plan.links)))
    answer = client.get("/links", params={"plan": permalink_of(plan, part), "open": places})
    assert answer.status_code == 200
    assert len(re.findall(r'class="drawer link-drawer"', answer.text)) == len(plan.links)


@pytest.mark.parametrize("name", NAMES)
def test_every_error_of_the_demo_can_be_found_by_hand(name: str) -> None:
    shown = [link for link in links_of(name) if link.choice is not None and link.choice.error is not None]
    without = [(link.title, link.family.name, link.family.rule) for link in shown if not show_sums(link)]
    assert without == []


@pytest.mark.parametrize("name", NAMES)
def test_every_choice_of_the_demo_has_words(name: str) -> None:
    for link in links_of(name):
        for choice in link.answer.choices if link.answer is not None else ():
            view = settings_view(link, choice)
            assert view is not None
            assert re.search(r"[\d]|as it comes", str(draw_settings("chosen", view))), (link.title, choice)
            assert say_errors(link, choice).words


def test_a_template_for_settings_is_that_of_a_family() -> None:
    own = [path for path in Path(TESTS.parent / "templates" / "links").glob("*.html") if not path.name.startswith("_")]
    assert own
    assert [path.name for path in own if path.stem not in families()] == []
