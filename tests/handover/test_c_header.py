"""The C header: compiled as C and C++ without a warning, run on the host, and proof against a digit changed by hand."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.compilers import C, run_tool
from tests.handover.plans import NAMES, judged, with_titles, written
from wheelwork.handover.c_header import read_constants
from wheelwork.handover.forms import Wish, forms
from wheelwork.judge import Judgement
from wheelwork.part.nodes import Divider, Pll, Selector

NASTY = [
    "quotes \" and ' and `",
    "the end */ int stray; /* of it",
    "*/",
    "/*/ **/ //*",
    "a line\nand another\r\nand\u2028one more\u0085",
    "ends in a backslash \\",
    "trigraphs ??/ and *??/",
    "turned \u202e round \u2066 and \u200f back",
    "unseen \u200b\ufeff\x00 here",
    "#define PLAN_CORE_HZ 1u",
    "Prüfstand 潮 Ω µ ÷ × −",
    "*÷ int stray; ÷*",
    "x" * 10_000,
    "word " * 2_000,
    " ",
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every plan as a header, with and without reasons, and a source that includes it."""
    path = tmp_path_factory.mktemp("headers")
    for name in NAMES:
        for reasons in (True, False):
            stem = f"{name}_{'with' if reasons else 'without'}"
            (path / f"{stem}.h").write_text(written(name, "c", reasons=reasons))
            (path / f"{stem}.c").write_text(f'#include "{stem}.h"\n#include "{stem}.h"\nint {identifier(stem)};\n')
    return path


def identifier(stem: str) -> str:
    return re.sub(r"\W", "_", f"any_{stem}")


@pytest.mark.parametrize("line", C.values(), ids=list(C))
def test_every_plan_compiles_without_a_warning(folder: Path, line: tuple[str, ...]) -> None:
    assert run_tool(*line, *map(str, folder.glob("*.c"))) == (0, "")


def test_all_plans_can_stand_in_one_program_under_names_of_their_own() -> None:
    whole = "\n".join(written(name, "c", f"P{place}_") for place, name in enumerate(NAMES))
    assert run_tool(*C["C11"], "-", given=f"{whole}\nint any;\n") == (0, "")


def expected(judgement: Judgement) -> Iterator[tuple[str, Fraction]]:
    """What each constant should be, by the judgement alone: whole frequencies, ratios, factors, inputs, voltage."""
    for name in judgement.way.order:
        node, base, hertz = judgement.part.nodes[name], name.upper(), judgement.clocks[name].nominal
        if hertz.denominator == 1:
            yield f"{base}_HZ", hertz
        else:
            yield f"{base}_HZ_NUMERATOR", Fraction(hertz.numerator)
            yield f"{base}_HZ_DENOMINATOR", Fraction(hertz.denominator)
        match node:
            case Divider():
                ratio = Fraction(judgement.settings[name])
                if ratio.denominator == 1:
                    yield f"{base}_RATIO", ratio
            case Selector():
                yield f"{base}_INPUT", Fraction(node.inputs.index(str(judgement.settings[name])))
            case Pll():
                yield f"{base}_REFERENCE_DIVIDER", Fraction(judgement.settings[f"{name}.reference_divider"])
                yield f"{base}_FEEDBACK", Fraction(judgement.settings[f"{name}.feedback"])
                if node.fraction_of > 1:
                    yield f"{base}_FRACTION", Fraction(judgement.settings[f"{name}.fraction"])
    volts = judgement.part.step(judgement.plan.core_voltage).volts * 1000
    if volts.denominator == 1:
        yield "CORE_MILLIVOLT", volts
    yield "FLASH_WAIT_STATES", Fraction(judgement.wait_states_chosen or 0)


def test_a_program_on_the_host_prints_the_values_of_the_judgement(tmp_path: Path) -> None:
    """Each constant as the compiler has it, printed by a program that includes the headers of all plans."""
    texts = {f"P{place}_": written(name, "c", f"P{place}_") for place, name in enumerate(NAMES)}
    names = [name for text in texts.values() for name in read_constants(text)]
    prints = "\n".join(f'    printf("{name} %llu\\n", (unsigned long long){name});' for name in names)
    source = tmp_path / "host.c"
    source.write_text("\n".join([*texts.values(), "#include <stdio.h>", "int main(void) {", prints, "}"]))
    assert run_tool("gcc", "-std=c99", "-o", str(tmp_path / "host"), str(source)) == (0, "")
    status, said = run_tool(str(tmp_path / "host"))
    printed = {name: Fraction(value) for name, value in (line.split() for line in said.splitlines())}
    assert (status, len(printed)) == (0, len(names))
    for place, name in enumerate(NAMES):
        known = {f"P{place}_{key}": value for key, value in expected(judged(name))}
        assert {key: printed.get(key) for key in known} == known


