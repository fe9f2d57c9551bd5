"""Every problem of tests/cases/find against what is known of its answer.

They are invented; their answers were made by another program and, for the largest, by two solvers that agree
(tests/cases/README.md). Nobody knows how many settings fit problem d, nor the least current: there the answer has to be
the best by the core clock and honest about the rest. Whom nobody can satisfy is blamed in test_conflicts.py.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.find.agreement import order_of
from tests.find.known import HIGHEST_CORE, LEAST_CURRENT, NAMES, Known, read_known, within
from wheelwork.find.question import Answer, Preference
from wheelwork.find.search import find_settings
from wheelwork.find.seeking import fits
from wheelwork.find.verdict import does_one_fit
from wheelwork.judge.judgement import reckon
from wheelwork.plan.reading import read_plan

NOT_COUNTED = {"d", "d-nothing-fits"}  # too large: the best and the proof come, the number does not
LIST_ALL = 2000
SECONDS = 60  # a bound on what hangs; alone all of them together take less


def answer_to(known: Known, prefer: Preference, top: int = 1, count: bool = False) -> Answer:
    return find_settings(replace(known.question, prefer=(prefer,), top=top, count=count), within(SECONDS))


@pytest.mark.parametrize("name", [name for name in NAMES if name not in NOT_COUNTED])
def test_the_number_is_the_known_one(name: str) -> None:
    known = read_known(name)
    answer = answer_to(known, HIGHEST_CORE, count=True)
    assert (str(answer.admissible), answer.complete) == (known.expected["admissible"], True)


@pytest.mark.parametrize("name", sorted(NOT_COUNTED))
def test_a_number_that_does_not_come_out_is_no_number(name: str) -> None:
    known = read_known(name)
    answer = find_settings(replace(known.question, prefer=(HIGHEST_CORE,), top=1), within(SECONDS))
    if known.expected["admissible"] == "0":
        assert (answer.fits, answer.complete, answer.admissible, answer.solutions) == (False, True, 0, ())
    else:
        assert answer.fits
        assert answer.complete or answer.remarks
        assert (answer.admissible or 0) >= len(answer.solutions) == 1


@pytest.mark.parametrize("name", [name for name in NAMES if read_known(name).expected["best_core"]])
def test_the_best_by_the_core_clock_is_the_known_one(name: str) -> None:
    known = read_known(name)
    answer = answer_to(known, HIGHEST_CORE)
    assert str(answer.solutions[0].core) == known.expected["best_core"]


@pytest.mark.parametrize("name", [name for name in NAMES if read_known(name).expected["least_current_microampere"]])
def test_the_best_by_current_is_the_known_one(name: str) -> None:
    known = read_known(name)
    answer = answer_to(known, LEAST_CURRENT)
    assert float(answer.solutions[0].current * 10**6) == pytest.approx(
        known.expected["least_current_microampere"], rel=1e-12
    )


@pytest.mark.parametrize("name", [name for name in NAMES if read_known(name).expected.get("groups")])
@pytest.mark.parametrize("prefer", [HIGHEST_CORE, LEAST_CURRENT], ids=str)
def test_alike_settings_are_shown_once_and_none_is_left_out(name: str, prefer: Preference) -> None:
    known = read_known(name)
    answer = answer_to(known, prefer, top=LIST_ALL)
    assert str(len(answer.solutions)) == known.expected["groups"]
    assert str(sum(solution.alike for solution in answer.solutions)) == known.expected["admissible"]


@pytest.mark.parametrize("name", NAMES)
def test_ten_solutions_are_right_by_the_plans_own_reckoning_and_in_order(name: str) -> None:
    known = read_known(name)
    answer = answer_to(known, HIGHEST_CORE, top=10)
    assert answer.fits is (known.expected["admissible"] != "0")
    for solution in answer.solutions:
        judged = reckon(known.question.part, solution.plan)
        assert fits(judged, known.question.targets)
        assert judged.current.typical == solution.current
        assert {key: judged.settings[key] for key in solution.settings} == solution.settings
        assert {key.partition(".")[0] for key in solution.settings} <= set(judged.way.order)
    kinds = [prefer.kind for prefer in order_of(replace(known.question, prefer=(HIGHEST_CORE,)))]
    assert kinds == ["highest", "least current"]
    order = [(-solution.core, solution.current) for solution in answer.solutions]
    assert order == sorted(order) or not answer.complete


@pytest.mark.parametrize("name", [name for name in NAMES if read_known(name).expected["conflict"]])
def test_where_nothing_fits_that_is_proven(name: str) -> None:
    question = read_known(name).question
    assert does_one_fit(question.part, question.plan, within(SECONDS), question.targets, question.pinned) is False


@pytest.mark.parametrize("name", [name for name in NAMES if "a_highest_core" in read_known(name).expected])
def test_the_known_settings_are_found_right_by_the_judgement(name: str) -> None:
    """Held to the other program's settings, so that neither the problem nor its answer was read wrongly."""
    known = read_known(name)
    for key in ("a_highest_core", "a_least_current"):
        setting = known.expected.get(key)
        if setting is None:
            continue
        raw = {"core_voltage": setting["core_voltage"], "set": setting["set"]}
        given, problems = read_plan(raw, known.question.part)
        assert given is not None, problems
        plan = replace(known.question.plan, core_voltage=given.core_voltage, settings=given.settings)
        judged = reckon(known.question.part, plan)
        assert fits(judged, known.question.targets)
        if key == "a_highest_core":
            assert str(judged.clocks["core"].nominal) == known.expected["best_core"]
        else:
            current = float(judged.current.typical * 10**6)
            assert current == pytest.approx(known.expected["least_current_microampere"], rel=1e-12)
