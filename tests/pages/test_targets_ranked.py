"""The ranked table: ratios in words, the little way down, the plan one is at. Frequencies are hand sums of the demo.

Skerry 3: 8 MHz / 1 * 29 = 232 MHz; / 4 = 58 MHz (core), / 8 = 29 MHz (converter), 58 MHz / 2 = 29 MHz (slow bus).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.demo import load_demo
from wheelwork.find.question import Answer, Question, Solution
from wheelwork.pages.targets_list import write_list
from wheelwork.pages.targets_ranked import SHOWN, RankedRow, RankedTable, rank_table, say_common
from wheelwork.part.nodes import Value
from wheelwork.plan.plan import Target

MHZ = Fraction(10**6)
PART, PLAN = load_demo("01-skerry-3-steady-running")
TARGETS = (
    Target("core", 58 * MHZ, Fraction(1, 200)),
    Target("converter", 26 * MHZ, Fraction(1, 100)),
    Target("slow_bus", at_most=31 * MHZ),
)
NINE: dict[str, Value] = {"main_converter": Fraction(9)}
SLOWER: dict[str, Value] = {**NINE, "slow_bus": Fraction(3)}
HALVED: dict[str, Value] = {**NINE, "main.reference_divider": Fraction(2), "main.feedback": Fraction(58)}


def solution(settings: dict[str, Value], changes: int, alike: int = 1) -> Solution:
    plan = PLAN.with_settings(settings)
    return Solution(
        settings=settings,
        core_voltage=PLAN.core_voltage,
        wait_states=2,
        core=58 * MHZ,
        current=Fraction(613, 100_000),
        alike=alike,
        changes=changes,
        plan=plan,
    )


def table(*solutions: Solution, complete: bool = True, everything: bool = False, **more: object) -> RankedTable:
    question = Question(part=PART, plan=PLAN, targets=TARGETS)
    answer = Answer(question=question, fits=True, complete=complete, solutions=solutions)
    addresses = [f"/plan?plan={place}" for place in range(len(solutions))]
    return rank_table(replace(answer, **more), PLAN, addresses, everything)  # type: ignore[arg-type]


def row(settings: dict[str, Value], *others: dict[str, Value]) -> RankedRow:
    """The row of one setting in a table with others."""
    return table(solution(settings, 1), *(solution(other, 2) for other in others)).rows[1]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_the_plan_stands_on_top_and_does_not_fit() -> None:
    present, first = table(solution(NINE, 1)).rows
    assert (present.rank, present.changes, present.note, present.fits) == ("–", "this plan", "does not fit", False)
    assert (first.rank, first.changes, first.address) == ("1", "1 change", "/plan?plan=0")


def test_a_plan_that_fits_stands_with_its_rank() -> None:
    present = table(solution(NINE, 1), plan_fits=True, rank=7).rows[0]
    assert (present.rank, present.note, present.fits) == ("7", "", True)


def test_a_plan_among_those_shown_stands_in_its_place_and_is_not_used_again() -> None:
    first, second = table(solution(NINE, 1), solution({}, 0), plan_fits=True, rank=2).rows
    assert (second.rank, second.present, second.changes, second.address) == ("2", True, "this plan", "")
    assert not first.present


def test_ratios_are_told_pll_by_pll_with_the_taps_on_the_way() -> None:
    made = table(solution(NINE, 1), solution(HALVED, 2))
    assert made.settings_head == "PLL, core tap, converter tap"
    assert [each.ratios for each in made.rows] == [
        ("÷1 ×29 then ÷4, ÷8",),
        ("÷1 ×29 then ÷4, ÷9",),
        ("÷2 ×58 then ÷4, ÷9",),
    ]


def test_what_else_differs_stands_in_a_second_line() -> None:
    """58 MHz / 3 = 19.333… MHz; where all have the same slow bus nothing is said of it."""
    assert plain(row(SLOWER, NINE).others) == "slow bus ÷3, 19.333333… MHz"
    assert row(NINE, HALVED).others == ""


def test_a_choice_is_told_where_it_is_not_the_plans() -> None:
    other: dict[str, Value] = {**NINE, "calendar_source": "slow_rc"}
    assert plain(row(other, NINE).others) == "calendar source: slow RC oscillator"
    assert row(NINE, other).others == ""


def test_another_core_voltage_is_told() -> None:
    low = replace(solution(NINE, 2), plan=replace(PLAN.with_settings(NINE), core_voltage="middle"))
    assert plain(table(low).rows[1].others) == "1.05 V"


def test_the_way_down_has_a_stop_for_each_ratio_on_one_axis() -> None:
    """8, 8 (÷1), 232 (×29), 58 (÷4), then 232/9 and 29 MHz below them; from 5 to 500 MHz is two decades.

    x = 170 * log10(f / 5 MHz) / 2: 8 MHz 17.3, 232 MHz 141.7, 58 MHz 90.5 px.
    """
    made = table(solution(NINE, 1))
    assert plain(made.from_to) == "5 MHz to 500 MHz"
    way = made.rows[1].way
    assert way is not None
    xs = [x for x, _ in way.marks]
    assert xs[:4] == pytest.approx([17.3, 17.3, 141.7, 90.5], abs=0.1)
    assert len(xs) == 6
    assert plain(made.rows[1].spoken).startswith("8 MHz to 8 MHz to 232 MHz to 58 MHz")


def test_phase_detector_and_supply_stand_in_figures() -> None:
    """8 MHz / 2 = 4 MHz; the supply is that of the plan page, 6.13 mA."""
    assert plain(row(HALVED).detector) == "4 MHz"
    assert plain(row(NINE).current) == "6.13 mA"


def test_settings_of_equal_ratio_are_counted_beside_the_one_shown() -> None:
    assert table(solution(NINE, 1, alike=3)).rows[1].note == "and 2 more of equal ratio"


def test_settings_that_could_not_be_ordered_have_no_ranks() -> None:
    made = table(solution(NINE, 1), ordered=False, plan_fits=True, rank=1)
    assert [each.rank for each in made.rows] == ["–", "–"]
    assert not made.proven


def test_the_best_have_their_ranks_while_the_count_is_not_known() -> None:
    made = table(solution(NINE, 1), complete=False)
    assert [each.rank for each in made.rows] == ["–", "1"]
    assert made.proven


def test_only_the_first_ranks_stand_there_until_all_are_asked_for() -> None:
    many = [solution({**NINE, "slow_bus": Fraction(n)}, n + 1) for n in (1, 2, 3, 4, 6, 8)] * 2
    assert table(*many).ranks == SHOWN
    assert table(*many, everything=True).ranks == len(many) == 12


def test_a_plan_in_which_nothing_is_fitted_is_a_row_all_the_same() -> None:
    bare = replace(PLAN, fitted={})
    question = Question(part=PART, plan=bare, targets=TARGETS)
    answer = Answer(question=question, fits=True, complete=True, solutions=(solution(NINE, 1),))
    present = rank_table(answer, bare, ["/plan"], False).rows[0]
    assert (present.ratios, present.way, present.note) == (("nothing fitted",), None, "does not fit")


def test_where_no_pll_runs_the_source_is_told() -> None:
    direct: dict[str, Value] = {"core_source": "crystal", "converter_source": "core"}
    question = Question(part=PART, plan=PLAN, targets=(Target("core", 8 * MHZ),))
    quiet = replace(solution(direct, 2), plan=replace(PLAN.with_settings(direct), in_use=("processor",)))
    answer = Answer(question=question, fits=True, complete=True, solutions=(quiet,))
    made = rank_table(answer, PLAN, ["/plan"], False).rows[1]
    assert made.ratios == ("core from fast crystal oscillator",)
    assert made.detector == "no PLL"


def test_what_all_settings_have_in_common_is_said_where_all_are_listed() -> None:
    """232 / 9 = 25.777… MHz in both, within 1 % of 26 MHz; the slow bus differs, the core stands on what is wanted."""
    question = Question(part=PART, plan=PLAN, targets=TARGETS)
    found = (solution(NINE, 1, alike=2), solution(SLOWER, 2))
    every = Answer(question=question, fits=True, complete=True, admissible=3, solutions=found)
    assert [plain(said) for said in say_common(every)] == [
        "In all of them the converter clock (ADC) runs at 25.777777… MHz."
    ]
    assert say_common(replace(every, admissible=4)) == ()
    assert say_common(replace(every, complete=False)) == ()


def test_the_list_has_a_line_for_each_setting_in_exact_figures() -> None:
    question = Question(part=PART, plan=PLAN, targets=TARGETS)
    found = (solution(NINE, 1), solution({"core_source": "crystal"}, 2, alike=3))
    text = write_list(Answer(question=question, fits=True, complete=True, solutions=found))
    assert text.splitlines() == [
        "rank,core_voltage,wait_states,core_hertz,current_ampere,changes,alike,main_converter,core_source",
        "1,full,2,58000000,0.00613,1,1,9,",
        "2,full,2,58000000,0.00613,2,3,,crystal",
    ]
