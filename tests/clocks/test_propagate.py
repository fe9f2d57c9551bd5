"""Which nodes matter, and exact frequencies: fractional PLLs and ratios, conditions, choices, what cannot stop."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.published import exact, examples, label
from wheelwork.clocks.propagate import unfitted
from wheelwork.judge import Judgement, judge
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.reading import read_plan

MEGA = 10**6


def sheet(**more: Any) -> dict[str, Any]:
    """A crystal on the board, an RC oscillator, a core divider behind a selector."""
    base: dict[str, Any] = {
        "format": "wheelwork-part/1",
        "name": "Small",
        "core": {"clock": "core"},
        "core_voltage": {"only": {"volts": "1.2 V"}},
        "oscillator": {
            "rc": {"frequency": "12 MHz", "tolerance": "±1 %"},
            "crystal": {"kind": "crystal", "frequency": "3 MHz .. 30 MHz"},
        },
        "selector": {"source": {"inputs": ["rc", "crystal"]}},
        "divider": {"core": {"input": "source", "ratios": [1, "3/2", 2, 4]}},
    }
    for kind, tables in more.items():
        base[kind] = {**base.get(kind, {}), **tables} if isinstance(tables, dict) else tables
    return base


def judged(raw: dict[str, Any], **plan: Any) -> Judgement:
    part, problems = read_sheet_json(raw)
    assert part is not None, problems
    read, problems = read_plan(plan, part)
    assert read is not None, problems
    assert unfitted(part, read) == []
    return judge(part, read)


def nominal(judgement: Judgement, node: str) -> Fraction | None:
    clock = judgement.clocks.get(node)
    return None if clock is None else clock.nominal


def test_a_fractional_ratio_divides_exactly() -> None:
    """12 MHz / (3/2) = 8 MHz."""
    assert nominal(judged(sheet(), set={"core": "3/2"}), "core") == 8 * MEGA


def test_only_what_is_needed_runs() -> None:
    raw = sheet(
        pll={"main": {"input": "crystal", "reference_divider": "1..4", "feedback": "10..20"}},
        load={"port": {"input": "tap", "also": ["side"]}},
    )
    raw["divider"] |= {"tap": {"input": "main", "ratios": "1..8"}, "side": {"input": "rc", "ratios": "1..8"}}
    idle = judged(raw)
    assert set(idle.clocks) == {"rc", "source", "core"}
    used = judged(raw, in_use=["port"], board={"crystal": {"frequency": "8 MHz"}})
    assert set(used.clocks) == {"rc", "source", "core", "crystal", "main", "tap", "port", "side"}
    kept = judged(raw, keep_running=["main"], board={"crystal": {"frequency": "8 MHz"}})
    assert set(kept.clocks) == {"rc", "source", "core", "crystal", "main"}


def test_an_oscillator_that_cannot_stop_runs_but_for_one_the_board_leaves_out() -> None:
    raw = sheet()
    raw["oscillator"]["slow"] = {"frequency": "33 kHz", "always_on": True}
    raw["oscillator"]["crystal"]["always_on"] = True
    assert set(judged(raw).clocks) == {"rc", "source", "core", "slow"}
    assert "crystal" in judged(raw, board={"crystal": {"frequency": "8 MHz"}}).clocks


def test_a_source_in_use_with_nothing_fitted_is_a_problem_at_its_place() -> None:
    part, _ = read_sheet_json(sheet())
    assert part is not None
    plan, _ = read_plan({"set": {"source": "crystal"}}, part)
    assert plan is not None
    assert [problem.where for problem in unfitted(part, plan)] == ["board.crystal.frequency"]


@pytest.mark.parametrize("ratio", [1, 2])
def test_a_condition_turns_a_factor_on(ratio: int) -> None:
    """The factor 2 counts only while the divider's ratio is above 1: 12 MHz at ÷1 and 12 / 2 * 2 MHz at ÷2."""
    raw = sheet(scaler={"timer": {"input": "core", "multiply": 2, "when": {"divider": "core", "ratio_above": 1}}})
    assert nominal(judged(raw, set={"core": ratio}, keep_running=["timer"]), "timer") == 12 * MEGA


def test_a_choice_of_frequencies_is_a_setting() -> None:
    raw = sheet(oscillator={"rc": {"frequency": ["4 MHz", "8 MHz"], "reset": "8 MHz"}})
    assert nominal(judged(raw), "core") == 8 * MEGA
    assert nominal(judged(raw, set={"rc": "4 MHz"}), "core") == 4 * MEGA


def test_the_tolerance_of_the_board_goes_before_that_of_the_sheet() -> None:
    clock = judged(sheet(), board={"rc": {"tolerance": "±2 %"}}).clocks["core"]
    assert (clock.lowest, clock.highest) == (Fraction("11.76") * MEGA, Fraction("12.24") * MEGA)


def test_without_a_tolerance_a_clock_counts_as_exact_and_a_note_says_so() -> None:
    judgement = judged(sheet(), set={"source": "crystal"}, board={"crystal": {"frequency": "8 MHz"}})
    clock = judgement.clocks["core"]
    assert clock.lowest == clock.highest == 8 * MEGA
    assert [(f.node, f.severity) for f in judgement.findings] == [("crystal", "note")]


@pytest.mark.parametrize("example", examples("PLL-INT"), ids=label)
def test_an_integer_pll_gives_the_published_frequencies(example: Any) -> None:
    given, expect = example["given"], example["expect"]
    raw = sheet(
        oscillator={"rc": {"frequency": f"{given['f_ref']} Hz"}},
        pll={"main": {"input": "rc", "reference_divider": [given["R"]], "feedback": [given["N"]]}},
    )
    raw["divider"] |= {"tap": {"input": "main", "ratios": [given["P"]]}}
    judgement = judged(raw, keep_running=["tap"])
    detector = judgement.phase_detectors["main"].clock
    assert detector is not None
    assert (detector.nominal, nominal(judgement, "main"), nominal(judgement, "tap")) == (
        exact(expect["f_pd"]),
        exact(expect["f_vco"]),
        exact(expect["f_out"]),
    )


@pytest.mark.parametrize("example", [e for e in examples("PLL-FRAC") if "k" in e["expect"]], ids=label)
def test_a_fractional_pll_gives_the_published_vco(example: Any) -> None:
    given, expect = example["given"], example["expect"]
    raw = sheet(
        oscillator={"rc": {"frequency": f"{given['f_pd']} Hz"}},
        pll={"main": {"input": "rc", "reference_divider": 1, "feedback": "4..40", "fraction_of": 2 ** given["m"]}},
    )
    chosen = {"main": {"feedback": expect["N"], "fraction": expect["k"]}}
    assert nominal(judged(raw, keep_running=["main"], set=chosen), "main") == exact(expect["f_vco"])