def changed_digits(text: str, prefix: str) -> Iterator[tuple[str, str]]:
    """The header once for each digit of each constant, with that digit one higher and the prefix numbered."""
    number = 0
    for found in re.finditer(rf"^#define {prefix}(\w+) +(\d+)(?:u|ULL)\b", text, re.M):
        digits = found[2]
        for place, digit in enumerate(digits):
            raised = str((int(digit) + 1) % 10)
            if place == 0 and raised == "0" and len(digits) > 1:
                raised = "8"  # a leading zero would be another number system
            edited = digits[:place] + raised + digits[place + 1 :]
            whole = text[: found.start(2)] + edited + text[found.end(2) :]
            number += 1
            yield found[1], re.sub(rf"\b{prefix}(?=[A-Za-z])", f"M{number}_", whole)


AT_ONCE = 60
"""More edited headers at once, and the compiler takes longer over its complaints than over compiling."""
TWO_WIRE = ("PRESCALER", "LOW", "HIGH", "HZ_NUMERATOR")
"""The rule of a two-wire bus is no quotient, as the header says; its rate is only held to be rounded well."""
EDITED = [name for name in NAMES if name != "06-pier-head-storm-watch"]
"""That plan has the clocks of the one before it and takes as long again."""
ALONE = {
    "03-fog-signal-44k1": {"LINK_HORN_DRIVER_ALIGNED_EDGE"},
    "04-harbour-lamp": {"LINK_LAMP_DIMMER_ALIGNED_EDGE"},
    "05-pier-head-logging": {
        *("FAST_RC_HZ", "LINK_FIELD_BUS_JUMP", "LINK_PUMP_DRIVE_ALIGNED_EDGE"),
        *(f"LINK_SENSOR_BUS_{each}" for each in TWO_WIRE),
    },
    "walk": {"CORE_MILLIVOLT"},
    "links": {
        *("LINK_EVERYTHING_JUMP", "LINK_EVERYTHING_DATA_JUMP", "LINK_LAMP_ALIGNED_CENTRE"),
        *(f"LINK_UNNAMED_{each}" for each in TWO_WIRE),
    },
}
"""By plan, the values on which nothing that is handed over hangs; that wait states may be more is known of all."""


@pytest.mark.parametrize(
    ("name", "standard"),
    [
        *((name, "C11") for name in EDITED),
        *product(["01-skerry-3-steady-running", "fraction", "links"], ["C99", "C++11"]),
    ],
)
def test_each_digit_changed_in_a_checked_value_fails_to_compile(name: str, standard: str) -> None:
    """All of them in one go: each has a prefix of its own, by which the compiler's complaints are told apart."""
    edits = list(changed_digits(written(name, "c", reasons=False), "PLAN_"))
    refused = set()
    for start in range(0, len(edits), AT_ONCE):
        given = "\n".join(edited for _, edited in edits[start : start + AT_ONCE])
        _, said = run_tool(*C[standard], "-fno-diagnostics-show-caret", "-", given=given)
        refused |= {int(number) for number in re.findall(r"error: [^\n]*?\bM(\d+)_", said)}
    missed = {constant for number, (constant, _) in enumerate(edits, 1) if number not in refused}
    assert missed == {*ALONE.get(name, ()), "FLASH_WAIT_STATES"}


def test_a_header_as_it_was_written_is_not_refused_among_edited_ones() -> None:
    """The way of the test above tells a good header from an edited one."""
    good, bad = written("walk", "c", "GOOD_"), written("walk", "c", "BAD_").replace("30u", "31u", 1)
    status, said = run_tool(*C["C11"], "-", given=f"{good}\n{bad}")
    assert (status, "BAD_" in said, '"GOOD_' in said) == (1, True, False)


def test_wait_states_below_the_flash_clocks_need_fail_to_compile() -> None:
    text = written("01-skerry-3-steady-running", "c")
    fewer = re.sub(r"(FLASH_WAIT_STATES +)2u", r"\g<1>1u", text)
    more = re.sub(r"(FLASH_WAIT_STATES +)2u", r"\g<1>3u", text)
    assert run_tool(*C["C11"], "-", given=f"{fewer}\nint any;\n")[0] == 1
    assert run_tool(*C["C11"], "-", given=f"{more}\nint any;\n") == (0, "")


def test_values_are_those_reckoned_by_hand() -> None:
    """8 MHz / 1 * 29 = 232 MHz, / 4 = 58 MHz, / 2 = 29 MHz; 29 MHz / (16 * 63/4) = 7 250 000 / 63 Bd, 63/4 = 252/16."""
    known = read_constants(written("01-skerry-3-steady-running", "c"))
    assert {key: known[f"PLAN_{key}"] for key in ("MAIN_HZ", "CORE_HZ", "SLOW_BUS_HZ", "MAIN_FEEDBACK")} == {
        "MAIN_HZ": "232000000",
        "CORE_HZ": "58000000",
        "SLOW_BUS_HZ": "29000000",
        "MAIN_FEEDBACK": "29",
    }
    console = {key.removeprefix("PLAN_LINK_CONSOLE_"): value for key, value in known.items() if "CONSOLE" in key}
    assert console == {
        "OVERSAMPLING": "16",
        "DIVISOR_X16": "252",
        "BAUD_NUMERATOR": "7250000",
        "BAUD_DENOMINATOR": "63",
        "BAUD": "115079",
    }


