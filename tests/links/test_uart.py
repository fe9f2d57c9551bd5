from __future__ import annotations

from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.links.families import answer_link, standards_of
from wheelwork.links.family import MOST_CHOICES, Choice, Feed, LinkAnswer
from wheelwork.links.fields import Fields, Refused
from wheelwork.links.serial_standards import STANDARDS
from wheelwork.links.standards import Standard, hold_frame
from wheelwork.links.uart import FAMILY, common_allowance, half_bit_budget, read_frame, receiver_window
from wheelwork.quantities.ratios import read_ratios
from wheelwork.quantities.spans import EXACT, Span, read_tolerance

MEGAHERTZ = 10**6


def ask(
    clock: int | Fraction, generator: dict[str, Any], tolerance: Span = EXACT, chosen: Any = None, **asked: Any
) -> tuple[LinkAnswer, Choice | None]:
    return answer_link(FAMILY, Feed(Fraction(clock), tolerance), generator, asked, chosen)


def problems_of(generator: dict[str, Any], chosen: Any = None, clock: int = 8 * MEGAHERTZ, **asked: Any) -> list[str]:
    with pytest.raises(Refused) as refused:
        ask(clock, generator, chosen=chosen, **asked)
    return [problem.sentence().replace("\u00a0", " ").replace("\u2009", " ") for problem in refused.value.problems]


@given(
    clock=st.integers(1000, 10**8),
    rate=st.integers(1, 10**6),
    oversampling=st.lists(st.integers(1, 33), min_size=1, max_size=4, unique=True),
    divisor=st.sampled_from(["1..20", "4..40 step 4", "7..7"]) | st.lists(st.integers(1, 99), min_size=1, unique=True),
    parts=st.integers(1, 9),
)
def test_the_choices_are_the_best_of_all_settings(
    clock: int, rate: int, oversampling: list[int], divisor: Any, parts: int
) -> None:
    """Beside a plain loop over every setting: least error, then the larger oversampling, then the smaller divisor."""
    generator = {"oversampling": oversampling, "divisor": divisor, "fraction_of": parts}
    rate = min(rate, clock)
    found, _ = ask(clock, generator, rate=f"{rate} Bd")
    every = []
    for samples, whole, part in product(oversampling, read_ratios(divisor), range(parts)):
        setting = whole + Fraction(part, parts)
        every.append((abs(Fraction(clock) / (samples * setting) / rate - 1), -samples, setting))
    best = [(-samples, setting) for _, samples, setting in sorted(every)[:MOST_CHOICES]]
    assert [(each.settings["oversampling"], each.settings["divisor"]) for each in found.choices] == best


@given(st.integers(16, 65535 * 16), st.sampled_from([8, 16]))
def test_a_rate_made_by_a_divisor_finds_that_divisor_again(sixteenths: int, samples: int) -> None:
    generator = {"oversampling": [samples], "divisor": "1..65535", "fraction_of": 16}
    divisor = Fraction(sixteenths, 16)
    clock = samples * divisor * 9600
    best = ask(clock, generator, rate="9600 Bd")[0].choices[0]
    assert (best.settings["divisor"], best.error) == (divisor, 0)


def test_of_equal_errors_the_larger_oversampling_comes_first() -> None:
    """14.7456 MHz / 16 / 8 and / 8 / 16 are both 115 200 Bd."""
    found, _ = ask(14745600, {"oversampling": [8, 16], "divisor": "1..65535"}, rate="115200 Bd")
    assert [(each.settings, each.error) for each in found.choices[:2]] == [
        ({"oversampling": 16, "divisor": 8}, 0),
        ({"oversampling": 8, "divisor": 16}, 0),
    ]


