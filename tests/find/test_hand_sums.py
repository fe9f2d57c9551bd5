"""Numbers of settings that can be summed by hand: clocks that meet again, nodes that stop, factors beyond all words.

Every sum stands beside its test; the answers are exact, however many digits they have.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

import pytest

from tests.find.by_hand import ask, exactly, part_of, question_of
from wheelwork.find.question import Preference
from wheelwork.plan.plan import Target

RC = {"rc": {"frequency": "12 MHz"}}
BOTH = {**RC, "other": {"frequency": "8 MHz"}}
THROUGH = {"ratios": [1]}
QUARTERS = {"input": "rc", "ratios": "1..4"}
MEGA = 10**6


def test_a_divider_counts_only_where_one_of_two_takes_it() -> None:
    """Neither selector takes the divider: 1. One does, or both: 3 times 4 ratios. 13 in all."""
    inputs = {"inputs": ["rc", "quarters"]}
    part = part_of(
        RC,
        {"input": "one", **THROUGH},
        divider={"quarters": QUARTERS},
        selector={"one": inputs, "two": inputs},
        load={"port": {"input": "two"}},
    )
    assert ask(question_of(part, in_use=("port",))).admissible == 13


def test_ways_that_part_and_meet_again_are_counted_by_their_selectors() -> None:
    """The last takes the first, which takes rc (1) or the divider (4), or it takes the divider itself (4): 9."""
    part = part_of(
        RC,
        {"input": "last", **THROUGH},
        divider={"quarters": QUARTERS},
        selector={"first": {"inputs": ["rc", "quarters"]}, "last": {"inputs": ["first", "quarters"]}},
    )
    answer = ask(question_of(part, top=20))
    assert answer.admissible == 9
    assert len({tuple(sorted(each.settings.items())) for each in answer.solutions}) == 9


def test_ways_that_meet_again_move_together() -> None:
    """Both loads hang on one divider: no ratio gives 6 MHz to one and 4 MHz to the other; 6 to both is one."""
    inputs = {"inputs": ["quarters"]}
    part = part_of(
        RC,
        {"input": "rc", **THROUGH},
        divider={"quarters": QUARTERS},
        selector={"one": inputs, "two": inputs},
        load={"left": {"input": "one"}, "right": {"input": "two"}},
    )
    loads = ("left", "right")
    apart = ask(question_of(part, exactly("left", 6 * MEGA), exactly("right", 4 * MEGA), in_use=loads))
    assert (apart.fits, apart.admissible) == (False, 0)
    together = ask(question_of(part, exactly("left", 6 * MEGA), exactly("right", 6 * MEGA), in_use=loads))
    assert together.admissible == 1


def test_an_oscillator_with_choices_counts_them_only_while_it_runs() -> None:
    """The core takes the one with three frequencies (3) or the one with its own (1)."""
    sources = {"rc": {"frequency": ["4 MHz", "8 MHz", "12 MHz"]}, "other": {"frequency": "8 MHz"}}
    part = part_of(sources, {"input": "source", **THROUGH}, selector={"source": {"inputs": ["rc", "other"]}})
    assert ask(question_of(part)).admissible == 4


def test_what_stands_still_has_no_window_no_setting_and_no_current() -> None:
    """The PLL (2 by 3 settings, a window it cannot meet) hangs on nothing in use: 2 inputs of 1 ratio are left."""
    pll = {"input": "rc", "reference_divider": "1..2", "feedback": "4..6", "vco": "from 1 GHz", "current": "1 mA"}
    part = part_of(
        BOTH, {"input": "source", **THROUGH}, selector={"source": {"inputs": ["rc", "other", "pll"]}}, pll={"pll": pll}
    )
    answer = ask(question_of(part))
    assert answer.admissible == 2
    assert [dict(each.settings) for each in answer.solutions] == [
        {"source": "rc", "core": 1},
        {"source": "other", "core": 1},
    ]
    assert {each.current for each in answer.solutions} == {0}


def test_an_input_named_twice_is_one_setting() -> None:
    part = part_of(BOTH, {"input": "source", **THROUGH}, selector={"source": {"inputs": ["rc", "other", "rc"]}})
    assert ask(question_of(part)).admissible == 2


def test_two_sources_of_one_frequency_are_two_settings_shown_apart() -> None:
    same = {**RC, "other": {"frequency": "12 MHz"}}
    part = part_of(same, {"input": "source", **THROUGH}, selector={"source": {"inputs": ["rc", "other"]}})
    answer = ask(question_of(part))
    assert answer.admissible == 2
    assert [each.settings["source"] for each in answer.solutions] == ["rc", "other"], "the order of the sheet"


def test_dividers_in_another_order_are_no_twins() -> None:
    """By 2 then 4, 4 then 2, and so on: 8 = 1·8 = 2·4 = 4·2 = 8·1, four settings, four shown."""
    ratios = [1, 2, 4, 8]
    part = part_of(RC, {"input": "first", "ratios": ratios}, divider={"first": {"input": "rc", "ratios": ratios}})
    answer = ask(question_of(part, exactly("core", Fraction(12 * MEGA, 8))))
    assert answer.admissible == len(answer.solutions) == 4
    assert {each.alike for each in answer.solutions} == {1}


def test_a_rule_that_forbids_every_setting_but_one() -> None:
    """The bus divides by 1 to 4 and has to keep to a quarter of the core: only 4 does."""
    part = part_of(
        RC,
        {"input": "rc", **THROUGH},
        divider={"bus": {"input": "core", "ratios": "1..4"}},
        load={"port": {"input": "bus"}},
        rule=[{"node": "bus", "at_most": "1/4", "of": "core"}],
    )
    answer = ask(question_of(part, in_use=("port",)))
    assert answer.fits
    assert [each.settings["bus"] for each in answer.solutions] == [4]


def lattice_points(low: int, high: int, detector: int, parts: int) -> int:
    """How many multiples of detector / parts lie from low to high."""
    return floor(Fraction(high * parts, detector)) - ceil(Fraction(low * parts, detector)) + 1


@pytest.mark.parametrize("parts", [2**32, 2**40])
def test_numbers_beyond_64_bits_are_exact(parts: int) -> None:
    """Two PLLs, each with a window of 800 MHz and a step of 8 MHz / parts in it."""
    low, high = 100 * MEGA, 900 * MEGA
    pll = {
        "input": "rc",
        "reference_divider": [1],
        "feedback": "2..1000000000",
        "fraction_of": parts,
        "vco": f"{low} Hz .. {high} Hz",
    }
    part = part_of(
        {"rc": {"frequency": "8 MHz"}},
        {"input": "one", **THROUGH},
        pll={"one": pll, "two": pll},
        load={"port": {"input": "two"}},
    )
    answer = ask(question_of(part, in_use=("port",), top=3, prefer=(Preference("highest", "core"),)))
    points = lattice_points(low, high, 8 * MEGA, parts)
    assert answer.admissible == points**2 > 2**64
    step = Fraction(8 * MEGA, parts)
    assert answer.solutions[0].core == floor(high / step) * step


PRIMES = (9999999967, 9999999929, 9999999881)  # the largest below 10^10; checked in the test


def test_frequencies_far_beyond_64_bits_are_told_apart() -> None:
    """12 MHz over three numbers of ten digits: met exactly, and missed when asked for a 10^-40th more."""
    first, second, third = PRIMES
    part = part_of(
        RC,
        {"input": "second", "ratios": [third, third - 1]},
        divider={
            "first": {"input": "rc", "ratios": [first, first - 1]},
            "second": {"input": "first", "ratios": [second, second - 1]},
        },
    )
    wanted = Fraction(12 * MEGA, first * second * third)
    met = ask(question_of(part, exactly("core", wanted)))
    assert met.admissible == 1
    assert [met.solutions[0].settings[key] for key in ("first", "second", "core")] == [first, second, third]
    above = ask(question_of(part, Target("core", at_least=wanted * (1 + Fraction(1, 10**40)))))
    assert above.admissible == 7, "all eight but the slowest"
    missed = ask(question_of(part, exactly("core", wanted * (1 + Fraction(1, 10**40)))))
    assert (missed.fits, missed.admissible) == (False, 0)


def test_ten_free_ports_of_a_hundred_ratios_are_ten_to_the_twentieth() -> None:
    names = [f"d{n}" for n in range(10)]
    part = part_of(
        RC,
        {"input": "rc", **THROUGH},
        divider={name: {"input": "rc", "ratios": "1..100"} for name in names},
        load={f"port_{name}": {"input": name} for name in names},
    )
    answer = ask(question_of(part, in_use=tuple(f"port_{name}" for name in names), top=1))
    assert answer.admissible == 100**10
