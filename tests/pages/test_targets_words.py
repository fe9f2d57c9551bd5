"""The sentences of the Targets page: a proof only where there is one, a count that says what it is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.demo import load_demo
from wheelwork.find.combs import Combs
from wheelwork.find.question import Answer, Blame, Opening, Progress, Question
from wheelwork.find.saying import head_count, say_proof
from wheelwork.pages.targets_words import (
    label_opening,
    name_clock,
    name_setting,
    say_blame,
    say_combs,
    say_progress,
    say_ruled_out,
    say_wish,
    view_blame,
)
from wheelwork.plan.plan import Target

MHZ = Fraction(10**6)
PART, PLAN = load_demo("01-skerry-3-steady-running")
TARGETS = (
    Target("core", 58 * MHZ, Fraction(1, 200)),
    Target("usb_link", 48 * MHZ, Fraction(1, 400)),
    Target("slow_bus", at_most=31 * MHZ),
)
QUESTION = Question(part=PART, plan=replace(PLAN, held=("core_source", "main")), targets=TARGETS)
A, B, C = (Blame(target=number) for number in range(3))


def plain(text: str) -> str:
    """Text with plain spaces."""
    return text.replace("\u00a0", " ").replace("\u2009", " ")


def answer(fits: bool | None, complete: bool, admissible: int | None, searched: int | None = 7_983_360) -> Answer:
    return Answer(question=QUESTION, fits=fits, complete=complete, admissible=admissible, searched=searched)


@pytest.mark.parametrize(
    ("given", "head", "proof"),
    [
        (answer(True, True, 10), "10 settings fit", "All 7 983 360 were searched in 0.4 s, so there are no others."),
        (answer(True, True, 1), "1 setting fits", "All 7 983 360 were searched in 0.4 s, so there are no others."),
        (
            answer(True, True, 10, None),
            "10 settings fit",
            "Every setting was searched in 0.4 s, so there are no others.",
        ),
        (answer(False, True, 0), "Nothing fits", "All 7 983 360 settings were searched in 0.4 s."),
        (
            answer(True, False, 12),
            "At least 12 settings fit",
            "Not decided within 0.4 s: there may be more, and better",
        ),
        (answer(None, False, 0), "Not decided", "Time ended after 0.4 s: whether any setting fits is open."),
        (answer(True, False, None), "At least 1 setting fits", "Not decided within 0.4 s: there may be more"),
    ],
)
def test_the_heading_and_its_proof(given: Answer, head: str, proof: str) -> None:
    assert plain(head_count(given)) == head
    assert plain(say_proof(given, 0.4, stopped=False)).startswith(proof)


def test_a_stopped_search_claims_no_proof() -> None:
    said = say_proof(answer(True, False, 12), 3.0, stopped=True)
    assert plain(said) == "Stopped after 3 s: there may be more, and better ones."


@pytest.mark.parametrize(
    ("progress", "said"),
    [
        (Progress(40_000_000, 64_000_000, 12), "40 of 64 million tried, 12 fit so far. About 9 s to go."),
        (Progress(400, 640, 1), "400 of 640 tried, 1 fits so far. About 9 s to go."),
        (Progress(5 * 10**16, 8 * 10**16, 0), "62.5 % of 8.000 × 10¹⁶ tried. About 9 s to go."),
        (Progress(400, None, 3), "400 tried, 3 fit so far. It ends after 30 s at the latest."),
        (Progress(0, None, 1), "Begun 15 s ago, 1 fits so far. It ends after 30 s at the latest."),
        (None, "Begun 15 s ago. It ends after 30 s at the latest."),
    ],
)
def test_progress_in_words(progress: Progress | None, said: str) -> None:
    """5 of 8 parts in 15 s: 3 parts left, 9 s."""
    assert plain(say_progress(progress, 15.0, 30.0)) == said


@pytest.mark.parametrize(
    ("target", "said"),
    [
        (TARGETS[0], "58 MHz, ±0.5 %"),
        (TARGETS[2], "at most 31 MHz"),
        (Target("core", 48 * MHZ), "48 MHz exactly"),
        (Target("core", at_least=4 * MHZ, at_most=8 * MHZ), "at least 4 MHz and at most 8 MHz"),
    ],
)
def test_a_wish_in_words(target: Target, said: str) -> None:
    assert plain(say_wish(target)) == said


@pytest.mark.parametrize(
    ("conflict", "said"),
    [
        ((A, B), "These two already exclude each other, whatever the other targets ask."),
        ((A,), "This one cannot be met, whatever the other targets ask."),
        ((A, B, C), "These three cannot hold together; any two of them can."),
        ((Blame(pinned="main"),), "No target is to blame: this setting, held as it is, excludes everything."),
        (
            (Blame(pinned="main"), Blame(pinned="core_source")),
            "No target is to blame: these two settings, held as they are, already exclude each other.",
        ),
        (
            (Blame(load="usb_link"), Blame(load="processor")),
            "No target and nothing held is to blame: these two loads cannot run together, whatever the settings.",
        ),
        ((), "What is to blame was not decided within the time."),
    ],
)
def test_who_is_to_blame(conflict: tuple[Blame, ...], said: str) -> None:
    assert say_blame(QUESTION, conflict) == said


def test_the_blamed_are_lettered_and_say_what_is_wanted() -> None:
    first, second, third = view_blame(QUESTION, (A, Blame(pinned="core_source"), Blame(load="processor")))
    assert (first.letter, first.title, plain(first.wish)) == ("A", "Core clock", "58 MHz, ±0.5 %")
    assert (second.letter, second.title) == ("B", "Core source stays PLL core tap")
    assert (third.letter, third.title) == ("C", "Processor is in use")


def opening(kind: str, **changes: object) -> Opening:
    question = replace(QUESTION, **changes)  # type: ignore[arg-type]
    return Opening(kind=kind, act="Do it", detail="", admissible=1, question=question)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("given", "label"),
    [
        (opening("leave out", targets=(TARGETS[0], TARGETS[2])), "Leave B out"),
        (opening("set", targets=(Target("core", 48 * MHZ, Fraction(1, 200)), *TARGETS[1:])), "Set A to 48 MHz"),
        (opening("widen", targets=(TARGETS[0], replace(TARGETS[1], within=Fraction(1, 25)), TARGETS[2])), "Widen B"),
        (opening("let go", plan=replace(PLAN, held=("main",))), "Let C go"),
        (opening("crystal", plan=QUESTION.plan), "Do it"),
    ],
)
def test_an_opening_is_a_button_that_names_the_act(given: Opening, label: str) -> None:
    assert plain(label_opening(QUESTION, (A, B, Blame(pinned="core_source")), given)) == label


def test_what_a_tolerance_rules_out_is_said_of_its_clock_alone() -> None:
    """The fast RC oscillator brings −1.5 % to +1.2 %, the slow one ±7 %; ±0.5 % is narrower than either."""
    core = replace(QUESTION, targets=TARGETS[:1])
    assert [plain(said) for said in say_ruled_out(core)] == [
        "The core clock cannot come from the fast RC oscillator: its −1.5 % to +1.2 % alone is more than ±0.5 %.",
        "The core clock cannot come from the slow RC oscillator: its ±7 % alone is more than ±0.5 %.",
    ]


def test_combs_say_what_they_are_drawn_for_where_nothing_holds_it() -> None:
    combs = Combs(
        clock="main",
        window=PART.nodes["main"].window("full"),
        teeth=((116 * MHZ,), (96 * MHZ,)),
        core_voltage="full",
        selectors=("reference",),
    )
    where = (
        "Where the VCO would have to stand, inside its window of 84 to 276 MHz: above the line for A, below it for B."
    )
    free = plain(say_combs(QUESTION, combs))
    assert free == f"{where} The two never meet. Drawn for 1.15 V and PLL reference: fast crystal oscillator."
    held = replace(QUESTION, pinned=("core_voltage",))
    assert plain(say_combs(held, replace(combs, selectors=()))) == f"{where} The two never meet."


@pytest.mark.parametrize(
    ("demo", "key", "name"),
    [
        ("01-skerry-3-steady-running", "main", "PLL factors"),
        ("01-skerry-3-steady-running", "main.feedback", "PLL feedback"),
        ("03-fog-signal-44k1", "main", "Main PLL factors"),
        ("03-fog-signal-44k1", "core_voltage", "Core voltage"),
    ],
)
def test_a_setting_by_its_name(demo: str, key: str, name: str) -> None:
    assert name_setting(load_demo(demo)[0], key) == name


def test_a_pll_as_a_clock_is_its_vco() -> None:
    assert name_clock(PART, "main") == "VCO"
    assert name_clock(load_demo("03-fog-signal-44k1")[0], "audio") == "Audio PLL VCO"
