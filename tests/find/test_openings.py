"""What opens a question again: each opening's count, the nearest frequency, the smallest share, against listing all.

The parts are small and random (chance.py); every setting of each is judged one by one (brute.py).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.find.brute import Setting, fitting, list_legal
from tests.find.chance import draw_question, small_part
from tests.find.test_combs import BOTH, LINK, core_at, question
from wheelwork.find.conflicts import find_conflict, pins_of
from wheelwork.find.crystals import STANDARD_CRYSTALS
from wheelwork.find.nearest import Nearest, edges_of, find_nearest
from wheelwork.find.openings import find_openings
from wheelwork.find.question import Blame, Opening, Question
from wheelwork.find.shares import RoundShare
from wheelwork.find.verdict import does_one_fit
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Target


def shut_questions(seeds: range) -> Iterator[tuple[int, Question]]:
    """Questions with targets under which nothing fits."""
    for seed in seeds:
        small = small_part(seed)
        question = draw_question(random.Random(seed), small)
        if question.targets and not listed(question):
            yield seed, question


def listed(question: Question) -> list[Setting]:
    """Every setting that fits."""
    legal = list_legal(question.part, question.plan)
    return fitting(legal, question.plan, question.targets, pins_of(question))


def disagreements(question: Question) -> Iterator[str]:
    """Where the openings of a question do not say what listing all says."""
    conflict = find_conflict(question, lambda: True)
    assert conflict is not None
    near = find_nearest(question, conflict, lambda: True)
    openings = find_openings(question, conflict, lambda: True, near)
    for opening in openings:
        found = listed(opening.question)
        if opening.admissible is None:
            assert question.part.rules, "only rules are not counted"
            if bool(found) != ("some fit" in opening.detail):
                yield f"{opening.act}: not counted, {len(found)} in truth"
        elif opening.admissible != len(found):
            yield f"{opening.act}: {opening.admissible}, {len(found)} in truth"
    for each in near:
        yield from _wrong_sides(question, each)
        yield from _wrong_moves(question, each, [o for o in openings if _is_of(o, each)])


def _is_of(opening: Opening, near: Nearest) -> bool:
    targets = opening.question.targets
    return opening.kind in ("set", "widen") and targets[near.target] != near.wanted


def _others(question: Question, near: Nearest) -> Question:
    return replace(question, targets=tuple(t for n, t in enumerate(question.targets) if n != near.target))


def _wrong_sides(question: Question, near: Nearest) -> Iterator[str]:
    if not near.opens or near.window_aside or near.idle:
        return
    running = [
        s.judged.clocks[near.wanted.node].nominal
        for s in listed(_others(question, near))
        if near.wanted.node in s.judged.clocks
    ]
    low, high = edges_of(near.wanted)
    below = max((f for f in running if low is not None and f <= low), default=None)
    above = min((f for f in running if high is not None and f >= high), default=None)
    told = [None if side.judged is None else near.frequency(side.judged) for side in (near.below, near.above)]
    if told != [below, above]:
        yield f"target {near.target}: {told} told, {[below, above]} in truth"


def _wrong_moves(question: Question, near: Nearest, openings: list[Opening]) -> Iterator[str]:
    moves = [o for o in openings if o.kind == "set"]
    widened = [o for o in openings if o.kind == "widen"]
    if not near.opens:
        return
    found = listed(_others(question, near))
    clocks = [s.judged.clocks[near.wanted.node] for s in found if near.wanted.node in s.judged.clocks]
    if near.wanted.frequency is not None:
        wanted = near.wanted.frequency
        needed = min((max(1 - c.lowest / wanted, c.highest / wanted - 1) for c in clocks), default=None)
        right = None if needed is None or RoundShare.at_least(needed).value >= 1 else RoundShare.at_least(needed).value
        told = [o.question.targets[near.target].within for o in widened if o.admissible != 0]
        if told != ([] if right is None else [right]):
            yield f"target {near.target}: widened to {told}, {right} in truth"
    if near.wanted.within is None:
        low, high = edges_of(near.wanted)
        out = [c.nominal for c in clocks if (low and c.nominal < low) or (high and c.nominal > high)]
        nearest = min((abs(frequency - (low or high or 0)) for frequency in out), default=None)
        moved = [edges_of(o.question.targets[near.target]) for o in moves]
        apart = [abs((new[0] or new[1] or 0) - (low or high or 0)) for new in moved]
        if not near.wanted.at_least and not near.wanted.at_most and apart != ([] if nearest is None else [nearest]):
            yield f"target {near.target}: moved to {moved}, by {nearest} in truth"


@pytest.mark.parametrize("start", range(0, 100, 10))
def test_openings_agree_with_listing_all(start: int) -> None:
    wrong = {seed: list(disagreements(question)) for seed, question in shut_questions(range(start, start + 10))}
    assert not {seed: said for seed, said in wrong.items() if said}


def two_wishes(pinned: tuple[str, ...] = ("core_source",), link_in_use: bool = True) -> Question:
    """The core at 58 MHz, the link at 48 MHz ± 0.25 % on one PLL at 8 MHz; the sheet itself does not limit the link."""
    asked = question((core_at(58), LINK))
    sheet = {**asked.part.written, "load": {"link": {"input": "link_tap", "title": "Serial link"}}}
    sheet["divider"]["core"]["title"] = "Core clock"
    part, problems = read_sheet_json(sheet)
    assert part is not None, problems
    plan = replace(asked.plan, in_use=("link",) if link_in_use else ())
    return Question(part=part, plan=plan, targets=asked.targets, pinned=pinned)


def told(asked: Question, conflict: tuple[Blame, ...]) -> dict[str, str]:
    """What each opening says besides, by its act; spaces that do not break as plain ones."""
    openings = find_openings(asked, conflict, lambda: True)
    return {plain(opening.act): plain(opening.detail) for opening in openings}


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_each_of_two_wishes_is_left_out_moved_and_widened() -> None:
    """By hand: the link at 48 MHz needs a VCO at 96, 144, 192 or 240 MHz, so that the core comes to 48 MHz at most; the
    core at 58 MHz needs 116 or 232 MHz, so that the link comes nearest with 46.4 MHz, 3.33 % and 30 ppm away.
    """
    asked = two_wishes()
    assert find_conflict(asked, lambda: True) == BOTH
    said = told(asked, BOTH)
    assert list(said)[:6] == [
        "Leave serial link out",
        "Leave core clock out",
        "Set core clock to 48 MHz",
        "Set serial link to 46.4 MHz",
        "Widen core clock to ±18 %",
        "Widen serial link to ±3.4 %",
    ]
    assert said["Leave core clock out"] == "it comes nearest with 48 MHz"
    assert said["Set serial link to 46.4 MHz"] == "3.33 % below 48 MHz"
    assert said["Widen serial link to ±3.4 %"] == "±3.3 % would not do"


def test_what_the_sheet_itself_forbids_is_told_with_its_window() -> None:
    """By hand, as above: the tap comes nearest with 46.4 MHz, which is 3.34 % away and past the sheet's 47 MHz."""
    sheet = {**two_wishes().part.written, "selector": {"source": {"inputs": ["rc", "link_tap"]}}}
    sheet["selector"]["core_source"] = {"inputs": ["rc", "core_tap"]}
    sheet["divider"]["link_tap"]["limits"] = "47 MHz .. 49 MHz"
    sheet["load"] = {"timer": {"input": "source"}}
    part, problems = read_sheet_json(sheet)
    assert part is not None, problems
    plan = replace(two_wishes().plan, in_use=("timer",))
    targets = (core_at(58), replace(LINK, node="link_tap"))
    openings = find_openings(
        Question(part=part, plan=plan, targets=targets, pinned=("core_source",)), BOTH, lambda: True
    )
    widened = {plain(o.act): (o.admissible, plain(o.detail)) for o in openings if o.kind == "widen"}
    assert widened["Widen link_tap to ±3.4 %"] == (0, "the part sheet itself asks 47 to 49 MHz of this clock")


