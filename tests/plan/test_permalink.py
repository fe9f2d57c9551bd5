"""The whole plan in an address: round trips, compactness, and what is cut short or altered."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.demo import PLANS, load_demo
from wheelwork.plan.permalink import read_permalink, write_permalink
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_plan_rides_in_an_address_and_comes_back_the_same(path: Path) -> None:
    part, plan = load_demo(path.stem)
    link = write_permalink(write_plan(plan, part))
    raw, problems = read_permalink(link)
    assert problems == []
    assert read_plan(raw, part) == (plan, [])
    assert len(link) < 1200  # far below what any browser or mail keeps whole
    assert set(link) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.")


values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**12), 10**12) | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=15,
)


def nested(levels: int) -> dict[str, Any]:
    inner: dict[str, Any] = {}
    for _ in range(levels):
        inner = {"in": inner}
    return inner


@given(st.dictionaries(st.text(max_size=10), values, max_size=6))
def test_anything_written_reads_back(written: dict[str, Any]) -> None:
    assert read_permalink(write_permalink(written)) == (written, [])


def test_an_address_from_before_links_had_words_is_still_read() -> None:
    """Written by the program as it was then."""
    link = (
        "1.ePmQ4LCoqyZGuVNpfiVCCzDM84pL8vNSdU0tcIRzLDycID4xAvoQnoJy8hNTQFGaWpSZmBNfkA80FOjoxNxMcASX"
        "JoL5wKgF2WxpZmCg4JSiVBtbCwDdxDds"
    )
    raw, problems = read_permalink(link)
    assert problems == []
    assert raw == {
        "format": "wheelwork-plan/1",
        "name": "Buoy",
        "part": "turnstone-58",
        "in_use": ["processor"],
        "set": {"core": 2},
        "link": [{"load": "serial_port", "family": "uart", "rate": "9600 Bd"}],
    }


@pytest.mark.parametrize("path", PLANS[:2], ids=lambda path: path.stem)
def test_a_shortened_address_is_refused_at_every_length(path: Path) -> None:
    part, plan = load_demo(path.stem)
    link = write_permalink(write_plan(plan, part))
    for length in range(len(link)):
        raw, problems = read_permalink(link[:length])
        assert raw is None
        assert problems[0].where == "address"


def test_an_altered_address_is_refused() -> None:
    part, plan = load_demo(PLANS[0].stem)
    link = write_permalink(write_plan(plan, part))
    dice = random.Random(7)
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    for _ in range(400):
        place = dice.randrange(2, len(link))
        letter = dice.choice(letters.replace(link[place], ""))
        raw, _ = read_permalink(link[:place] + letter + link[place + 1 :])
        assert raw is None or raw == read_permalink(link)[0]  # padding bits alone change nothing


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    raw, problems = read_permalink(text)
    assert (raw is None) == bool(problems)


@pytest.mark.parametrize(
    ("raw", "what"),
    [
        ({"name": "x" * 5_000_000}, "unpacks to far more than a plan"),
        ({"battery": {"cells": [[]] * 10_000}}, "more than 6000 values"),
        ({"battery": nested(40)}, "nested too deeply"),
        ({"battery": nested(400)}, "nested too deeply"),
        (["name"], "carries no plan"),
    ],
    ids=["bytes", "values", "levels", "levels of recursion", "a list"],
)
def test_an_address_that_carries_far_too_much_or_no_plan_is_refused(raw: Any, what: str) -> None:
    told, problems = read_permalink(write_permalink(raw))
    assert told is None
    assert [problem.where for problem in problems] == ["address"]
    assert what in problems[0].what


def test_half_a_character_rides_along_and_comes_back() -> None:
    """JSON may escape half a surrogate pair, which UTF-8 has no bytes for: such a plan is written all the same."""
    written = {"part": "gone", "name": "\ud800", "\udfff": 1}
    assert read_permalink(write_permalink(written)) == (written, [])
