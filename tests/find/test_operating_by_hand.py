"""Operating points against published examples, sums done by hand, and the demo's parts.

The demo part without a crystal is gone through once more in plain whole numbers; those of the others are searched anew,
each alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from tests.demo import load_demo
from tests.published import exact, examples
from wheelwork.find.operating import OperatingPoints, Point, Work, find_operating_points, with_point
from wheelwork.find.prices import Prices, current_prices
from wheelwork.find.problem import Problem
from wheelwork.find.seeking import Seeker
from wheelwork.judge.judgement import reckon
from wheelwork.part.nodes import Amount, Part
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Plan

MEGA = 10**6
THOUSAND = Work(Fraction(1000))
FAST = {"volts": "1.2 V", "run_current": "100 µA/MHz", "base_current": "400 µA"}
SLOW = {"volts": "1.0 V", "base_current": "400 µA"}


def part_of(steps: dict[str, Any], **more: Any) -> Part:
    """A part with one oscillator of 64 MHz, over which the core clock divides by 1, 4 or 64."""
    core = {"input": "rc", "ratios": [1, 4, 64], "limits_at": {"slow": "up to 16 MHz"}}
    sheet = {
        "format": "wheelwork-part/1",
        "name": "By hand",
        "figures_from": "invented",
        "core": {"clock": "core"},
        "core_voltage": steps,
        "oscillator": {"rc": {"frequency": "64 MHz", "current": "0 µA"}},
        "divider": {"core": {key: value for key, value in core.items() if key != "limits_at" or "slow" in steps}},
        **more,
    }
    part, problems = read_sheet_json(sheet)
    assert part is not None, problems
    return part


def points_of(part: Part, work: Work = THOUSAND, supply: str | None = None, **more: Any) -> OperatingPoints:
    step = part.steps[0].id
    plan = Plan(core_voltage=step, supply=None if supply is None else Fraction(supply), **more)
    found = find_operating_points(part, plan, work, lambda: True)
    assert found.proven
    return found


@pytest.mark.parametrize("example", examples("PWR-EOP"), ids=lambda example: example["id"])
def test_current_and_charge_are_those_of_the_published_energy_of_a_cycle(example: Any) -> None:
    """Each example's step; the slope, which need not end as a decimal, scales with the volts.

    The energy of a cycle at the pin is its charge times the supply.
    """
    given, expected = {key: exact(value) for key, value in example["given"].items()}, example["expect"]
    slope, static = given["k_ref"] * given["v"] / given["v_ref"], given["i_static"]
    part = part_of({"only": {"volts": f"{given['v']} V"}})
    stated = replace(part.steps[0], run_current=Amount(slope), base_current=Amount(static))
    part = replace(part, steps=(stated,))
    point = next(each for each in points_of(part).steps[0].points if each.core == given["f"])
    assert float(point.current) == pytest.approx(float(exact(expected["i_supply"])), rel=1e-12)
    assert float(point.per_clock * given["v_dd"]) == pytest.approx(float(exact(expected["e_cycle_supply"])), rel=1e-12)


def test_the_corner_of_a_lower_step_is_set_beside_that_of_the_higher() -> None:
    """At 80 µA/MHz and 400 µA: 16 MHz takes 1.68 mA, 105 pC a clock; 64 MHz at 100 µA/MHz 6.8 mA, 106.25 pC."""
    found = points_of(part_of({"fast": FAST, "slow": {**SLOW, "run_current": "80 µA/MHz"}}))
    assert found.best is not None
    assert (found.best.step, found.best.core) == ("slow", 16 * MEGA)
    assert [curve.best and curve.best.per_clock * 10**12 for curve in found.steps] == [Fraction("106.25"), 105]
    assert found.best.charge == Fraction("105e-9")


def test_the_highest_core_clock_of_a_step_need_not_be_its_best() -> None:
    """A PLL to 16 MHz takes 2 mA more: 16 MHz costs (1.6 + 0.4 + 2) / 16 = 250 pC, 8 MHz from the oscillator 150 pC."""
    found = points_of(
        part_of(
            {"fast": FAST},
            oscillator={"rc": {"frequency": "8 MHz", "current": "0 µA"}},
            pll={"pll": {"input": "rc", "reference_divider": [1], "feedback": [2], "current": "2 mA"}},
            selector={"source": {"inputs": ["rc", "pll"]}},
            divider={"core": {"input": "source", "ratios": [1]}},
        )
    ).steps[0]
    assert found.whole
    assert [(point.core, point.per_clock * 10**12) for point in found.points] == [(8 * MEGA, 150), (16 * MEGA, 250)]
    assert (found.top, found.best) == (found.points[1], found.points[0])


def test_along_a_step_fed_from_one_oscillator_the_charge_falls_with_the_core_clock() -> None:
    points = points_of(part_of({"fast": FAST})).steps[0].points
    assert [point.core for point in points] == [MEGA, 16 * MEGA, 64 * MEGA]
    assert [point.charge for point in points] == sorted((point.charge for point in points), reverse=True)


def test_what_is_drawn_beside_the_work_asks_for_speed_and_a_rest_that_is_put_off_for_none() -> None:
    """Nothing beside: 1.25 nC at 1 MHz is the dearest. A rest of 500 µA that is put off: (0.1 + 0.4 - 0.5) / 1 = 0."""
    part = part_of({"fast": FAST})
    lamp, rest = (points_of(part, Work(Fraction(1000), Fraction(beside))) for beside in ("0.02", "-0.0005"))
    assert (lamp.best and lamp.best.core, rest.best and rest.best.core) == (64 * MEGA, MEGA)
    assert lamp.best is not None
    assert lamp.best.charge == (Fraction("0.0068") + Fraction("0.02")) * 1000 / (64 * MEGA)
    assert lamp.best.current == Fraction("0.0068"), "the part's own"
    assert rest.best is not None
    assert rest.best.charge == 0


@pytest.mark.parametrize(
    ("within", "core"), [("1e-3", MEGA), ("999999e-9", 16 * MEGA), ("15625e-9", 64 * MEGA), ("15624e-9", None)]
)
def test_a_limit_on_time_is_one_on_the_core_clock_that_it_just_allows(within: str, core: int | None) -> None:
    """1000 clocks take 1 ms at 1 MHz, 15.625 µs at 64 MHz. A current of 1 mA less makes the slowest one the best."""
    found = points_of(part_of({"fast": FAST}), Work(Fraction(1000), Fraction("-0.001"), Fraction(within)))
    assert (None if found.best is None else found.best.core) == core
    assert [point.core for point in found.steps[0].points] == [MEGA, 16 * MEGA, 64 * MEGA], "the curve stays whole"


def test_a_step_whose_current_is_not_stated_is_not_the_cheapest_for_it() -> None:
    found = points_of(part_of({"fast": FAST, "slow": SLOW}))
    assert found.best is not None
    assert found.best.step == "fast"
    assert "run_current" in found.not_stated


def test_a_linear_regulator_passes_the_current_on_whatever_the_supply() -> None:
    part = part_of({"fast": FAST})
    assert [points_of(part, supply=volts).steps[0].points for volts in ("2.0", "3.6")] == [
        points_of(part).steps[0].points
    ] * 2


def test_a_buck_passes_the_power_on() -> None:
    """6.8 mA at 3.0 V are 10.2 mA at 2.0 V; a crystal's current and a PLL's would stay as they are."""
    supply = {"regulator": "buck", "currents_at": "3.0 V", "efficiency": "85 %"}
    found = points_of(part_of({"fast": FAST}, supply=supply), supply="2.0")
    assert found.best is not None
    assert found.best.current == Fraction("0.0102")


def test_what_is_held_stays_but_for_the_core_voltage() -> None:
    part = part_of({"fast": FAST, "slow": {**SLOW, "run_current": "80 µA/MHz"}})
    found = points_of(part, held=("core", "core_voltage"), settings={"core": Fraction(64)})
    assert [[point.core for point in curve.points] for curve in found.steps] == [[MEGA], [MEGA]]


def test_wait_states_and_the_span_of_effective_speed_are_told() -> None:
    """64 MHz with one wait state gets 32 to 64 million cycles a second done, as the share that waits is all or none."""
    flash = [{"up_to": "24 MHz", "wait_states": 0}, {"up_to": "64 MHz", "wait_states": 1}]
    top = points_of(part_of({"fast": {**FAST, "flash": flash}})).steps[0].top
    assert top is not None
    assert (top.wait_states, top.speed.lowest, top.speed.highest) == (1, 32 * MEGA, 64 * MEGA)


def test_the_highest_current_is_told_where_the_sheet_states_one() -> None:
    """100 and 110 µA/MHz, 400 µA: 6.8 mA at 64 MHz, at most 7.44 mA."""
    step = {**FAST, "run_current": {"typical": "100 µA/MHz", "highest": "110 µA/MHz"}}
    top = points_of(part_of({"fast": step})).steps[0].top
    assert top is not None
    assert (top.current, top.highest) == (Fraction("0.0068"), Fraction("0.00744"))
    assert top.highest_charge == Fraction("0.00744") * 1000 / (64 * MEGA)


def lamp_by_hand(
    step: str, volts_limit: int, tap: int, vco: int, slope: int, base: int, flash: int
) -> dict[Fraction, Fraction]:
    """Every core clock of the harbour lamp (Whimbrel 132, no crystal) at a step with its least current, in µA.

    Numbers of the sheet, in MHz and µA: the oscillator takes 105, the PLL 240 more; loads in use state no current. The
    flash clock is the core clock over 1, 2 or 4, the slow bus over up to 8: both can always be slow enough.
    """
    least: dict[Fraction, Fraction] = {}
    clocks: set[tuple[Fraction, int]] = {(Fraction(f), 105) for f in (5, 10, 20)}
    for source in (5, 10, 20):
        for divider in range(1, 13):
            detector = Fraction(source, divider)
            if Fraction("1.8") <= detector <= 9:
                for feedback in range(12, 111):
                    if 110 <= detector * feedback <= vco:
                        taps = (detector * feedback / ratio for ratio in (2, 3, 4, 5, 6, 8))
                        clocks.update((f, 345) for f in taps if 5 <= f <= tap)
    for clock, more in clocks:
        for ratio in (1, 2, 3, 4, 6, 8, 12, 16, 32):
            core = clock / ratio
            if core <= volts_limit and core / 4 <= flash and core / 8 <= 66:
                current = slope * core + base + more
                least[core] = min(current, least.get(core, current))
    return least


LAMP = {
    "high": (132, 132, 420, 118, 310, 132),
    "medium": (86, 86, 420, 103, 280, 86),
    "low": (23, 23, 160, 87, 240, 23),
}


@pytest.mark.parametrize("step", LAMP)
def test_the_lamps_points_are_those_of_going_through_its_clocks_in_plain_numbers(step: str) -> None:
    """Supply 3.0 V, at which the sheet's figures were taken: the buck's factor is 1."""
    part, plan = load_demo("04-harbour-lamp")
    found = find_operating_points(part, plan, THOUSAND, lambda: True)
    curve = next(each for each in found.steps if each.step.id == step)
    least = lamp_by_hand(step, *LAMP[step])
    assert curve.drawn
    assert not curve.whole
    assert len(curve.points) > 40
    for point in curve.points:
        assert point.current * MEGA == least[point.core / MEGA]
    assert curve.top is not None
    assert curve.top.core == max(least) * MEGA
    assert curve.points[0].core == min(least) * MEGA
    assert curve.best is not None
    assert curve.best.charge == min(current / core for core, current in least.items()) * 1000 / 10**12


def prices_of(problem: Problem) -> Prices:
    return current_prices(problem.part, problem.plan, problem.step)


DEMOS = ("01-skerry-3-steady-running", "02-skerry-3-waiting-for-the-tide", "03-fog-signal-44k1", "04-harbour-lamp")


@pytest.mark.parametrize("name", DEMOS)
def test_no_setting_of_a_demo_part_takes_less_than_the_best(name: str) -> None:
    """Current less charge a clock times core clock is 0 at least, by a search of its own (Dinkelbach 1967)."""
    part, plan = load_demo(name)
    found = find_operating_points(part, plan, THOUSAND, lambda: True)
    assert found.proven
    assert found.best is not None
    toll = Prices(lines={part.core_clock: (0, -found.best.per_clock)})
    seeker = Seeker(part, plan, plan.targets, frozenset(plan.held) - {"core_voltage"}, lambda: True)
    cheapest = seeker.best(lambda problem: prices_of(problem).plus(toll))
    assert cheapest is not None
    assert cheapest.cost == 0


@pytest.mark.parametrize("name", DEMOS)
def test_every_point_of_a_demos_curve_is_a_legal_plan(name: str) -> None:
    part, plan = load_demo(name)
    found = find_operating_points(part, plan, THOUSAND, lambda: True)
    points = [point for curve in found.steps for point in curve.points[::8]]
    assert len(points) > 15
    for point in points:
        judged = reckon(part, with_point(plan, point))
        assert judged.legal
        assert (judged.clocks[part.core_clock].nominal, judged.current.typical) == (point.core, point.current)


def for_a_while(pieces: int) -> Callable[[], bool]:
    left = iter(range(pieces))
    return lambda: next(left, None) is not None


@pytest.mark.parametrize("pieces", [0, 1, 100, 1000, 2000, 3000, 4000, 4500, 5000, 5300, 10_000])
def test_when_time_is_over_what_is_told_is_right_and_what_is_not_is_said(pieces: int) -> None:
    part, plan = load_demo("03-fog-signal-44k1")
    whole = find_operating_points(part, plan, THOUSAND, lambda: True)
    some = find_operating_points(part, plan, THOUSAND, for_a_while(pieces))
    assert told(some.best) in (
        [told(whole.best)] if some.proven else [None, *(told(each.best) for each in whole.steps)]
    )
    for curve, full in zip(some.steps, whole.steps, strict=True):
        if curve.proven:
            assert (told(curve.top), told(curve.best)) == (told(full.top), told(full.best))
        assert {told(point) for point in curve.points} <= {told(point) for point in full.points}
        assert curve.drawn is (curve.proven and len(curve.points) == len(full.points))
    assert some.proven is all(curve.proven for curve in some.steps)
    assert some.present == whole.present


def told(point: Point | None) -> tuple[str, Fraction, Fraction] | None:
    return None if point is None else (point.step, point.core, point.current)


def test_the_present_plan_is_a_point_legal_or_not() -> None:
    part, plan = load_demo("04-harbour-lamp")
    too_fast = replace(plan, core_voltage="low")
    found = find_operating_points(part, too_fast, THOUSAND, lambda: True)
    assert found.present is not None
    assert (found.present.step, found.present.core) == ("low", 86 * MEGA)
    assert not found.present.judgement.legal
