"""Links of any family in words, sums and targets: one-sided rules, times, none allowed. Figures are hand sums."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.pages.made_links import A_MILLISECOND, PPM, MadeFamily, chosen, chosen_time, made
from wheelwork.judge.link_words import say_allowed, say_errors
from wheelwork.links.family import Allowance, Choice
from wheelwork.pages.links_sums import show_sums
from wheelwork.pages.links_target import target_of
from wheelwork.plan.plan import Target

MHZ = Fraction(10**6)
AT_MOST = Allowance(None, Fraction(0), "the device")
AT_LEAST = Allowance(Fraction(0), None, "the device")
TENTH = Allowance(Fraction(-1, 1000), Fraction(1, 1000), "this test")


def plain(text: str) -> str:
    return text.replace("\u2009", " ").replace("\u00a0", " ")


def test_a_rate_that_may_be_at_most_something_has_one_wall_and_uses_a_share_of_it() -> None:
    """29 MHz / 4 = 7.25 MHz of at most 8 MHz: 90.6 %, with the clock's 30 ppm the same; 50 + 0.90625 / 1.5 * 50."""
    link = made(chosen(4, 29 * MHZ / 4, 8 * MHZ), allowance=AT_MOST, ask={"at_most": "8 MHz"})
    said = say_errors(link, link.choice)
    assert plain(said.words) == "uses 91 % of the allowance"
    assert plain(say_allowed(link)) == "allowed at most 8 MHz"
    assert said.picture is not None
    assert (said.picture.left_wall, said.picture.right_wall, said.picture.mark) == (False, True, 80.21)


def test_a_rate_that_has_to_be_at_least_something_has_its_wall_on_the_other_side() -> None:
    """10 MHz where at least 8 MHz are wanted: 80 % of the way to the wall on the left, 50 − 0.8 / 1.5 * 50."""
    link = made(chosen(1, 10 * MHZ, 8 * MHZ, ppm=0), allowance=AT_LEAST, clock=10_000_000, ppm=0)
    said = say_errors(link, link.choice)
    assert said.picture is not None
    assert (said.picture.left_wall, said.picture.right_wall, said.picture.mark) == (True, False, 23.33)


def test_the_most_of_a_mode_is_told_by_its_rate_and_its_share_by_hand() -> None:
    """375 kHz where the mode has 400 kHz at most: 93.75 %, with the clock 30 ppm fast 93.753 %."""
    choice = chosen(1, Fraction(375_000), Fraction(400_000))
    link = made(choice, allowance=AT_MOST, clock=375_000, ask={"mode": "fast"})
    assert plain(say_allowed(link)) == "allowed at most 400 000 Hz"
    assert steps(link)[-1] == "share = 1 + error = 1 + ( −6.25 % ) = 93.8 %"


def test_what_a_family_finds_besides_the_rate_is_not_blamed_on_the_rate() -> None:
    """The rate is 6.25 % below its most, as it may be; the family says under, or tight, for a reason of its own."""
    under = made(chosen(1, Fraction(375_000), Fraction(400_000), "under"), allowance=AT_MOST)
    assert say_errors(under, under.choice).words == "does not keep what is asked"
    tight = made(chosen(1, Fraction(375_000), Fraction(400_000), "tight"), allowance=AT_MOST)
    assert say_errors(tight, tight.choice).words == "keeps what is asked only without the clock’s tolerance"


def test_what_is_missed_besides_the_rate_is_told_in_the_row() -> None:
    few = "the pulse has 50 steps, 30 short of 80"
    exact = replace(chosen(29, MHZ, MHZ, "under"), missed=(few,))
    said = say_errors(made(exact, allowance=TENTH), exact)
    assert (said.words, said.short, said.glyph) == (few, "does not keep it", "over")
    tight = replace(exact, verdict="tight")
    assert say_errors(made(tight, allowance=TENTH), tight).words == f"with tolerance {few}"
    free = Choice(settings={}, rate=None, verdict="under", missed=(few,))
    assert say_errors(made(free, allowance=None), free).words == "The pulse has 50 steps, 30 short of 80"


