"""A search that is stopped: what it says is true, and what it does not know it does not say. Two at once do not mix."""

from __future__ import annotations

import itertools
import random
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial

import pytest

from tests.find.agreement import ranks_of
from tests.find.brute import fitting, list_legal, name_of
from tests.find.chance import draw_question, small_part
from tests.find.known import HIGHEST_CORE, LEAST_CURRENT, read_known
from wheelwork.find.conflicts import find_conflict
from wheelwork.find.question import Answer, Progress, Question
from wheelwork.find.search import find_settings
from wheelwork.find.seeking import fits
from wheelwork.judge.judgement import reckon
from wheelwork.plan.plan import Target


class Asked:
    """Says that there is still time for so many calls; counts them."""

    def __init__(self, calls: int | None = None) -> None:
        self.left, self.calls = calls, 0

    def __call__(self) -> bool:
        self.calls += 1
        return self.left is None or self.calls <= self.left


def stops(question: Question) -> list[int]:
    """After how many calls to stop a search: at once, soon, and spread over all the calls that it makes."""
    asked = Asked()
    find_settings(question, asked)
    return sorted({0, 1, 2, 3, *(asked.calls * part // 12 for part in range(1, 12)), asked.calls - 1})


@pytest.mark.parametrize("seed", range(12))
def test_what_a_stopped_search_says_is_true(seed: int) -> None:
    small = small_part(seed)
    legal = list_legal(small.part, small.plan)
    question = draw_question(random.Random(seed), small)
    found = {each.name: each for each in fitting(legal, small.plan, question.targets, question.pinned)}
    whole = find_settings(question, lambda: True)
    for calls in stops(question):
        answer = find_settings(question, Asked(calls))
        assert answer.conflict == ()
        assert answer.fits in (None, bool(found))
        names = [name_of(each.core_voltage, each.settings) for each in answer.solutions]
        assert set(names) <= set(found)
        ranks = [ranks_of(found[name], question) for name in names]
        assert ranks == sorted(ranks)
        if answer.complete:
            assert answer.searched in (None, whole.searched)
            assert replace(answer, searched=whole.searched) == whole
        elif answer.admissible is not None:
            assert len(names) <= answer.admissible <= len(found)


@pytest.mark.parametrize("name", ["a", "b", "c-nothing-fits"])
def test_a_stopped_search_never_claims_a_best_that_is_none(name: str) -> None:
    """The best by the core clock is known (tests/cases); only an answer that remarks on it may show another first."""
    known = read_known(name)
    question = replace(known.question, prefer=(HIGHEST_CORE,), top=3)
    for calls in stops(question):
        answer = find_settings(question, Asked(calls))
        assert answer.conflict == ()
        assert answer.fits in (None, known.expected["admissible"] != "0")
        assert int(known.expected["admissible"]) >= (answer.admissible or 0)
        first = str(answer.solutions[0].core) if answer.solutions else None
        assert first in (None, known.expected["best_core"]) or not answer.complete
        assert first in (None, known.expected["best_core"]) or answer.remarks


def test_a_stopped_search_for_blame_blames_nobody_or_the_right_ones() -> None:
    known = read_known("a-nothing-fits")
    asked = Asked()
    assert find_conflict(known.question, asked)
    decided = set()
    for calls in {0, 1, 2, *(asked.calls * part // 20 for part in range(1, 20)), asked.calls}:
        found = find_conflict(known.question, Asked(calls))
        decided.add(found is not None)
        assert found is None or [blame.target for blame in found] in known.expected["conflict"]
    assert decided == {True, False}


def test_without_any_time_nothing_is_proven() -> None:
    """What can be had without a search may be shown, such as one setting that fits; it is right all the same."""
    question = read_known("b").question
    answer = find_settings(question, lambda: False)
    assert (answer.complete, answer.conflict, answer.rank) == (False, (), None)
    assert answer.fits in (None, True)
    assert (answer.fits is True) is bool(answer.solutions)
    assert len(answer.solutions) <= 1
    for solution in answer.solutions:
        assert fits(reckon(question.part, solution.plan), question.targets)


def test_a_search_asks_for_the_time_often_enough_to_be_stopped() -> None:
    """More than a hundred times: were the calls spread evenly, a search of an hour would stop within a minute."""
    asked = Asked()
    find_settings(replace(read_known("c").question, prefer=(LEAST_CURRENT,)), asked)
    assert asked.calls > 100


def test_progress_never_runs_backwards_or_past_its_end() -> None:
    told: list[Progress] = []
    answer = find_settings(replace(read_known("b").question, prefer=(HIGHEST_CORE,)), lambda: True, told.append)
    assert answer.admissible is not None
    assert told
    for before, after in itertools.pairwise(told):
        assert after.covered >= before.covered
        assert after.fit >= before.fit
    for each in told:
        assert each.of is None or each.covered <= each.of
        assert each.fit <= answer.admissible


def at_once(searches: Sequence[Callable[[], Answer]]) -> list[Answer | None]:
    """The answers of searches run in threads side by side."""
    answers: list[Answer | None] = [None] * len(searches)
    start = threading.Barrier(len(searches))

    def run(place: int) -> None:
        start.wait()
        answers[place] = searches[place]()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(searches))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def test_searches_at_once_answer_as_they_do_alone() -> None:
    questions = [
        replace(read_known(name).question, prefer=(prefer,), top=5)
        for name in ("a", "s16", "b", "a")
        for prefer in (HIGHEST_CORE, LEAST_CURRENT)
    ]
    alone = [find_settings(question, lambda: True) for question in questions]
    searches = [partial(find_settings, question, lambda: True) for question in questions]
    assert at_once(searches) == [*alone]


def test_a_search_that_is_stopped_leaves_the_next_one_whole() -> None:
    question = replace(read_known("a").question, prefer=(LEAST_CURRENT,))
    whole = find_settings(question, lambda: True)
    for calls in (0, 5, 50, 500):
        find_settings(question, Asked(calls))
        assert find_settings(question, lambda: True) == whole


def test_the_same_question_has_the_same_answer() -> None:
    question = replace(read_known("s17").question, prefer=(HIGHEST_CORE,), top=50)
    assert find_settings(question, lambda: True) == find_settings(question, lambda: True)


def test_a_thousand_targets_are_answered() -> None:
    """A thousand times the same wish is one wish; one that excludes it is found among them."""
    question = read_known("s14").question
    wish = Target("core", at_least=Fraction(1))
    many = replace(question, targets=(wish,) * 1000, top=1)
    assert (
        find_settings(many, lambda: True).admissible
        == find_settings(replace(question, targets=(wish,)), lambda: True).admissible
    )
    excluded = replace(many, targets=(*many.targets, Target("core", at_most=Fraction(1, 2))))
    assert find_settings(excluded, lambda: True).fits is False
