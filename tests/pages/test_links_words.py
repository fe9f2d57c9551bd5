"""A link in words: its error, how much of the allowance it uses, its digits. Figures are sums shown beside them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.pages.boards import RADIO, SLOW, TIDE, TOO_FAST, judged_with
from wheelwork.judge.link_words import (
    say_allowed,
    say_error,
    say_errors,
    say_kind,
    say_mixed,
    say_rate,
    say_share,
    say_wanted,
    spell,
)
from wheelwork.judge.rates import JudgedLink, judge_links


def plain(text: str) -> str:
    return text.replace("\u2009", " ").replace("\u00a0", " ")


def judged(**changes: object) -> JudgedLink:
    """The radio modem's link with something changed."""
    return judge_links(judged_with({**RADIO, **changes}))[0]


@pytest.mark.parametrize(
    ("rate", "unit", "said"),
    [
        ("29000000/252", "Bd", "115 079.365… Bd"),
        ("20000", "Hz", "20 000.000 Hz"),
        ("1", "Hz", "1.000 Hz"),
        ("2900000/3", "Hz", "966 666.666… Hz"),
        ("48000000", "Hz", "48.000 000 MHz"),
        ("1/29000000", "s", "34.482… ns"),
        ("2", "s", "2.000 s"),
    ],
)
def test_a_rate_has_three_decimals_and_is_cut_not_rounded(rate: str, unit: str, said: str) -> None:
    assert plain(say_rate(Fraction(rate), unit)) == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        ("-1/30", "−3.33 %"),
        ("0.0151", "+1.51 %"),
        ("-0.0000552", "−55.2 ppm"),
        ("0.001", "+0.1 %"),
        ("0.00099", "+990 ppm"),
        ("0", "0"),
    ],
)
def test_an_error_is_told_in_percent_or_in_parts_per_million(share: str, said: str) -> None:
    assert plain(say_error(Fraction(share))) == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        ("3/4", "75 %"),
        ("0.005", "under 1 %"),
        ("1", "100 %"),
        ("0.999", "just under 100 %"),
        ("1.001", "just over 100 %"),
        ("12", "1200 %"),
    ],
)
def test_a_share_is_told_in_whole_percent_and_never_as_the_whole_where_it_is_not(share: str, said: str) -> None:
    assert plain(say_share(Fraction(share))) == said


@pytest.mark.parametrize(
    ("value", "parts", "said"),
    [
        (Fraction(63, 4), 16, "15 12/16"),
        (Fraction(63, 4), 1, "15 3/4"),
        (Fraction(12), 16, "12"),
        (32768, 1, "32 768"),
        ("edge", 1, "edge"),
        (None, 1, "–"),
    ],
)
def test_a_divisor_stands_in_the_parts_its_hardware_has(value: Fraction | int | str, parts: int, said: str) -> None:
    assert plain(say_mixed(value, parts)) == said


def test_what_was_written_is_grouped_and_keeps_its_unit_beside_it() -> None:
    assert spell("921600 Bd") == "921\u2009600\u00a0Bd"
    assert spell("0.123456 ms") == "0.123456\u00a0ms"


def test_a_link_says_what_it_is_and_what_is_wanted() -> None:
    link = judge_links(judged_with(TIDE))[0]
    assert (plain(say_wanted(link)), say_kind(link)) == ("9600 Bd", "asynchronous serial, 8N1")


def test_a_standard_says_the_rate_where_the_link_does_not() -> None:
    link = judge_links(judged_with({"load": "serial_port", "family": "uart", "standard": "midi"}))[0]
    assert plain(say_wanted(link)) == "31 250 Bd"
    assert say_kind(link).startswith("asynchronous serial, MIDI")


def test_an_error_inside_says_how_much_of_the_allowance_it_uses() -> None:
    """906 250 / 921 600 − 1 = −1.6655 %, with −30 ppm −1.6685 %: 83.4 % of 2 %."""
    link = judged(allowance="±2 %")
    said = say_errors(link, link.choice)
    assert (plain(said.error), plain(said.with_tolerance)) == ("−1.67 %", "−1.67 % with tolerance")
    assert (said.verdict, plain(said.words)) == ("inside", "uses 83 % of the allowance")
    assert plain(say_allowed(link)) == "allowed ±2 %"
    assert said.picture is not None
    assert said.picture.mark == 22.24  # 50 − 0.832755 / 1.5 * 50


def test_a_tolerance_past_the_wall_is_told_as_such() -> None:
    """−1.66558 % of ±1.667 %: inside, and with −30 ppm −1.66853 %, just past."""
    link = judged(allowance="±1.667 %")
    said = say_errors(link, link.choice)
    assert (said.verdict, said.glyph) == ("tight", "tight-lower")
    assert plain(said.words) == "with tolerance just over 100 % of the allowance"


@pytest.mark.parametrize(
    ("link", "words", "glyph"),
    [(SLOW, "slow by 4.65 %", "under"), (TOO_FAST, "slow by 2.52 %", "under")],
)
def test_an_error_outside_says_by_how_much(link: dict[str, object], words: str, glyph: str) -> None:
    found = judge_links(judged_with(link))[0]
    said = say_errors(found, found.choice)
    assert (said.verdict, said.glyph, plain(said.words)) == ("outside", glyph, words)


def test_an_exact_rate_uses_nothing() -> None:
    """29 MHz / (16 * 1) = 1 812 500 Bd; the clock's tolerance is all that is left, 30 ppm of 2 %."""
    link = judged(rate="1812500 Bd", chosen={"oversampling": 16, "divisor": 1})
    said = say_errors(link, link.choice)
    assert (said.error, plain(said.with_tolerance), plain(said.words)) == (
        "0",
        "±30 ppm with tolerance",
        "uses under 1 % of the allowance",
    )
