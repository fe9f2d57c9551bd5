"""Kept plans judged again on another revision of their sheet: how they stood, how they stand, as long as there is time.

A clock of 8 MHz divided by 1 under a limit of 8 MHz is inside; under one of 4 MHz it is over.
"""

from __future__ import annotations

from itertools import repeat
from typing import Any

import pytest

from tests.shelf.test_sheets import SMALL, checked
from wheelwork.shelf.plans import Revision
from wheelwork.shelf.rejudging import Stand, judge_again

DIVIDED = SMALL + '[divider.out]\ninput = "rc"\nratios = [1, 2]\nlimits = "up to {limit}"\n[load.port]\ninput = "out"\n'
INSIDE = Stand(legal=True, inside=1, windows=1)


def kept(id: str, legal: bool = True, inside: int = 1, **raw: Any) -> Revision:
    plan = {"part": "small", "in_use": ["port"], **raw}
    return Revision(id, 1, plan, 0.0, "", "small", 1, "", legal, inside, 1)


def part_up_to(limit: str) -> Any:
    return checked(DIVIDED.replace("{limit}", limit)).part


def test_a_plan_that_stands_as_it_stood_is_not_named() -> None:
    assert judge_again([kept("one"), kept("two", set={"out": 2})], part_up_to("8 MHz"), lambda: True) == ([], 2)


def test_a_plan_that_stands_otherwise_is_named_with_both() -> None:
    changes, looked_at = judge_again([kept("one"), kept("two", set={"out": 2})], part_up_to("4 MHz"), lambda: True)
    assert looked_at == 2
    assert [(c.plan.id, c.before, c.after) for c in changes] == [("one", INSIDE, Stand(False, 0, 1))]


def test_a_plan_that_is_right_at_last_is_named_too() -> None:
    changes, _ = judge_again([kept("one", legal=False, inside=0)], part_up_to("8 MHz"), lambda: True)
    assert [(c.before, c.after) for c in changes] == [(Stand(False, 0, 1), INSIDE)]


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        ({"set": {"out": 4}}, "set.out: 4 is not offered; 1, 2 are"),
        ({"in_use": ["radio"]}, "'radio' is no load of Small"),
        ({"board": {"crystal": {"frequency": "8 MHz"}}}, "'crystal' is no oscillator of Small"),
    ],
)
def test_a_plan_that_cannot_be_read_any_more_is_named_with_its_problems(raw: dict[str, Any], said: str) -> None:
    changes, _ = judge_again([kept("one", **raw)], part_up_to("8 MHz"), lambda: True)
    assert not changes[0].after.legal
    assert said in changes[0].after.problems[0].sentence()


def test_it_ends_when_the_time_is_up_but_looks_at_one() -> None:
    left = iter([True, True, False])
    assert judge_again(repeat(kept("one")), part_up_to("8 MHz"), lambda: next(left)) == ([], 3)
    assert judge_again(repeat(kept("one")), part_up_to("8 MHz"), lambda: False) == ([], 1)
    assert judge_again([], part_up_to("8 MHz"), lambda: False) == ([], 0)