def test_the_end_of_a_tolerance_that_uses_more_of_its_side_is_the_one_that_is_told() -> None:
    """±9 % on −10 % to +50 %: the slow end uses 90 % of its side, the fast one 18 %."""
    allowance = Allowance(Fraction(-1, 10), Fraction(1, 2), "this test")
    choice = chosen(29, MHZ, MHZ * Fraction(1000, 1001), ppm=90_000)
    link = made(choice, allowance=allowance, ppm=90_000)
    said = say_errors(link, link.choice)
    assert plain(said.with_tolerance) == "−8.91 % with tolerance"  # 1.001 * 0.91 − 1
    assert plain(said.words) == "uses 89 % of the allowance"
    assert steps(link)[2].endswith("= −8.91 %")


def test_a_tolerance_where_nothing_is_allowed_is_no_share_of_it() -> None:
    nothing = Allowance(Fraction(0), Fraction(0), "the data phase bears nothing")
    link = made(chosen(29, MHZ, MHZ, "tight"), allowance=nothing)
    assert say_errors(link, link.choice).words == "keeps what is asked only without the clock’s tolerance"


def test_a_time_is_long_or_short_and_not_fast_or_slow() -> None:
    choice = chosen_time(3, Fraction(103, 100_000), Fraction(1, 1000), "over")
    link = made(choice, allowance=TENTH, ask=A_MILLISECOND)
    said = say_errors(link, link.choice)
    assert (said.glyph, plain(said.words)) == ("over", "long by 3 %")


def test_an_error_that_nothing_limits_is_shown_and_not_judged() -> None:
    link = made(chosen(4, 7 * MHZ, 8 * MHZ), allowance=None)
    said = say_errors(link, link.choice)
    assert (said.verdict, said.words, said.picture) == ("ring", "No allowance stated", None)
    assert plain(said.error) == "−12.5 %"
    assert say_allowed(link) == ""


@pytest.mark.parametrize(
    ("verdict", "words", "glyph"), [("inside", "Keeps what is asked", "inside"), ("under", "Does not keep", "over")]
)
def test_a_link_without_a_rate_of_its_own_still_has_its_verdict(verdict: str, words: str, glyph: str) -> None:
    link = made(Choice(settings={}, rate=None, verdict=verdict), allowance=None)  # type: ignore[arg-type]
    said = say_errors(link, link.choice)
    assert said.words.startswith(words)
    assert (said.glyph, said.error, said.picture) == (glyph, "–", None)


def test_a_link_for_which_nothing_is_offered_cannot_be_met() -> None:
    said = say_errors(made(allowance=TENTH), None)
    assert (said.words, said.verdict, said.picture) == ("Cannot be met", "outside", None)


def test_a_choice_is_judged_by_its_own_allowance() -> None:
    """0.1 % fast of the answer's ±0.1 % is all of it; of the choice's own ±0.4 % a quarter."""
    own = Allowance(Fraction(-4, 1000), Fraction(4, 1000), "its own")
    choice = chosen(1, Fraction(1001), Fraction(1000), ppm=0)
    link = made(choice, replace(choice, allowance=own), allowance=TENTH, ppm=0)
    assert link.answer is not None
    assert [plain(say_errors(link, each).short) for each in link.answer.choices] == ["uses 100 %", "uses 25 %"]


