"""Counting by address."""

from __future__ import annotations

from wheelwork.access.counts import Rate, WrongOnes


class Clock:
    """A clock that goes when told."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def test_a_minute_holds_so_many_and_fills_again_evenly() -> None:
    clock = Clock()
    rate = Rate(120, now=clock)
    assert [rate.wait("a") for _ in range(121)] == [0.0] * 120 + [0.5]
    assert rate.wait("b") == 0.0
    clock.now += 0.5
    assert [rate.wait("a"), rate.wait("a")] == [0.0, 0.5]
    clock.now += 3600
    assert [rate.wait("a") > 0 for _ in range(121)] == [False] * 120 + [True]


def test_a_rate_of_nothing_lets_everything_pass() -> None:
    rate = Rate(0)
    assert not any(rate.wait("a") for _ in range(10_000))
    assert rate._left == {}


def test_the_fifth_wrong_one_is_the_last_within_a_minute() -> None:
    clock = Clock()
    wrong = WrongOnes(now=clock)
    for _ in range(5):
        assert wrong.wait("a") == 0.0
        wrong.add("a")
        clock.now += 10
    assert (wrong.wait("a"), wrong.wait("b")) == (10.0, 0.0)
    clock.now += 10
    assert wrong.wait("a") == 0.0
    wrong.add("a")
    assert wrong.wait("a") == 10.0  # the second of them is fifty seconds old


def test_the_right_one_wipes_the_slate() -> None:
    wrong = WrongOnes(now=Clock())
    for _ in range(5):
        wrong.add("a")
    wrong.forget("a")
    assert wrong.wait("a") == 0.0


def test_only_so_many_addresses_are_remembered() -> None:
    clock = Clock()
    rate, wrong = Rate(1, now=clock, most=3), WrongOnes(now=clock, most=3)
    for name in "abcda":
        rate.wait(name)
        wrong.add(name)
    assert list(rate._left) == list(wrong._at) == ["c", "d", "a"]