def test_an_error_has_both_ends_of_the_clocks_tolerance() -> None:
    """29 MHz / 16 / (63/4) = 115 079.365 Bd, 0.10472 % slow; a clock 1 % slow or fast carries straight through."""
    generator = {"oversampling": [16], "divisor": "1..65535", "fraction_of": 16}
    found, _ = ask(29 * MEGAHERTZ, generator, read_tolerance("±1 %"), rate="115200 Bd")
    best = found.choices[0]
    nominal = Fraction(29 * MEGAHERTZ, 16 * 115200) / Fraction(63, 4) - 1
    assert best.settings["divisor"] == Fraction(63, 4)
    assert best.error == nominal
    assert best.error_lowest == (1 + nominal) * Fraction(99, 100) - 1
    assert best.error_highest == (1 + nominal) * Fraction(101, 100) - 1
    assert best.verdict == "inside"


@pytest.mark.parametrize(
    ("tolerance", "verdict"), [("±0 ppm", "inside"), ("±2 %", "inside"), ("-2 % .. +2.1 %", "tight"), ("±3 %", "tight")]
)
def test_a_rate_that_only_the_tolerance_carries_out_is_tight(tolerance: str, verdict: str) -> None:
    found, _ = ask(1843200, {"divisor": "1..65535"}, read_tolerance(tolerance), rate="9600 Bd")
    assert found.verdict == verdict


def test_none_fits_is_an_answer_with_the_nearest() -> None:
    """1 MHz / 16 / 1 = 62 500 Bd, 8.5 % over 57 600 Bd (ATmega48/88/168 data sheet 2545D, Table 82)."""
    found, _ = ask(MEGAHERTZ, {"divisor": "1..4096"}, rate="57600 Bd")
    assert found.verdict == "none fits"
    assert found.choices[0].rate == 62500
    assert found.choices[0].verdict == "over"


def test_a_divisor_that_cannot_go_on_is_still_answered() -> None:
    found, _ = ask(8 * MEGAHERTZ, {"divisor": [3]}, rate="9600 Bd")
    assert [each.settings["divisor"] for each in found.choices] == [3]


def test_the_allowance_follows_the_samples_a_bit_that_a_choice_takes() -> None:
    """Recommended: 2 % at 16 samples, 1.5 % at 8 for eight bits (data sheets' error tolerance tables, 1 and 2)."""
    found, chosen = ask(
        29 * MEGAHERTZ,
        {"oversampling": [8, 16], "divisor": "1..65535", "fraction_of": 16},
        chosen={"oversampling": 8, "divisor": "31/8"},
        rate="921600 Bd",
    )
    assert chosen is not None
    assert chosen.allowance == common_allowance(8, 8)
    assert chosen.verdict == "over"  # fast by 1.51 %
    same = next(each for each in found.choices if each.settings == {"oversampling": 16, "divisor": Fraction(31, 16)})
    assert (same.rate, same.verdict) == (chosen.rate, "inside")
    assert found.allowance == found.choices[0].allowance


@pytest.mark.parametrize(
    ("frame", "bits", "share"), [("6N1", 6, "1/40"), ("7N1", 7, "1/50"), ("8N1", 8, "1/50"), ("9E1", 10, "3/200")]
)
def test_a_longer_character_bears_less(frame: str, bits: int, share: str) -> None:
    """The column of recommendations at 16 samples a bit in the error tolerance tables (ATmega48/88/168, 2545D)."""
    assert read_frame(frame) == bits
    found, _ = ask(1843200, {"divisor": "1..65535"}, rate="9600 Bd", frame=frame)
    assert found.allowance is not None
    assert found.allowance.highest == Fraction(share)


@given(st.integers(5, 10), st.integers(4, 64))
def test_what_is_recommended_leaves_both_ends_inside_the_receivers_window(bits: int, samples: int) -> None:
    share, window = common_allowance(bits, samples).highest, receiver_window(bits, samples)
    assert share is not None
    assert 0 < 2 * share < min(-window.lowest, window.highest)


def test_a_port_that_hides_its_samples_is_reckoned_with_16_and_says_so() -> None:
    allowance = common_allowance(8, 1)
    assert allowance.highest == Fraction(1, 50)
    assert "16 samples a bit, assumed" in allowance.source


