"""The search against the listing of every setting of small random parts, judged one by one.

More parts than the gate has time for: `python -m tests.find.many 500` (DEVELOPERS.md).
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from tests.find.agreement import disagreements
from tests.find.brute import list_legal, smallest_conflicts
from tests.find.chance import draw_question, draw_target, small_part
from wheelwork.find.conflicts import find_conflict
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


def blames_wrongly(seed: int) -> list[str]:
    """What is wrong with whom the search blames where nothing about the part of a number fits."""
    small = small_part(seed)
    legal = list_legal(small.part, small.plan)
    dice = random.Random(seed)
    faults = []
    for number in range(QUESTIONS):
        question = draw_question(dice, small)
        question = replace(question, targets=(*question.targets, *(draw_target(dice, small) for _ in range(3))))
        smallest = smallest_conflicts(legal, small.plan, question.targets, question.pinned)
        if not smallest:
            continue
        found = find_conflict(question, lambda: True)
        blamed = None if found is None else frozenset(each.target for each in found if each.target is not None)
        if blamed not in smallest or not found:
            faults.append(f"part {seed}, question {number}: blames {found}, {smallest} are the smallest")
    return faults


@pytest.mark.parametrize("seed", range(20))
def test_the_blamed_are_a_smallest_set_of_those_found_by_trying_all(seed: int) -> None:
    assert blames_wrongly(seed) == []


@pytest.mark.parametrize("seed", range(40))
def test_an_answer_is_that_of_listing_and_judging_all(seed: int) -> None:
    assert faults_of(seed) == []
