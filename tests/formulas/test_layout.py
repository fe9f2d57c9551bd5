"""Drawers: the equation laid out, its letters named, its exact value. Expected figures are hand sums, shown beside."""

from __future__ import annotations

from fractions import Fraction
from xml.etree import ElementTree

from hypothesis import given, settings

from tests.formulas.any_chain import any_chain
from tests.formulas.mathml import read_letters, read_numbers, sides
from wheelwork.formulas import Chain, Factor, Link, draw

MHZ = 10**6


def values_of(chain: Chain) -> dict[str, Fraction]:
    """What each letter of a chain is worth, numbered from the source down where it stands more than once."""
    worth: dict[str, list[Fraction]] = {}
    for factor in chain.factors:
        worth.setdefault(factor.letter, []).append(factor.value)
    named = {letter: values[0] for letter, values in worth.items() if len(values) == 1}
    for letter, values in worth.items():
        named.update({f"{letter}{number}": value for number, value in enumerate(values, 1)} if len(values) > 1 else {})
    return {**named, f"f{chain.source}": chain.frequency, f"f{chain.local.source}": chain.local.frequency}


def divided(title: str, ratio: int | str) -> Link:
    return Link(title, (Factor("D", Fraction(ratio), title),))


VCO = Link("VCO", (Factor("R", Fraction(1), "reference divider"), Factor("N", Fraction(29), "feedback multiplier")))
CHAIN = Chain("Fast crystal oscillator", Fraction(8 * MHZ), (VCO, divided("Tap", 9), divided("Bus", 2)))
AUDIO = Link(
    "VCO",
    (
        Factor("R", Fraction(2), "reference divider"),
        Factor("N", Fraction(15), "feedback multiplier"),
        Factor("k", Fraction(3460), "fraction"),
        Factor("m", Fraction(65536), "fraction steps"),
    ),
)


def text_of(side: list[ElementTree.Element]) -> str:
    return "".join("".join(element.itertext()) for element in side)


def test_a_vco_reads_as_in_a_textbook() -> None:
    """(8 MHz / 1) · 29 = 232 MHz."""
    drawer = draw(Chain("Crystal", Fraction(8 * MHZ), (VCO,)))
    assert drawer.local == (
        '<math display="block">'
        "<msub><mi>f</mi><mtext>VCO</mtext></msub><mo>=</mo>"
        "<mrow><mfrac><msub><mi>f</mi><mtext>Crystal</mtext></msub><mrow><mi>R</mi></mrow></mfrac>"
        "<mo>·</mo><mi>N</mi></mrow><mo>=</mo>"
        '<mrow><mfrac><mrow><mn>8</mn><mspace width="0.2em"></mspace><mtext>MHz</mtext></mrow>'
        "<mrow><mn>1</mn></mrow></mfrac><mo>·</mo><mn>29</mn></mrow><mo>=</mo>"
        '<mrow><mn>232</mn><mspace width="0.2em"></mspace><mtext>MHz</mtext></mrow>'
        "</math>"
    )
    assert drawer.letters == "R reference divider 1, N feedback multiplier 29."
    assert drawer.whole is None
    assert drawer.exact is None


def test_a_letter_that_stands_twice_is_numbered_alike_everywhere() -> None:
    drawer = draw(CHAIN)
    assert drawer.letters == "R reference divider 1, N feedback multiplier 29, D₁ Tap 9, D₂ Bus 2."
    assert drawer.whole is not None
    assert [text_of(side) for side in sides(drawer.local)][:2] == ["fBus", "fTapD2"]
    assert [text_of(side) for side in sides(drawer.whole)][:2] == ["fBus", "fFast crystal oscillatorR·D1·D2·N"]


def test_both_forms_come_to_the_same_with_letters_and_with_numbers() -> None:
    """8 MHz / (1 · 9 · 2) · 29 = 116/9 MHz; from the tap 232/9 MHz / 2."""
    drawer = draw(CHAIN)
    assert drawer.whole is not None
    for text in (drawer.local, drawer.whole):
        assert read_letters(text, values_of(CHAIN)) == read_numbers(text) == Fraction(116 * MHZ, 9)


