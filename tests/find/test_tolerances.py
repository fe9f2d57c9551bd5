"""What a tolerance alone rules out. Turnstone 58: fast RC −1.5 % to +1.2 %, fitted crystal ±30 ppm."""

from fractions import Fraction

import pytest

from tests.demo import load_demo
from wheelwork.find.tolerances import find_ruled_out, leaves_room
from wheelwork.plan.plan import Target
from wheelwork.quantities.spans import read_tolerance

MHZ = Fraction(10**6)


@pytest.mark.parametrize(
    ("tolerance", "within", "room"),
    [
        ("±0.25 %", "1/400", True),  # just as wide: the nominal stands on what is wanted
        ("±0.26 %", "1/400", False),
        ("-1 % .. +0 %", "1/200", False),  # 1 / 0.99 = 1.010101 is more than 1.005 / 0.995 = 1.010050
        ("-0.9 % .. +0 %", "1/200", True),  # 1 / 0.991 = 1.009082; a nominal a little above does
        ("±0 %", "0", True),
    ],
)
def test_a_tolerance_leaves_room_where_a_nominal_can_stand_between(tolerance: str, within: str, room: bool) -> None:
    assert leaves_room(read_tolerance(tolerance), Fraction(within)) is room


def test_an_oscillator_is_ruled_out_by_the_first_target_that_is_narrower() -> None:
    """The fast RC can feed the core; ±0.5 % spans 1 % and it brings 2.7 %. The slow RC brings 14 %."""
    part, plan = load_demo("01-skerry-3-steady-running")
    targets = (Target("slow_bus", at_most=31 * MHZ), Target("core", 58 * MHZ, Fraction(1, 200)))
    ruled = find_ruled_out(part, plan, targets)
    assert {(each.oscillator, each.target) for each in ruled} == {("fast_rc", 1), ("slow_rc", 1)}


def test_a_target_without_an_allowed_error_rules_nothing_out() -> None:
    part, plan = load_demo("01-skerry-3-steady-running")
    assert find_ruled_out(part, plan, (Target("core", 58 * MHZ), Target("core", at_least=MHZ))) == ()
