"""Searches with one PLL whose answers are published or follow from theorems: tests/reference/electrical.toml.

A best rational approximation with a bounded denominator is a search for the least error over reference dividers up to
that bound: `Fraction.limit_denominator` finds it by the continued fraction (Knuth, TAOCP vol. 2, 4.5.3).
"""

from __future__ import annotations

import random
from fractions import Fraction
from typing import Any

import pytest

from tests.find.by_hand import LEAST_ERROR, ask, exactly, hertz, part_of, question_of
from tests.published import exact, examples, label
from wheelwork.find.conflicts import find_conflict
from wheelwork.find.question import Blame, Solution
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Target

MEGA = 10**6
HALF = Fraction(1, 2)
BOUNDED = [example for example in examples("RATIO-BEST") if "best" in example["expect"]]


def pll_alone(reference: Any, **pll: Any) -> Part:
    """A part whose core clock is its PLL's."""
    return part_of(
        {"source": {"frequency": reference}}, {"input": "pll", "ratios": [1]}, pll={"pll": {"input": "source", **pll}}
    )


def best_ratio(wanted: Fraction, most_divider: int, most_feedback: int) -> Fraction:
    """The ratio N / R that comes closest to a wanted one."""
    part = pll_alone("1 MHz", reference_divider=f"1..{most_divider}", feedback=f"1..{most_feedback}")
    target = Target("core", wanted * MEGA, HALF)
    answer = ask(question_of(part, target, prefer=LEAST_ERROR, top=1, count=False))
    return answer.solutions[0].core / MEGA


def factors(solution: Solution) -> tuple[Any, ...]:
    return tuple(solution.settings[f"pll.{key}"] for key in ("reference_divider", "feedback", "fraction"))


@pytest.mark.parametrize("example", BOUNDED, ids=label)
def test_the_least_error_is_the_best_rational_approximation(example: Any) -> None:
    wanted, most = exact(example["given"]["x"]), example["given"]["q_max"]
    assert best_ratio(wanted, most, int(wanted * most) + 2) == exact(example["expect"]["best"])


@pytest.mark.parametrize("example", [e for e in examples("RATIO-BEST") if "n_max" in e["given"]], ids=label)
def test_a_bound_on_the_feedback_too_gives_another_best(example: Any) -> None:
    wanted, given = exact(example["given"]["x"]), example["given"]
    expect = example["expect"]
    assert best_ratio(wanted, given["q_max"], 1000) == exact(expect["best_denominator_only"])
    best = best_ratio(wanted, given["q_max"], given["n_max"])
    assert best == exact(expect["best_both_limits"])
    assert float(abs(best / wanted - 1) * MEGA) == pytest.approx(float(expect["error_ppm_both"]))


@pytest.mark.parametrize("example", [e for e in examples("RATIO-BEST") if "convergents" in e["expect"]], ids=label)
def test_the_convergents_come_out_at_their_own_denominators(example: Any) -> None:
    wanted = exact(example["given"]["x"])
    for convergent in map(exact, example["expect"]["convergents"]):
        assert best_ratio(wanted, convergent.denominator, 1000) == convergent


@pytest.mark.parametrize("example", [e for e in examples("RATIO-BEST") if "f_ref" in e["given"]], ids=label)
def test_a_ratio_in_lowest_terms_is_the_only_one_up_to_its_denominator(example: Any) -> None:
    given, ratio = example["given"], exact(example["expect"]["ratio"])
    part = pll_alone(hertz(given["f_ref"]), reference_divider=f"1..{ratio.denominator}", feedback="1..2000")
    answer = ask(question_of(part, exactly("core", given["f_target"])))
    assert answer.admissible == 1
    assert factors(answer.solutions[0]) == (ratio.denominator, ratio.numerator, 0)


@pytest.mark.parametrize("seed", range(20))
def test_the_least_error_is_that_of_a_limited_denominator(seed: int) -> None:
    dice = random.Random(seed)
    wanted = Fraction(dice.randint(10**6, 10**8), dice.randint(10**6, 10**7))
    most = dice.choice([3, 17, 64, 300])
    found = best_ratio(wanted, most, int(wanted * most) + 2)
    assert abs(found - wanted) == abs(wanted.limit_denominator(most) - wanted)


@pytest.mark.parametrize("seed", range(10))
def test_the_least_error_with_a_fraction_is_the_nearest_step_of_all_dividers(seed: int) -> None:
    """For each reference divider the nearest feedback is the wanted one rounded to the fraction's step."""
    dice = random.Random(seed)
    wanted, parts, most = Fraction(dice.randint(10**7, 10**8), 10**6), dice.choice([8, 4096, 2**20]), dice.randint(1, 9)
    part = pll_alone("1 MHz", reference_divider=f"1..{most}", feedback="5..2000", fraction_of=parts)
    answer = ask(question_of(part, Target("core", wanted * MEGA, HALF), prefer=LEAST_ERROR, top=1, count=False))
    nearest = (Fraction(round(wanted * divider * parts), divider * parts) for divider in range(1, most + 1))
    assert abs(answer.solutions[0].core / MEGA - wanted) == min(abs(ratio - wanted) for ratio in nearest)


