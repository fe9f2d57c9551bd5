"""Who is to blame where nothing fits: against every subset tried, and against known answers.

The problems in tests/cases/find are invented; all their smallest conflicts were listed by another program
(tests/cases/README.md). The random ones are held to a listing of every setting, judged one by one.
"""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.find.test_counting import all_settings, small_sheet
from wheelwork.clocks.propagate import find_way, unfitted
from wheelwork.find.conflicts import (
    Chosen,
    find_conflict,
    find_rest_to_leave,
    is_hopeless,
    smallest_conflict,
    smallest_hitting_set,
)
from wheelwork.find.question import Blame, Question
from wheelwork.find.tables import Undecided
from wheelwork.find.verdict import does_one_fit
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Plan, Target
from wheelwork.plan.reading import read_plan

CASES = Path(__file__).parent.parent / "cases" / "find"
KNOWN = [path for path in sorted(CASES.glob("*.json")) if json.loads(path.read_text())["expected"]["conflict"]]
MEGA = 1_000_000


@pytest.mark.parametrize("path", KNOWN, ids=lambda path: path.stem)
def test_the_conflict_is_one_of_the_known_smallest(path: Path) -> None:
    problem = json.loads(path.read_text())
    part, problems = read_sheet_json(problem["part"])
    assert part is not None, problems
    plan, problems = read_plan({**problem["plan"], "target": problem["targets"]}, part)
    assert plan is not None, problems
    found = find_conflict(
        Question(part=part, plan=plan, targets=plan.targets, pinned=tuple(problem["pinned"])), lambda: True
    )
    assert found, "where no target is to blame, a pin or a load is"
    assert [blame.target for blame in found if blame.target is not None] in problem["expected"]["conflict"]


def test_without_time_nobody_is_blamed() -> None:
    part, plan = small_part(random.Random(3), [])
    question = Question(part=part, plan=plan, targets=(Target("core", at_least=Fraction(10**9)),))
    assert find_conflict(question, lambda: False) is None


def small_part(dice: random.Random, in_use: list[str], supply: str = "3.0 V") -> tuple[Part, Plan]:
    part, problems = read_sheet_json(small_sheet(dice))
    assert part is not None, problems
    board = {"crystal": {"frequency": "8 MHz", "tolerance": "±50 ppm"}} if dice.random() < 0.6 else {}
    plan, problems = read_plan({"in_use": in_use, "supply": supply, "board": board}, part)
    assert plan is not None, problems
    return part, plan


def random_target(dice: random.Random, nodes: list[str]) -> Target:
    wanted = Fraction(dice.choice([2, 3, 4, 6, 8, 9, 10, 12, 15, 16, 18, 20, 24, 36, 48]) * MEGA)
    kind = dice.choice(["exactly", "within", "at least", "at most"])
    node = dice.choice(nodes)
    match kind:
        case "exactly":
            return Target(node, wanted)
        case "within":
            return Target(node, wanted, dice.choice([Fraction(1, 1000), Fraction(3, 100)]))
        case "at least":
            return Target(node, at_least=wanted)
    return Target(node, at_most=wanted)


def is_met(target: Target, judged: Judgement) -> bool:
    clock = judged.clocks.get(target.node)
    if clock is None:
        return False
    if target.at_least is not None and clock.nominal < target.at_least:
        return False
    if target.at_most is not None and clock.nominal > target.at_most:
        return False
    if target.frequency is None:
        return True
    if target.within is None:
        return clock.nominal == target.frequency
    low, high = target.frequency * (1 - target.within), target.frequency * (1 + target.within)
    return low <= clock.lowest and clock.highest <= high


