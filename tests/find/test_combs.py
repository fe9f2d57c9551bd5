"""Combs: where a shared clock would have to stand for each of two wishes, against a plain double loop."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from wheelwork.find.combs import MOST_TEETH, find_combs, nearest_pair
from wheelwork.find.question import Blame, Question
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Target
from wheelwork.plan.reading import read_plan

MHZ = 1_000_000
BOTH = (Blame(target=0), Blame(target=1))


def sheet(**changes: Any) -> dict[str, Any]:
    """One crystal, one PLL, two taps."""
    return {
        "format": "wheelwork-part/1",
        "name": "Two taps",
        "core": {"clock": "core"},
        "core_voltage": {"full": {"volts": "1.2 V"}},
        "oscillator": {
            "crystal": {"frequency": "3 MHz .. 38 MHz"},
            "rc": {"frequency": "11 MHz", "tolerance": "±2 %"},
        },
        "selector": {"core_source": {"inputs": ["rc", "core_tap"]}},
        "pll": {
            "main": {
                "input": "crystal",
                "reference_divider": "1..6",
                "feedback": "10..72",
                "phase_detector": "1.4 MHz .. 11 MHz",
                "vco": "84 MHz .. 276 MHz",
                **changes,
            }
        },
        "divider": {
            "core_tap": {"input": "main", "ratios": "2..9"},
            "link_tap": {"input": "main", "ratios": "2..9"},
            "core": {"input": "core_source", "ratios": [1], "limits": "up to 58 MHz"},
        },
        "load": {"link": {"input": "link_tap", "limits": "48 MHz ± 0.25 %"}},
    }


def question(targets: tuple[Target, ...], pinned: tuple[str, ...] = ("core_source",), **changes: Any) -> Question:
    part, problems = read_sheet_json(sheet(**changes))
    assert part is not None, problems
    raw = {
        "in_use": ["link"],
        "board": {"crystal": {"frequency": "8 MHz", "tolerance": "±30 ppm"}},
        "set": {"core_source": "core_tap"},
    }
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    return Question(part=part, plan=plan, targets=targets, pinned=pinned)


def core_at(megahertz: int) -> Target:
    return Target("core", Fraction(megahertz * MHZ))


LINK = Target("link", Fraction(48 * MHZ), Fraction(1, 400))


def test_the_teeth_stand_where_each_wish_alone_could_be_met() -> None:
    """By hand: 116 MHz is 4 * 29, 232 MHz 8 * 29; 174 MHz would be 2 * 87, and 72 is the most. 48 MHz times 2 to 5."""
    combs = find_combs(question((core_at(58), LINK)), BOTH)
    assert combs is not None
    assert combs.clock == "main"
    assert combs.window is not None
    assert (combs.window.lowest, combs.window.highest) == (84 * MHZ, 276 * MHZ)
    assert combs.teeth[0] == (116 * MHZ, 232 * MHZ)
    assert {96 * MHZ, 144 * MHZ, 192 * MHZ, 240 * MHZ} <= set(combs.teeth[1])
    assert combs.selectors == ()


def test_the_nearest_pair_is_told_by_share() -> None:
    combs = find_combs(question((core_at(58), Target("link", Fraction(48 * MHZ), Fraction(1, 10_000)))), BOTH)
    assert combs is not None
    assert nearest_pair(combs) == (232 * MHZ, 240 * MHZ)


@pytest.mark.parametrize("seed", range(60))
def test_the_teeth_are_those_of_a_plain_double_loop(seed: int) -> None:
    dice = random.Random(seed)
    fraction_of = dice.choice([1, 1, 2, 3])
    within = dice.choice([None, Fraction(1, 200), Fraction(1, 1000)])
    targets = (Target("core", Fraction(dice.randint(10, 58) * MHZ), within), LINK)
    feedback = dice.choice(["10..40", "10..72 step 3", [12, 29, 30, 31]])
    asked = question(targets, fraction_of=fraction_of, feedback=feedback)
    low, high = 1 - Fraction(30, MHZ), 1 + Fraction(30, MHZ)

    def meets(target: Target, frequency: Fraction) -> bool:
        if target.within is None:
            return frequency == target.frequency
        wanted = target.frequency or Fraction(0)
        return wanted * (1 - target.within) <= frequency * low and frequency * high <= wanted * (1 + target.within)

    expected: list[set[Fraction]] = [set(), set()]
    for divider in range(1, 7):
        for steps in range(10 * fraction_of, 73 * fraction_of):
            detector = Fraction(8 * MHZ, divider)
            vco = detector * steps / fraction_of
            offered = steps // fraction_of in asked.part.nodes["main"].feedback  # type: ignore[attr-defined]
            inside = 1_400_000 <= detector <= 11 * MHZ and 84 * MHZ <= vco <= 276 * MHZ
            for comb, target in zip(expected, targets, strict=True):
                if offered and inside and any(meets(target, vco / ratio) for ratio in range(2, 10)):
                    comb.add(vco)
    combs = find_combs(asked, BOTH)
    if expected[0] & expected[1] or not all(expected) or max(map(len, expected)) > MOST_TEETH:
        assert combs is None
    else:
        assert combs is not None
        assert combs.teeth == tuple(tuple(sorted(comb)) for comb in expected)


def test_without_a_shared_clock_there_are_no_combs() -> None:
    asked = question((core_at(58), LINK))
    on_rc = replace(asked, plan=asked.plan.with_settings({"core_source": "rc"}))
    assert find_combs(on_rc, BOTH) is None


def test_one_wish_alone_makes_no_combs() -> None:
    assert find_combs(question((core_at(58), LINK)), BOTH[:1]) is None


def test_a_comb_too_fine_to_draw_is_not_drawn() -> None:
    assert (
        find_combs(question((Target("core", Fraction(58 * MHZ), Fraction(1, 10)), LINK), fraction_of=4096), BOTH)
        is None
    )


def test_a_selector_that_is_not_pinned_is_named() -> None:
    combs = find_combs(question((core_at(58), LINK), pinned=()), BOTH)
    assert combs is not None
    assert combs.selectors == ("core_source",)


def test_below_a_divider_the_teeth_are_its_own_clocks() -> None:
    """By hand: 2 MHz times 2 or 3 is 4 or 6 MHz, both of which 12 MHz over 1, 2, 3 offers; 12 MHz times 1."""
    part, problems = read_sheet_json(
        {
            "format": "wheelwork-part/1",
            "name": "Buses",
            "core": {"clock": "core"},
            "core_voltage": {"full": {"volts": "1.2 V"}},
            "oscillator": {"rc": {"frequency": "12 MHz"}},
            "divider": {
                "core": {"input": "rc", "ratios": [1, 2, 3]},
                "bus": {"input": "core", "ratios": [2, 3]},
                "port": {"input": "core", "ratios": [1]},
            },
        }
    )
    assert part is not None, problems
    plan, _ = read_plan({"keep_running": ["bus", "port"]}, part)
    assert plan is not None
    targets = (Target("bus", Fraction(2 * MHZ)), Target("port", Fraction(12 * MHZ)))
    combs = find_combs(Question(part=part, plan=plan, targets=targets), BOTH)
    assert combs is not None
    assert combs.clock == "core"
    assert combs.teeth == ((4 * MHZ, 6 * MHZ), (12 * MHZ,))


def test_the_window_of_a_load_in_use_is_a_comb_too() -> None:
    """By hand: the link has to stand at 48 MHz ± 0.25 % whether or not a target says so."""
    asked = question((core_at(58), LINK))
    alone = replace(asked, targets=(core_at(58),))
    combs, both = find_combs(alone, BOTH[:1], "link"), find_combs(asked, BOTH)
    assert combs is not None
    assert both is not None
    assert combs.teeth == both.teeth
    assert (combs.beside, both.beside) == ("link", None)


def test_ways_without_number_are_left_alone() -> None:
    wide = question(
        (core_at(58), LINK), reference_divider="1..8000", feedback="10..16000", phase_detector="1 Hz .. 11 MHz"
    )
    assert find_combs(wide, BOTH) is None