def test_a_bound_is_moved_as_a_bound() -> None:
    """By hand, as above: with the link at 48 MHz the core comes to 48 MHz at most."""
    asked = replace(two_wishes(), targets=(Target("core", at_least=Fraction(57_000_000)), LINK))
    said = told(asked, BOTH)
    assert said["Set core clock to at least 48 MHz"] == "15.8 % below 57 MHz"
    assert not [act for act in said if act.startswith("Widen core")]


def test_pins_and_steps_that_open_it_are_told_with_what_they_hold() -> None:
    asked = two_wishes(("core_source", "main.feedback", "core_tap"))
    held = replace(asked.plan.with_settings({"main.feedback": Fraction(29), "core_tap": Fraction(4)}))
    alone = replace(asked, plan=held, targets=(LINK,))
    said = told(alone, (Blame(target=0),))
    assert said["Let the feedback multiplier of main go"] == "now held at ×29"


def test_the_nearest_standard_crystals_that_open_it_are_offered() -> None:
    """By hand: 57.344 MHz is 8.192 MHz * 14 / 2, and no other standard value stands as near to 8 MHz."""
    asked = replace(two_wishes(link_in_use=False), targets=(Target("core", Fraction(57_344_000)),))
    openings = [o for o in find_openings(asked, (Blame(target=0),), lambda: True) if o.kind == "crystal"]
    assert plain(openings[0].act) == "Fit 8.192 MHz"
    assert plain(openings[0].detail) == "crystal, now 8 MHz"
    fitted = [o.question.plan.fitted["crystal"].frequency for o in openings]
    assert set(fitted) <= set(STANDARD_CRYSTALS)
    assert all(o.admissible for o in openings)
    assert all(does_one_fit(o.question.part, o.question.plan, lambda: True, o.question.targets) for o in openings)


def test_a_target_on_which_nothing_hangs_is_put_to_use() -> None:
    asked = replace(two_wishes(link_in_use=False), targets=(LINK,))
    openings = find_openings(asked, (Blame(target=0),), lambda: True)
    used = next(o for o in openings if o.kind == "load")
    assert used.act == "Put serial link to use"
    assert used.admissible
    assert used.question.plan.in_use == ("link",)


def test_a_load_whose_window_is_in_the_way_is_taken_out_of_use() -> None:
    asked = question((core_at(58),))
    openings = {o.act: o.admissible for o in find_openings(asked, (Blame(target=0),), lambda: True)}
    assert openings["Take link out of use"]


def test_without_time_nothing_is_said_to_be_shut() -> None:
    openings = find_openings(two_wishes(), BOTH, lambda: False)
    assert openings
    assert {opening.admissible for opening in openings} == {None}


@pytest.mark.parametrize("figures", range(100, 1000, 7))
def test_a_share_is_rounded_up_to_two_figures(figures: int) -> None:
    share = Fraction(figures, 100_000)
    up = RoundShare.at_least(share).value
    assert up >= share > RoundShare.at_least(share).before().value
    assert (up * 10_000).denominator == 1
    assert RoundShare.above(up).value > up == RoundShare.above(up).before().value