def test_a_later_start_leaves_less_of_the_half_bit() -> None:
    """(1/2 - 1/16) / 9.5 = 4.605 % beside 5.263 %."""
    assert half_bit_budget(Fraction(19, 2), Fraction(1, 16)) == Fraction(7, 152)
    assert half_bit_budget(Fraction(19, 2)) == Fraction(1, 19)


@pytest.mark.parametrize(
    ("asked", "share", "source"),
    [
        ({"standard": "midi"}, "1/100", "IEC 63035:2017"),
        ({"standard": "dmx512"}, "1/50", "ANSI E1.11"),
        ({"standard": "lin", "rate": "19200 Bd"}, "1/200", "LIN 2.2A"),
        ({"standard": "modbus"}, "1/100", "MODBUS over Serial Line"),
        ({"standard": "infrared", "rate": "9600 Bd"}, "87/10000", "IrDA"),
        ({"standard": "dali"}, "1/10", "IEC 62386-101"),
        ({"standard": "profibus", "rate": "45.45 kbit/s"}, "3/1000", "IEC 61158"),
        ({"standard": "smart-card", "rate": "9600 Bd"}, "3/200", "receiver's window"),
        ({"standard": "midi", "allowance": "±3 %"}, "3/100", "the link's own"),
    ],
)
def test_the_links_own_allowance_comes_before_the_standards_and_that_before_the_receivers(
    asked: dict[str, Any], share: str, source: str
) -> None:
    """Shares as links.toml states them; nine bits of a smart card's 8E2 at 16 samples, half of 4.14 % and so 1.5 %."""
    found, _ = ask(48 * MEGAHERTZ, {"divisor": "1..65535"}, **asked)
    assert found.allowance is not None
    assert found.allowance.highest == Fraction(share)
    assert source in found.allowance.source


def test_a_plans_choice_is_judged_as_the_familys_own() -> None:
    generator = {"oversampling": [8, 16], "divisor": "1..65535", "fraction_of": 16}
    found, chosen = ask(
        29 * MEGAHERTZ, generator, chosen={"oversampling": 16, "divisor": "3021/16"}, rate="9600 Bd", allowance="±1 %"
    )
    assert chosen is not None
    assert chosen in found.choices
    assert ask(29 * MEGAHERTZ, generator, rate="9600 Bd")[1] is None


def test_the_oversampling_need_not_be_chosen_where_one_alone_is_offered() -> None:
    _, chosen = ask(1843200, {"divisor": "1..65535"}, chosen={"divisor": 12}, rate="9600 Bd")
    assert chosen is not None
    assert (chosen.settings, chosen.error) == ({"oversampling": 16, "divisor": 12}, 0)


PORT = {"oversampling": [8, 16], "divisor": "1..4096", "fraction_of": 16}