def test_a_frequency_that_does_not_come_out_even_is_cut_and_told_exactly() -> None:
    """116/9 = 12.888…; pages cut after six decimals."""
    drawer = draw(CHAIN)
    assert text_of(sides(drawer.local)[-1]) == "12.888888…MHz"
    assert drawer.exact == "Exactly 116/9 MHz."


def test_a_frequency_that_feeds_the_sum_is_never_cut() -> None:
    """24 MHz / 2 · (15 + 3460/65536) = 180.633544921875 MHz; over 16 it is 11.2895965576171875 MHz."""
    drawer = draw(Chain("Crystal", Fraction(24 * MHZ), (AUDIO, divided("Master", 16))))
    assert text_of(sides(drawer.local)[2]) == "180.633544921875MHz16"
    assert drawer.exact == "Exactly 11.2895965576171875 MHz."


def test_a_fraction_stands_in_brackets_beside_its_feedback() -> None:
    drawer = draw(Chain("Crystal", Fraction(24 * MHZ), (AUDIO,)))
    letters, numbers = sides(drawer.local)[1:3]
    assert text_of(letters) == "fCrystalR·(N+km)"
    assert text_of(numbers) == "24MHz2·(15+346065536)"
    assert drawer.letters == "R reference divider 2, N feedback multiplier 15, k fraction 3460, m fraction steps 65536."


def test_a_scaler_and_a_broken_ratio_stand_as_fractions() -> None:
    """90 MHz / (3/2) · (1/2) = 30 MHz."""
    half = Link("Half", (Factor("S", Fraction(1, 2), "Half"),))
    drawer = draw(Chain("Source", Fraction(90 * MHZ), (divided("Bus", "3/2"), half)))
    assert drawer.letters == "D Bus 3/2, S Half 1/2."
    assert drawer.whole is not None
    assert "<mfrac><mn>3</mn><mn>2</mn></mfrac>" in drawer.whole
    assert read_numbers(drawer.whole) == read_numbers(drawer.local) == 30 * MHZ


def test_a_load_is_what_feeds_it() -> None:
    drawer = draw(Chain("Source", Fraction(32768), (divided("Tap", 4), Link("Calendar"))))
    assert [text_of(side) for side in sides(drawer.local)] == ["fCalendar", "fTap", "8.192kHz"]
    assert drawer.whole is not None
    assert [text_of(side) for side in sides(drawer.whole)] == ["fCalendar", "fSourceD", "32.768kHz4", "8.192kHz"]


def test_a_load_straight_from_its_source_has_no_second_form() -> None:
    drawer = draw(Chain("Watch crystal", Fraction(32768), (Link("Calendar"),)))
    assert [text_of(side) for side in sides(drawer.local)] == ["fCalendar", "fWatch crystal", "32.768kHz"]
    assert drawer.whole is None
    assert drawer.letters == "Straight from Watch crystal, with no ratio on the way."


def test_a_source_alone_is_its_frequency() -> None:
    drawer = draw(Chain("Watch crystal", Fraction(32768)))
    assert [text_of(side) for side in sides(drawer.local)] == ["fWatch crystal", "32.768kHz"]


def test_a_title_never_becomes_markup() -> None:
    title = "</mtext><script>alert(\"1\")</script>&amp;<b title='x'>"
    drawer = draw(Chain(title, Fraction(8 * MHZ), (divided("Tap", 2), divided(title, 3))))
    assert drawer.whole is not None
    for text in (drawer.local, drawer.whole):
        tree = ElementTree.fromstring(text)
        assert {e.tag for e in tree.iter()} <= {"math", "msub", "mi", "mn", "mo", "mrow", "mfrac", "mtext", "mspace"}
        assert title in [e.text for e in tree.iter("mtext")]
        assert "<script" not in text


@settings(deadline=None)
@given(any_chain())
def test_what_stands_in_letters_comes_to_the_clock(chain: Chain) -> None:
    drawer = draw(chain)
    for form, text in ((chain.local, drawer.local), (chain, drawer.whole or drawer.local)):
        if form.links:
            assert read_letters(text, values_of(chain)) == chain.clock


@settings(deadline=None)
@given(any_chain())
def test_what_stands_in_numbers_comes_to_the_clock(chain: Chain) -> None:
    drawer = draw(chain)
    for form, text in ((chain.local, drawer.local), (chain, drawer.whole or drawer.local)):
        assert read_numbers(text) == (chain.clock if form.factors else None)
