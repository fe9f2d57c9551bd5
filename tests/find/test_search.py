"""The search against the listing of every setting of small random parts, judged one by one.

More parts than the gate has time for: `python -m tests.find.many 500` (DEVELOPERS.md).
"""

from __future__ import annotations

import random

import pytest

from tests.find.agreement import disagreements
from tests.find.brute import list_legal
from tests.find.chance import draw_question, small_part
from wheelwork.find.search import find_settings

QUESTIONS = 6


def faults_of(seed: int) -> list[str]:
    """What is wrong with the answers to some questions about the part of a number."""
    small = small_part(seed)
    legal = list_legal(small.part, small.plan)
    dice = random.Random(seed)
    faults = []
    for number in range(QUESTIONS):
        answer = find_settings(draw_question(dice, small), lambda: True)
        faults += [f"part {seed}, question {number}: {fault}" for fault in disagreements(answer, legal)]
    return faults


@pytest.mark.parametrize("seed", range(40))
def test_an_answer_is_that_of_listing_and_judging_all(seed: int) -> None:
    assert faults_of(seed) == []