def held_together(part: Part, plan: Plan, targets: list[Target], pinned: list[str]) -> set[tuple[Chosen, Chosen]]:
    """For every legal setting: which targets it meets and which pins it keeps."""
    found = set()
    kept = {**plan.complete(part), "core_voltage": plan.core_voltage}
    for chosen in all_settings(part):
        settings = {key: value for key, value in chosen.items() if key != "core_voltage"}
        tried = replace(plan.with_settings(settings), core_voltage=chosen["core_voltage"])
        if unfitted(part, tried):
            continue
        judged = reckon(part, tried)
        if judged.legal:
            met = frozenset(n for n, target in enumerate(targets) if is_met(target, judged))
            runs = {"core_voltage", *find_way(part, tried, tried.complete(part)).order}
            bound = {n: key for n, key in enumerate(pinned) if key.partition(".")[0] in runs}
            held = frozenset(n for n, key in enumerate(pinned) if n not in bound or chosen[key] == kept[key])
            found.add((met, held))
    return found


def smallest_size(count: int, fitting: Iterable[Chosen]) -> int:
    """The size of a smallest set that no fitting set holds, every set tried."""
    fits = list(fitting)
    return next(
        size
        for size in range(count + 1)
        for tried in itertools.combinations(range(count), size)
        if not any(set(tried) <= each for each in fits)
    )


@pytest.mark.parametrize("seed", range(20))
def test_the_blamed_are_as_few_as_in_a_listing_of_all(seed: int) -> None:
    dice = random.Random(seed)
    part, plan = small_part(dice, ["port", "timer"])
    targets = [random_target(dice, ["core", "bus", "port", "kernel", "source"]) for _ in range(dice.randint(2, 6))]
    pinned = dice.sample(["core_voltage", "source", "bus", "core", "pll.feedback", "port_source"], dice.randint(0, 3))
    question = Question(part=part, plan=plan, targets=tuple(targets), pinned=tuple(pinned))
    found = find_conflict(question, lambda: True)
    together = held_together(part, plan, targets, pinned)
    all_held = frozenset(range(len(pinned)))
    with_pins = [met for met, held in together if held == all_held]
    assert found is not None
    if frozenset(range(len(targets))) in with_pins:
        return
    if with_pins:
        blamed = frozenset(blame.target for blame in found if blame.target is not None)
        assert not any(blamed <= met for met in with_pins)
        assert len(found) == len(blamed) == smallest_size(len(targets), with_pins)
    elif together:
        names = frozenset(pinned.index(blame.pinned) for blame in found if blame.pinned is not None)
        assert not any(names <= held for _, held in together)
        assert len(found) == len(names) == smallest_size(len(pinned), (held for _, held in together))
    else:
        assert all(blame.load for blame in found)


@pytest.mark.parametrize("seed", range(300))
def test_halving_and_hitting_find_what_trying_every_set_finds(seed: int) -> None:
    dice = random.Random(seed)
    count = dice.randint(1, 8)
    fits = [frozenset(n for n in range(count) if dice.random() < 0.6) for _ in range(dice.randint(1, 12))]
    fits = [each for each in fits if len(each) < count]
    asked: list[Chosen] = []

    def ask(chosen: Chosen) -> Chosen | None:
        asked.append(chosen)
        return next((each if seed % 2 else chosen for each in fits if chosen <= each), None)

    found = smallest_conflict(count, ask)
    assert not any(set(found) <= each for each in fits)
    assert len(found) == smallest_size(count, fits)
    assert len(asked) == len(set(asked)), "what is known is not asked again"


def test_a_conflict_of_two_among_forty_takes_few_questions() -> None:
    asked = []

    def ask(chosen: Chosen) -> Chosen | None:
        asked.append(chosen)
        return None if {7, 31} <= chosen else chosen

    assert smallest_conflict(40, ask) == (7, 31)
    assert len(asked) < 30


def test_an_open_question_about_a_set_is_never_guessed() -> None:
    def ask(chosen: Chosen) -> Chosen | None:
        raise Undecided

    with pytest.raises(Undecided):
        smallest_conflict(3, ask)