def test_what_stands_outside_is_said_at_the_top_and_beside_its_value() -> None:
    """The converter's clock runs at 29 MHz and may run at 27 MHz: 2 MHz over."""
    for reasons in (True, False):
        head, _, body = written("01-skerry-3-steady-running", "c", reasons=reasons).partition("#ifndef")
        assert "NOTICE: Converter clock (ADC) is over by 2 MHz." in head
        [beside] = [line for line in body.splitlines() if "Converter clock (ADC) is over" in line and "OUTSIDE" in line]
        assert beside.startswith("#define PLAN_CONVERTER_HZ ")


@pytest.mark.parametrize("name", NAMES)
def test_every_finding_that_stops_is_said_twice(name: str) -> None:
    text = " ".join(re.sub(r"\s+", " ", written(name, "c")).split())
    for finding in judged(name).findings:
        if finding.severity == "stop":
            said = finding.what.replace("\u00a0", " ").replace("\u2009", " ").rstrip(".")
            assert text.count(f"NOTICE: {said}") == 1
            assert text.count(f"OUTSIDE: {said}") >= 1


def test_a_legal_plan_has_no_notice() -> None:
    text = written("04-harbour-lamp", "c")
    assert "NOTICE" not in text
    assert "OUTSIDE" not in text


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert len({forms()["c"].write(judged("walk"), Wish()) for _ in range(3)}) == 1


def test_without_reasons_the_values_and_checks_are_the_same() -> None:
    with_reasons, without = (written("03-fog-signal-44k1", "c", reasons=reasons) for reasons in (True, False))
    assert read_constants(with_reasons) == read_constants(without)
    assert with_reasons.count("PLAN_CHECK(") == without.count("PLAN_CHECK(")
    assert len(without.splitlines()) < len(with_reasons.splitlines())


def test_what_is_rounded_says_so() -> None:
    """24 MHz / 2 * (15 + 3460 / 65536) = 11 560 546 875 / 64 Hz = 180 633 544.92 Hz."""
    text = written("03-fog-signal-44k1", "c", reasons=False)
    assert re.search(r"PLAN_AUDIO_HZ_NUMERATOR +11560546875ULL", text)
    assert re.search(r"PLAN_AUDIO_HZ_DENOMINATOR +64u", text)
    assert re.search(r"PLAN_AUDIO_HZ +180633545u  /\* rounded, not exact \*/", text)


def test_a_name_that_two_would_have_is_told_apart() -> None:
    """A PLL `fine` has a feedback, and a divider is called `fine_feedback`; both have a code."""
    known = read_constants(written("ratios", "c"))
    assert known["PLAN_FINE_FEEDBACK"] == "13"
    assert known["PLAN_FINE_FEEDBACK_RATIO"] == "2"
    assert known["PLAN_FINE_FEEDBACK_CODE"] == "5"
    assert "PLAN_LINK_ONE_2_RELOAD" in read_constants(written("links", "c"))


@pytest.mark.parametrize("line", C.values(), ids=list(C))
def test_nasty_titles_compile_without_a_warning(line: tuple[str, ...]) -> None:
    texts = [
        forms()["c"].write(with_titles(judged(name), NASTY[place:] + NASTY[:place]), Wish(f"N{place}_"))
        for place, name in enumerate(["01-skerry-3-steady-running", "03-fog-signal-44k1", "06-pier-head-storm-watch"])
    ]
    assert run_tool(*line, "-", given="\n".join([*texts, "int any;\n"])) == (0, "")


TITLES = st.lists(
    st.text(st.sampled_from("*/\\?\n\"'<> a\u202e\u00a0÷#") | st.characters(exclude_categories=["Cs"]), max_size=40),
    min_size=1,
    max_size=12,
)


@given(TITLES)
@settings(max_examples=15)
def test_no_title_gets_out_of_its_comment(titles: list[str]) -> None:
    """C99 knows trigraphs; -Wcomment and -Wtrigraphs complain of what would end a comment or join lines."""
    text = forms()["c"].write(with_titles(judged("walk"), titles), Wish())
    assert run_tool(*C["C99"], "-Wbidi-chars=any", "-", given=f"{text}\nint any;\n") == (0, "")
    assert read_constants(text).items() >= {
        (key, value) for key, value in read_constants(written("walk", "c")).items() if "LINK" not in key
    }