def steps(link: object) -> list[str]:
    """The steps of a sum as text."""
    shown = show_sums(link)  # type: ignore[arg-type]
    return [plain(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", str(step.math)))).strip() for step in shown]


def test_the_sum_goes_from_the_clock_to_the_share_of_the_allowance() -> None:
    """29 MHz / 30 = 966 666.6 Hz, 3.33 % slow of 1 MHz; times 0.99997 3.3362 %, 33.36 times the 0.1 % allowed."""
    link = made(chosen(30, 29 * MHZ / 30, MHZ, "under"), allowance=TENTH)
    assert steps(link) == [
        "rate = clock ratio = 29 MHz 30 = 966 666.666… Hz",
        "error = rate wanted − 1 = 966 666.666… Hz 1 000 000.000 Hz − 1 = −3.33 %",
        "at worst = ( 1 + error ) × ( 1 + tolerance ) − 1 = ( 1 + ( −3.33 % ) ) × ( 1 + ( −30 ppm ) ) − 1 = −3.34 %",
        "share = error allowance = −3.34 % −0.1 % = 3336 %",
    ]


class Timed(MadeFamily):
    """A family whose rule gives a time."""

    rule = "time = ratio / clock"


def test_the_sum_of_a_time_divides_by_the_clocks_tolerance() -> None:
    """29 000 / 29 MHz = 1 ms; with the clock 30 ppm slow it is 30.0009 ppm long."""
    choice = chosen_time(29_000, Fraction(1, 1000), Fraction(1, 1000))
    by_time = steps(made(choice, allowance=TENTH, family=Timed(), ask=A_MILLISECOND))
    assert by_time[0] == "time = ratio clock = 29 000 29 MHz = 1.000 ms"
    assert by_time[1] == "error = time wanted − 1 = 1.000 ms 1.000 ms − 1 = 0"
    assert by_time[2] == "at worst = 1 + error 1 + tolerance − 1 = 1 + 0 1 + ( −30 ppm ) − 1 = +30 ppm"
    by_rate = steps(made(choice, allowance=TENTH, ask=A_MILLISECOND))
    assert by_rate[:2] == [
        "rate = clock ratio = 29 MHz 29 000 = 1000.000 Hz",
        "time = 1 rate = 1 1000.000 Hz = 1.000 ms",
    ]
    assert by_rate[2:] == by_time[1:]


class Muddled(MadeFamily):
    """A family whose rule does not say how its rate comes about."""

    rule = "rate = clock / something else"


class Wrong(MadeFamily):
    """A family whose rule gives another rate."""

    rule = "rate = clock × ratio"


@pytest.mark.parametrize("family", [Muddled(), Wrong()])
def test_a_rule_that_does_not_give_the_rate_is_not_shown_as_if_it_did(family: MadeFamily) -> None:
    assert steps(made(chosen(30, 29 * MHZ / 30, MHZ), allowance=TENTH, family=family)) == []


def test_the_wanted_clock_makes_the_rate_exactly() -> None:
    """÷ 30 makes 1 MHz of 30 MHz; of ±0.1 % the clock's own 30 ppm go off: (0.001 − 0.00003) / 1.00003."""
    target = target_of(made(chosen(30, 29 * MHZ / 30, MHZ, "under"), allowance=TENTH))
    assert target == Target("load", 30 * MHZ, Fraction(970, 1_000_030))


def test_the_wanted_clock_of_a_time_goes_the_other_way() -> None:
    """30 000 counts of 29 MHz are 1.0345 ms; they are 1 ms of 30 MHz."""
    choice = chosen_time(30_000, Fraction(30, 29_000), Fraction(1, 1000), "over")
    target = target_of(made(choice, allowance=TENTH, ask=A_MILLISECOND))
    assert target is not None
    assert target.frequency == 30 * MHZ


def test_the_wanted_clock_of_a_rate_that_may_be_at_most_something_is_at_most_that() -> None:
    """÷ 2 of 29 MHz is 14.5 MHz where 8 are the most: 16 MHz at most, over 1.00003 for the tolerance."""
    target = target_of(made(chosen(2, 29 * MHZ / 2, 8 * MHZ, "over"), allowance=AT_MOST))
    assert target == Target("load", at_most=16 * MHZ / (1 + 30 * PPM))


def test_a_tolerance_wider_than_the_allowance_leaves_only_the_exact_clock() -> None:
    target = target_of(made(chosen(30, 29 * MHZ / 30, MHZ, "under"), allowance=TENTH, ppm=2000))
    assert target == Target("load", 30 * MHZ)