@pytest.mark.parametrize(
    ("chosen", "sentence"),
    [
        ({"divisor": 4}, "chosen.oversampling: is missing; write 16"),
        ({"oversampling": 16}, 'chosen.divisor: is missing; write "139/8"'),
        ({"oversampling": 4, "divisor": 4}, "chosen.oversampling: '4' is not offered; 8, 16 are"),
        (
            {"oversampling": 8, "divisor": "4097"},
            "chosen.divisor: '4097' is not offered; 1 to 4096 in steps of 1/16 are",
        ),
        (
            {"oversampling": 8, "divisor": "1/3"},
            "chosen.divisor: '1/3' is not offered; 1 to 4096 in steps of 1/16 are",
        ),
        ({"oversampling": 8, "divisor": 0}, "chosen.divisor: '0' is not offered; 1 to 4096 in steps of 1/16 are"),
        (
            {"oversampling": 8, "divisor": 4, "divsor": 4},
            "chosen.divsor: 'divsor' is no key here; did you mean divisor? oversampling and divisor are",
        ),
    ],
)
def test_a_choice_that_is_not_offered_is_refused(chosen: dict[str, object], sentence: str) -> None:
    assert problems_of(PORT, chosen=chosen, rate="9600 Bd") == [sentence]


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"rate": "0 Bd"}, "ask.rate: '0 Bd' is not above zero; write one above zero, such as 9600 Bd"),
        ({"rate": "-9600 Bd"}, "ask.rate: '-9600 Bd' is below what can be; a rate is at least 0 Bd"),
        ({}, 'ask.rate: is missing; write a rate such as "9600 Bd"'),
        (
            {"rate": "8000001 Bd"},
            "ask.rate: 8000001 Bd is above its clock, 8 MHz; at most 1000000 Bd comes of that clock",
        ),
        ({"standard": "midi", "rate": "9600 Bd"}, "ask.rate: '9600 Bd' is no rate of MIDI 1.0; 31250 Bd is"),
        (
            {"rate": "9600 Bd", "frame": "8X1"},
            "ask.frame: '8X1' is no frame; write data bits, parity (N, E or O), stop bits, such as 8N1 or 7E1",
        ),
        (
            {"rate": "9600 Bd", "frame": 8},
            "ask.frame: '8' is no frame; write data bits, parity (N, E or O), stop bits, such as 8N1 or 7E1",
        ),
        (
            {"standard": "midi", "frame": "7e1"},
            "ask.frame: '7e1' is no frame of MIDI 1.0; write 8N1, or leave it out",
        ),
        (
            {"standard": "modbus", "frame": "8N1"},
            "ask.frame: '8N1' is no frame of Modbus, sending; "
            "write one of 8E1, 8O1, 8N2, 7E1, 7O1 and 7N2, or leave it out",
        ),
        (
            {"rate": "9600 Bd", "parity": "none"},
            "ask.parity: 'parity' is no key here; standard, rate, frame and allowance are",
        ),
    ],
)
def test_an_asking_that_cannot_be_met_is_refused_at_its_place(asked: dict[str, Any], sentence: str) -> None:
    assert problems_of(PORT, **asked) == [sentence]


@pytest.mark.parametrize(
    ("standard", "frame", "bits"),
    [("midi", "8n1", 8), ("modbus", "8O1", 9), ("modbus", "8N2", 8), ("smart-card", "8E1", 9), ("dali", "7E2", 8)],
)
def test_a_frame_that_its_standard_knows_is_taken(standard: str, frame: str, bits: int) -> None:
    """Modbus without parity has two stop bits (V1.02, section 2.5.1); a standard that fixes no frame takes any."""
    rate = {} if standards_of("uart")[standard].rate else {"rate": "9600 Bd"}
    assert FAMILY.read_ask(Fields({"standard": standard, "frame": frame, **rate}, "ask")).bits == bits


@pytest.mark.parametrize("standard", STANDARDS, ids=lambda standard: standard.name)
def test_a_standard_knows_its_own_frames(standard: Standard) -> None:
    for frame in filter(None, (standard.frame, *standard.frames)):
        hold_frame(standard, frame)
        assert read_frame(frame) >= 5


def test_an_unknown_standard_offers_the_nearest_and_asks_for_nothing_else() -> None:
    (told,) = problems_of(PORT, standard="midy")
    assert told.startswith("ask.standard: 'midy' is not known here; did you mean midi? ")


def test_what_a_port_cannot_offer_is_refused() -> None:
    told = problems_of({"oversampling": "1..65", "divisor": ["3/2"], "fraction_of": 0}, rate="9600 Bd")
    assert told == [
        "generator.oversampling: '1..65' offers 65 numbers; at most 64 may be offered here",
        "generator.divisor: '['3/2']' holds a fraction; write whole numbers: \"1..65535\" or [8, 16]",
        "generator.fraction_of: '0' is not allowed here; a whole number from 1 to 65536 is",
    ]
