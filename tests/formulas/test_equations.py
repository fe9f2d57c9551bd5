"""The formula turned round: hand sums, and the laws of solving and substituting."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings

from tests.formulas.any_chain import FREQUENCY, any_chain, factor
from wheelwork.formulas import Chain, Link, evaluate, solve_for_factor, solve_for_source

AUDIO = Chain(
    "crystal",
    Fraction(24_000_000),
    (
        Link(
            "vco",
            (
                factor("R", Fraction(2), "audio.reference_divider"),
                factor("N", Fraction(15), "audio.feedback"),
                factor("k", Fraction(3460), "audio.fraction"),
                factor("m", Fraction(65536)),
            ),
        ),
        Link("master", (factor("D", Fraction(16), "audio_master"),)),
    ),
)
WANTED = Fraction(11_289_600)


def test_the_crystal_that_makes_the_audio_clock_exact() -> None:
    """11.2896 MHz · 2 · 16 / (15 + 3460/65536) = 361 267 200 · 65536 / 986 500 = 236 760 072 192/9865 Hz."""
    assert solve_for_source(AUDIO, WANTED) == Fraction(236_760_072_192, 9865)


@pytest.mark.parametrize(
    ("key", "needed"),
    [
        # the PLL's 12 MHz · (15 + 3460/65536) is 180 633 544.921875 Hz, over 11.2896 MHz:
        ("audio_master", Fraction("180633544.921875") / 11_289_600),
        # 24 MHz · (15 + 3460/65536) / (11.2896 MHz · 16) = 361 267 089.84375 / 180 633 600:
        ("audio.reference_divider", Fraction("361267089.84375") / 180_633_600),
        # 11.2896 MHz · 16 / 12 MHz = 15.0528, less 3460/65536:
        ("audio.feedback", Fraction("15.0528") - Fraction(3460, 65536)),
        # 15.0528 less 15, in parts of 65536:
        ("audio.fraction", Fraction("0.0528") * 65536),
    ],
)
def test_the_one_setting_that_makes_the_audio_clock_exact(key: str, needed: Fraction) -> None:
    assert solve_for_factor(AUDIO, key, WANTED) == needed


def test_a_fraction_that_would_have_to_be_negative_is_told_as_it_is() -> None:
    """12 MHz · (15 + k/65536) / 16 = 11.25 MHz + k · 12 MHz/2^20; for 10.5 MHz k is −0.75/12 · 2^20 = −65536."""
    assert solve_for_factor(AUDIO, "audio.fraction", Fraction(10_500_000)) == -65536


@pytest.mark.parametrize("key", ["", "audio", "m", "crystal"])
def test_a_setting_that_is_not_on_the_way_cannot_be_asked_for(key: str) -> None:
    with pytest.raises(ValueError, match="no setting of this chain"):
        solve_for_factor(AUDIO, key, WANTED)


@pytest.mark.parametrize("wanted", [Fraction(0), Fraction(-1)])
def test_a_clock_that_stands_still_cannot_be_wanted(wanted: Fraction) -> None:
    with pytest.raises(ValueError, match="cannot be wanted"):
        solve_for_source(AUDIO, wanted)
    with pytest.raises(ValueError, match="cannot be wanted"):
        solve_for_factor(AUDIO, "audio_master", wanted)


@settings(max_examples=60, deadline=None)
@given(any_chain())
def test_substituting_gives_what_walking_down_gives(chain: Chain) -> None:
    assert evaluate(chain) == chain.clock == chain.local.clock


@settings(max_examples=40, deadline=None)
@given(any_chain(), FREQUENCY)
def test_the_source_found_makes_the_clock_wanted(chain: Chain, wanted: Fraction) -> None:
    found = solve_for_source(chain, wanted)
    assert Chain(chain.source, found, chain.links).clock == wanted


@settings(max_examples=40, deadline=None)
@given(any_chain())
def test_a_setting_asked_for_the_present_clock_is_itself(chain: Chain) -> None:
    for f in chain.factors:
        assert solve_for_factor(chain, f.key, chain.clock) == f.value
