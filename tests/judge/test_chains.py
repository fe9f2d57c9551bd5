"""The chain of a clock: whose numbers stand on its way, and what they are called."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import pytest

from wheelwork.formulas import Chain, draw
from wheelwork.judge import Judgement, judge
from wheelwork.judge.chains import chain_of, detector_chain_of
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan

SHEET = """
format = "wheelwork-part/1"
name = "Chained"
core.clock = "core"
core_voltage.only.volts = "1 V"

[oscillator.crystal]
title = "Crystal"
kind = "crystal"
frequency = "10 MHz"

[oscillator.fast_rc]
title = "Fast RC"
kind = "rc"
frequency = ["6 MHz", "12 MHz"]

[selector.reference]
title = "Reference"
inputs = ["crystal", "fast_rc"]

[pll.first]
title = "First PLL"
input = "reference"
reference_divider = "1..8"
feedback = "1..100"

[divider.first_tap]
title = "First tap"
input = "first"
ratios = [1, "3/2", 4]

[selector.core_source]
title = "Core source"
inputs = ["fast_rc", "first_tap"]

[divider.core]
title = "Core clock"
input = "core_source"
ratios = "1..8"

[scaler.timer]
title = "Timer clock"
input = "core"
multiply = 3
divide = 2
when = { divider = "core", ratio_above = 2 }

[load.counter]
title = "Counter"
input = "timer"
"""
SECOND = """
[pll.second]
title = "Second PLL"
input = "first_tap"
reference_divider = "1..8"
feedback = "1..100"
fraction_of = 16

[load.audio]
title = "Audio"
input = "second"
"""
SETTINGS = {
    "reference": "crystal",
    "first": {"reference_divider": 2, "feedback": 30},
    "first_tap": "3/2",
    "core_source": "first_tap",
    "core": 4,
}


@cache
def judged(core: int = 4, second: bool = False) -> Judgement:
    """10 MHz / 2 · 30 = 150 MHz, / (3/2) = 100 MHz, / 4 = 25 MHz; the second PLL 100 MHz / 5 · (7 + 3/16)."""
    part, problems = read_sheet(SHEET + SECOND if second else SHEET)
    assert part is not None, [problem.sentence() for problem in problems]
    chosen = {**SETTINGS, "core": core}
    if second:
        chosen["second"] = {"reference_divider": 5, "feedback": 7, "fraction": 3}
    in_use = ["counter", "audio"] if second else ["counter"]
    raw = {"format": "wheelwork-plan/1", "core_voltage": "only", "in_use": in_use, "set": chosen}
    plan, problems = read_plan(raw, part)
    assert plan is not None, [problem.sentence() for problem in problems]
    return judge(part, plan)


def terms(chain: Chain) -> list[tuple[str, str, Fraction]]:
    return [(factor.letter, factor.key, factor.value) for factor in chain.factors]


def titles(chain: Chain) -> list[str]:
    return [chain.source, *(link.title for link in chain.links)]


def test_a_chain_goes_from_the_oscillator_down_and_steps_over_selectors() -> None:
    chain = chain_of(judged(), "core")
    assert titles(chain) == ["Crystal", "VCO", "First tap", "Core clock"]
    assert chain.frequency == 10_000_000
    assert terms(chain) == [
        ("R", "first.reference_divider", 2),
        ("N", "first.feedback", 30),
        ("D", "first_tap", Fraction(3, 2)),
        ("D", "core", 4),
    ]
    assert chain.clock == 25_000_000


def test_the_chain_of_a_selector_ends_at_it() -> None:
    chain = chain_of(judged(), "core_source")
    assert titles(chain) == ["Crystal", "VCO", "First tap", "Core source"]
    assert chain.links[-1].factors == ()


def test_the_chain_of_a_load_ends_at_it() -> None:
    assert titles(chain_of(judged(), "counter"))[-2:] == ["Timer clock", "Counter"]


def test_the_chain_of_an_oscillator_is_its_source_alone() -> None:
    assert chain_of(judged(), "crystal") == Chain("Crystal", Fraction(10_000_000))


@pytest.mark.parametrize(("core", "factor"), [(2, Fraction(1)), (4, Fraction(3, 2))])
def test_a_scaler_counts_only_while_its_condition_holds(core: int, factor: Fraction) -> None:
    assert terms(chain_of(judged(core), "timer"))[-1] == ("S", "", factor)


def test_the_chain_of_a_phase_detector_ends_before_the_feedback() -> None:
    chain = detector_chain_of(judged(), "first")
    assert titles(chain) == ["Crystal", "phase detector"]
    assert terms(chain) == [("R", "first.reference_divider", Fraction(2))]


def test_a_lone_pll_goes_without_its_name() -> None:
    assert draw(chain_of(judged(), "first")).letters == "R reference divider 2, N feedback multiplier 30."


def test_two_plls_on_one_way_are_told_apart_by_name() -> None:
    chain = chain_of(judged(second=True), "audio")
    assert titles(chain) == ["Crystal", "First PLL VCO", "First tap", "Second PLL VCO", "Audio"]
    assert draw(chain).letters == (
        "R₁ First PLL reference divider 2, N₁ First PLL feedback multiplier 30, D First tap 3/2, "
        "R₂ Second PLL reference divider 5, N₂ Second PLL feedback multiplier 7, "
        "k Second PLL fraction 3, m Second PLL fraction steps 16."
    )
    assert chain.clock == Fraction("143.75") * 10**6


def test_a_pll_that_is_alone_on_its_way_is_named_only_as_a_clock() -> None:
    chain = chain_of(judged(second=True), "core")
    assert titles(chain)[1] == "First PLL VCO"
    assert draw(chain).letters.startswith("R reference divider 2, N feedback multiplier 30, ")


def test_a_clock_that_does_not_run_has_no_chain() -> None:
    with pytest.raises(KeyError):
        chain_of(judged(), "fast_rc")