@pytest.mark.parametrize("seed", range(100))
def test_a_smallest_hitting_set_is_that_of_trying_every_set(seed: int) -> None:
    dice = random.Random(seed)
    sets = [frozenset(dice.sample(range(7), dice.randint(1, 4))) for _ in range(dice.randint(0, 8))]
    sizes = (
        size
        for size in range(8)
        for tried in itertools.combinations(range(7), size)
        if all(each.intersection(tried) for each in sets)
    )
    smallest = next(sizes)
    found = smallest_hitting_set(sets, 7)
    assert found is not None
    assert len(found) == smallest
    assert all(each & found for each in sets)
    assert smallest_hitting_set(sets, smallest - 1) is None


def test_what_no_set_can_hit_is_told() -> None:
    assert smallest_hitting_set([frozenset()], 5) is None


def test_a_pin_is_blamed_where_no_target_is() -> None:
    part, plan = small_part(random.Random(0), [])
    plan = replace(plan.with_settings({"source": "crystal"}), fitted={}, held=("source",))
    question = Question(part=part, plan=plan, targets=(Target("core", at_least=Fraction(MEGA)),), pinned=("core",))
    assert find_conflict(question, lambda: True) == (Blame(pinned="source"),)


def test_a_load_is_blamed_where_neither_target_nor_pin_is() -> None:
    sheet = small_sheet(random.Random(0))
    sheet["load"]["port"]["limits"] = "from 900 MHz"
    part, _ = read_sheet_json(sheet)
    assert part is not None
    plan, _ = read_plan({"in_use": ["timer", "port"]}, part)
    assert plan is not None
    question = Question(part=part, plan=plan, targets=(Target("core", at_least=Fraction(MEGA)),), pinned=("core",))
    assert find_conflict(question, lambda: True) == (Blame(load="port"),)


@pytest.mark.parametrize(("in_use", "named"), [(["port"], "port"), (["port", "wheel"], "wheel"), ([], "core")])
def test_what_always_runs_is_named_where_the_supply_leaves_nothing(in_use: list[str], named: str) -> None:
    sheet = small_sheet(random.Random(0))
    sheet["load"]["wheel"] = {"input": "core"}
    part, _ = read_sheet_json({**sheet, "supply": {"lowest": "5 V"}})
    assert part is not None
    plan, _ = read_plan({"in_use": in_use, "supply": "3.0 V"}, part)
    assert plan is not None
    question = Question(part=part, plan=plan)
    assert find_conflict(question, lambda: True) == (Blame(load=named),)
    assert is_hopeless(question, lambda: True)


def test_a_plan_that_can_be_mended_is_not_hopeless() -> None:
    part, plan = small_part(random.Random(0), ["port"])
    question = Question(part=part, plan=plan, targets=(Target("core", at_least=Fraction(900 * MEGA)),))
    assert is_hopeless(question, lambda: True) is False
    assert is_hopeless(question, lambda: False) is None


@pytest.mark.parametrize("seed", range(30))
def test_what_is_left_out_is_enough_and_none_too_many(seed: int) -> None:
    dice = random.Random(seed)
    part, plan = small_part(dice, ["port", "timer"])
    targets = tuple(random_target(dice, ["core", "bus", "port", "kernel", "source"]) for _ in range(dice.randint(2, 6)))
    question = Question(part=part, plan=plan, targets=targets)
    left_out = find_rest_to_leave(question, lambda: True)
    if does_one_fit(part, plan, lambda: True, targets) or not does_one_fit(part, plan, lambda: True):
        assert left_out is None
        return
    assert left_out is not None
    kept = [target for number, target in enumerate(targets) if number not in left_out]
    assert does_one_fit(part, plan, lambda: True, kept)
    assert not any(does_one_fit(part, plan, lambda: True, [*kept, targets[number]]) for number in left_out)
    assert find_rest_to_leave(question, lambda: False) is None


def test_a_search_for_hitting_sets_ends_when_it_is_told_to() -> None:
    """Sets so many that every choice of six among thirty would have to be tried."""
    dice = random.Random(1)
    sets = [frozenset(dice.sample(range(30), 6)) for _ in range(300)]
    left = 1000

    def tick() -> None:
        nonlocal left
        left -= 1
        if left < 0:
            raise Undecided

    with pytest.raises(Undecided):
        smallest_hitting_set(sets, 12, tick)