@pytest.mark.parametrize("example", [e for e in examples("PLL-FRAC") if "k" in e["expect"]], ids=label)
def test_a_published_fraction_is_the_one_with_the_least_error(example: Any) -> None:
    given, expect = example["given"], example["expect"]
    part = pll_alone(hertz(given["f_pd"]), reference_divider=[1], feedback="4..100", fraction_of=2 ** given["m"])
    target = Target("core", Fraction(given["f_target"]), HALF)
    best = ask(question_of(part, target, prefer=LEAST_ERROR, top=1, count=False)).solutions[0]
    assert factors(best) == (1, expect["N"], expect["k"])
    assert best.core == exact(expect["f_vco"])
    assert best.core - given["f_target"] in (exact(expect["error_hz"]), -exact(expect["error_hz"]))


@pytest.mark.parametrize("example", examples("PLL-INT"), ids=label)
def test_published_factors_are_found_from_the_frequencies(example: Any) -> None:
    given, expect = example["given"], example["expect"]
    detector = hertz(expect["f_pd"])
    part = part_of(
        {"source": {"frequency": hertz(given["f_ref"])}},
        {"input": "pll", "ratios": "1..8"},
        pll={
            "pll": {
                "input": "source",
                "reference_divider": "1..2000",
                "feedback": "1..100000",
                "phase_detector": f"{detector} .. {detector}",
                "vco": f"{hertz(expect['f_vco'])} .. {hertz(expect['f_vco'])}",
            }
        },
    )
    answer = ask(question_of(part, exactly("core", expect["f_out"])))
    assert answer.admissible == 1
    assert factors(answer.solutions[0]) == (given["R"], given["N"], 0)
    assert answer.solutions[0].settings["core"] == given["P"]


@pytest.mark.parametrize("example", [e for e in examples("PLL-WINDOW") if "count" in e["expect"]], ids=label)
def test_all_settings_of_a_published_search_are_found_and_alike_ones_shown_once(example: Any) -> None:
    given, expect = example["given"], example["expect"]
    (low_pd, high_pd), (low_vco, high_vco) = given["f_pd"], given["f_vco"]
    source = {"frequency": hertz(given["f_ref"]), "tolerance": f"±{given['tolerance_ppm']} ppm"}
    part = part_of(
        {"source": source},
        {"input": "pll", "ratios": given["P"]},
        judged_on="with tolerance",
        pll={
            "pll": {
                "input": "source",
                "reference_divider": "..".join(map(str, given["R"])),
                "feedback": "..".join(map(str, given["N"])),
                "phase_detector": f"{hertz(low_pd)} .. {hertz(high_pd)}",
                "vco": f"{hertz(low_vco)} .. {hertz(high_vco)}",
            }
        },
    )
    answer = ask(question_of(part, exactly("core", given["f_target"])))
    assert answer.admissible == expect["count"]
    shown = {(*factors(each)[:2], each.settings["core"]): each.alike for each in answer.solutions}
    alike: dict[tuple[Any, ...], list[tuple[Any, ...]]] = {}
    for divider, feedback, tap in expect["solutions"]:
        alike.setdefault((Fraction(feedback, divider), tap), []).append((divider, feedback, tap))
    assert shown == {min(members): len(members) for members in alike.values()}


@pytest.mark.parametrize("example", [e for e in examples("PLL-WINDOW") if "P_any" in e["given"]], ids=label)
def test_two_outputs_share_the_published_oscillators_or_none(example: Any) -> None:
    given, expect = example["given"], example["expect"]
    low, high = given["f_vco"]
    ratios = "..".join(map(str, given["P_any"]))
    part = part_of(
        {"source": {"frequency": "1 MHz"}},
        {"input": "pll", "ratios": ratios},
        divider={"link": {"input": "pll", "ratios": ratios}},
        load={"port": {"input": "link"}},
        pll={"pll": {"input": "source", "reference_divider": [1], "feedback": f"{low // MEGA}..{high // MEGA}"}},
    )
    question = question_of(part, exactly("core", given["f_a"]), exactly("port", given["f_b"]), in_use=("port",))
    answer = ask(question)
    found = sorted(int(each.settings["pll.feedback"]) * MEGA for each in answer.solutions)
    assert found == expect["f_vco_choices"]
    if not found:
        assert find_conflict(question, lambda: True) == (Blame(target=0), Blame(target=1))
