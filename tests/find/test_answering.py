"""The whole answer: what it holds where something fits, where nothing does, and where time ran out."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.find.test_combs import BOTH, LINK, core_at, question
from tests.find.test_openings import plain, two_wishes
from wheelwork.find.answering import HOPELESS, NOT_BLAMED, answer_fully
from wheelwork.find.misses import nearest_miss
from wheelwork.find.nearest import find_in_the_way
from wheelwork.find.question import Blame, Question
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Target
from wheelwork.plan.reading import read_plan

CASES = Path(__file__).parent.parent / "cases" / "find"


def test_what_fits_needs_no_explanation() -> None:
    full = answer_fully(question((LINK,)), lambda: True)
    assert full.answer.fits
    assert full.answer.solutions
    assert (full.answer.conflict, full.nearest, full.openings, full.combs, full.crystals) == ((), None, (), None, ())


def test_what_does_not_fit_is_explained() -> None:
    full = answer_fully(two_wishes(), lambda: True)
    assert (full.answer.fits, full.answer.admissible, full.answer.complete) == (False, 0, True)
    assert full.answer.conflict == BOTH
    assert full.combs is not None
    assert full.openings
    assert full.nearest is not None
    assert plain(full.nearest.sentence) == (
        "The nearest pair, 232 and 240 MHz, is 3.4 % apart. Together the two allowances bridge 0.25 %."
    )


def test_without_time_nobody_is_blamed() -> None:
    full = answer_fully(two_wishes(), lambda: False)
    assert not full.answer.fits
    assert not full.answer.complete
    assert (full.answer.conflict, full.openings, full.nearest) == ((), (), None)


def test_a_proof_whose_blame_took_too_long_says_so() -> None:
    """Time ends just after the proof: as soon as the blame has asked for it a few times."""
    asked = two_wishes()
    left = [10**9]

    def still_time() -> bool:
        left[0] -= 1
        return left[0] > 0

    answer_fully(asked, still_time)
    whole = 10**9 - left[0]
    outcomes = set()
    for share in range(1, 40):
        left[0] = whole * share // 40
        full = answer_fully(asked, still_time)
        outcomes.add((full.answer.fits, bool(full.answer.conflict), NOT_BLAMED in full.answer.remarks))
        assert not full.answer.conflict or full.answer.conflict == BOTH
    assert (False, True, False) in outcomes
    assert outcomes <= {(None, False, False), (False, False, True), (False, True, False)}


def test_crystals_are_tried_where_an_oscillator_is_left_open() -> None:
    full = answer_fully(two_wishes(), lambda: True, crystal="crystal")
    assert full.crystals
    assert {choice.admissible for choice in full.crystals} == {0}, "58 / 48 is no ratio of two taps up to 9"


def test_what_nobody_is_to_blame_for_is_called_hopeless() -> None:
    asked = question((LINK,))
    part = replace(asked.part, supply=replace(asked.part.supply, lowest=Fraction(5)))
    full = answer_fully(replace(asked, part=part, plan=replace(asked.plan, supply=Fraction(3))), lambda: True)
    assert HOPELESS in full.answer.remarks
    assert full.answer.conflict == (Blame(load="link"),)


def test_the_nearest_frequency_is_told_where_no_clock_is_shared() -> None:
    """By hand: an 8 MHz crystal over 1 to 6 times 10 to 72, over 2 to 9, comes no nearer to 57.9 MHz than 58 MHz below
    the core's limit: 57.9 = 8 * 7.2375, and n / d with d up to 54 nearest to it is 29 / 4.
    """
    asked = replace(two_wishes(link_in_use=False), targets=(Target("core", Fraction(57_900_000)),))
    miss = nearest_miss(asked, (Blame(target=0),), lambda: True)
    assert miss is not None
    wanted = Fraction("7.2375")
    reachable = {
        Fraction(n, d * tap)
        for d in range(1, 6)
        for n in range(10, 73)
        for tap in range(2, 10)
        if 84 <= Fraction(8 * n, d) <= 276 and Fraction(8 * n, d * tap) <= 58
    }
    nearest = min(reachable, key=lambda ratio: abs(ratio - wanted))
    assert nearest == Fraction(29, 4)
    assert plain(miss.sentence) == "Core clock comes nearest with 58 MHz, 0.173 % above 57.9 MHz."


def test_a_source_that_is_off_by_too_much_is_named() -> None:
    asked = replace(two_wishes((), False), targets=(Target("core", Fraction(11_000_000), Fraction(1, 1000)),))
    on_rc = replace(asked, plan=asked.plan.with_settings({"core_source": "rc"}), pinned=("core_source",))
    miss = nearest_miss(on_rc, (Blame(target=0),), lambda: True)
    assert miss is not None
    assert plain(miss.sentence) == "Core clock can stand at 11 MHz, but rc, ±2 %, is off by too much."


def test_a_target_on_which_nothing_hangs_is_said_not_to_run() -> None:
    asked = replace(two_wishes(link_in_use=False), targets=(LINK,))
    miss = nearest_miss(asked, (Blame(target=0),), lambda: True)
    assert miss is not None
    assert miss.sentence == "Serial link does not run: nothing in use hangs on it."


def test_two_exact_wishes_allow_no_error() -> None:
    asked = replace(two_wishes(), targets=(core_at(58), Target("link", Fraction(48_000_000))))
    miss = nearest_miss(asked, BOTH, lambda: True)
    assert miss is not None
    assert miss.sentence.endswith("Neither allows any error.")


@pytest.mark.parametrize("name", ["a-nothing-fits", "b-nothing-fits", "s01", "s14", "s18"])
def test_every_case_under_which_nothing_fits_is_explained(name: str) -> None:
    problem = json.loads((CASES / f"{name}.json").read_text())
    part, problems = read_sheet_json(problem["part"])
    assert part is not None, problems
    plan, problems = read_plan({**problem["plan"], "target": problem["targets"]}, part)
    assert plan is not None, problems
    asked = Question(part=part, plan=plan, targets=plan.targets, pinned=tuple(problem["pinned"]))
    full = answer_fully(asked, lambda: True)
    assert [blame.target for blame in full.answer.conflict] in problem["expected"]["conflict"]
    assert full.nearest is not None
    others = [
        conflict for conflict in problem["expected"]["conflict"] if conflict != [b.target for b in full.answer.conflict]
    ]
    if others:
        assert any("something fits without" in opening.detail for opening in full.openings), "another conflict stands"
    else:
        assert any(opening.admissible for opening in full.openings)


def test_a_load_whose_window_stands_in_the_way_is_named_and_combed() -> None:
    """By hand: with the link in use at 48 MHz ± 0.25 % the core comes to 48 MHz at most (test_openings.py)."""
    full = answer_fully(question((core_at(58), LINK)), lambda: True)
    assert full.answer.conflict == BOTH[:1]
    assert full.combs is None
    assert full.combs_beside is not None
    assert full.combs_beside.beside == "link"
    assert full.nearest is not None
    assert plain(full.nearest.sentence) == (
        "core comes nearest with 48 MHz, 17.2 % below 58 MHz. "
        "What stands in the way is link, of which the part sheet asks 48 MHz ±0.25 %."
    )


def test_nothing_stands_in_the_way_of_what_no_part_can_do() -> None:
    asked = question((core_at(59), LINK))
    assert find_in_the_way(asked, BOTH[:1], lambda: True) is None
    assert find_in_the_way(asked, BOTH, lambda: True) is None
    assert find_in_the_way(asked, BOTH[:1], lambda: False) is None
