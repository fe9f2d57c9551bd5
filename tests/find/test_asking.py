"""From what is asked to a question: every key, every fault at its place, bounds said."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any, get_args

import pytest

from wheelwork.find.asking import MOST_SECONDS, MOST_SHOWN, MOST_TARGETS, Asked, read_asked, read_preference
from wheelwork.find.question import Preference, PreferenceKind
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.plan import Plan, Target
from wheelwork.plan.reading import read_plan

SHEET = Path(__file__).resolve().parents[2] / "scenarios" / "parts" / "turnstone-58.toml"
USB = {"node": "usb_link", "frequency": "48 MHz", "within": "0.25 %"}


def turnstone() -> Part:
    part, problems = read_sheet(SHEET.read_text("utf-8"))
    assert part is not None, problems
    return part


def asked(raw: dict[str, Any]) -> Asked:
    read, problems = read_asked(raw, turnstone())
    assert read is not None, problems
    return read


def a_plan(**raw: Any) -> Plan:
    plan, problems = read_plan(raw, turnstone())
    assert plan is not None, problems
    return plan


def test_nothing_asked_is_the_plans_own_targets_and_ten_shown() -> None:
    plan = a_plan(target=[USB], held=["core"])
    question = asked({}).of(turnstone(), plan)
    assert question.targets == (Target("usb_link", Fraction(48_000_000), Fraction(1, 400)),)
    assert (question.pinned, question.plan.held) == ((), ("core",))
    assert (question.prefer, question.top, question.count) == ((), 10, True)


def test_an_empty_list_of_targets_is_no_target() -> None:
    assert asked({"targets": []}).of(turnstone(), a_plan(target=[USB])).targets == ()


def test_all_that_is_asked_is_in_the_question() -> None:
    read = asked(
        {
            "targets": [USB],
            "pinned": ["core_source", "main", "main.reference_divider", "core_voltage", "core"],
            "prefer": ["highest core", "least current"],
            "top": MOST_SHOWN,
            "count": False,
            "seconds": 0.5,
            "crystal": "crystal",
        }
    )
    question = read.of(turnstone(), a_plan())
    assert question.pinned == ("core_source", "main", "main.reference_divider", "core_voltage", "core")
    assert question.prefer == (Preference("highest", "core"), Preference("least current"))
    assert (question.top, question.count, read.seconds, read.crystal) == (200, False, 0.5, "crystal")


def test_the_same_pin_or_preference_twice_does_no_harm() -> None:
    read = asked({"pinned": ["core", "core"], "prefer": ["most room", "most room"]})
    assert (read.pinned, read.prefer) == (("core",), (Preference("most room"),))


def test_targets_on_a_node_that_nothing_reaches_are_a_question() -> None:
    """Whether anything fits is the search's to say."""
    assert asked({"targets": [{"node": "usb_link", "frequency": "1 GHz"}]}).targets is not None


@pytest.mark.parametrize("kind", get_args(PreferenceKind))
def test_each_preference_is_read_from_its_own_words(kind: PreferenceKind) -> None:
    meant = Preference(kind, "slow_bus" if kind in ("highest", "lowest") else None)
    assert read_preference(str(meant), turnstone()) == meant


def test_a_preference_may_be_written_as_it_is_spoken() -> None:
    assert read_preference(" Highest  slow bus", turnstone()) == Preference("highest", "slow_bus")


BAD = [
    ({"targets": [{**USB, "node": "usb_lnk"}]}, "targets.0.node", "'usb_lnk' is no node", "did you mean usb_link?"),
    ({"targets": [USB, {"node": "core"}]}, "targets.1", "nothing is asked for", "write frequency, at_least or at_most"),
    ({"targets": [{**USB, "within": "-0.25 %"}]}, "targets.0.within", "'-0.25 %' is no share", "from 0 % to below"),
    ({"targets": [{**USB, "within": "250 %"}]}, "targets.0.within", "'250 %' is no share", "from 0 % to below"),
    ({"targets": [{**USB, "within": 0.25}]}, "targets.0.within", "'0.25' is no text", "0.25 %"),
    ({"targets": [{**USB, "frequency": 48000000}]}, "targets.0.frequency", "no text with a unit", "8 MHz"),
    ({"targets": [{**USB, "frequency": "0 MHz"}]}, "targets.0.frequency", "is zero", "at least"),
    ({"targets": [{**USB, "freqency": "48 MHz"}]}, "targets.0.freqency", "is no key here", "did you mean frequency?"),
    ({"targets": [{"frequency": "48 MHz"}]}, "targets.0.node", "is missing", "every target has it"),
    ({"targets": [USB] * 1000}, "targets", "there are 1000 entries", f"at most {MOST_TARGETS}"),
    ({"targets": USB}, "targets", "is no list", "write a list"),
    ({"pinned": ["core_sorce"]}, "pinned.0", "'core_sorce' is no setting", "did you mean core_source?"),
    ({"pinned": ["core", "main.feedbck"]}, "pinned.1", "'main.feedbck' is no setting", "did you mean main.feedback?"),
    ({"pinned": ["processor"]}, "pinned.0", "Processor has no setting", "pin core above it"),
    ({"pinned": ["crystal"]}, "pinned.0", "Fast crystal oscillator has no setting", "leave it out"),
    ({"pinned": ["slow_rc"]}, "pinned.0", "has no setting", "leave it out"),
    ({"pinned": "core"}, "pinned", "is no list", "write a list"),
    ({"prefer": ["least curent"]}, "prefer.0", "'least curent' is no preference", "did you mean least current?"),
    ({"prefer": ["higest core"]}, "prefer.0", "'higest core' is no preference", "did you mean highest core?"),
    ({"prefer": ["highest"]}, "prefer.0", "'highest' is no preference", "least current, least error"),
    ({"prefer": ["highest core", "lowest core"]}, "prefer.1", "'lowest core' turns 'highest core' round", "keep one"),
    ({"prefer": ["most room"] * 17}, "prefer", "there are 17 entries", "at most 16"),
    ({"top": 1_000_000}, "top", "'1000000' is out of range", f"at most {MOST_SHOWN}"),
    ({"top": 0}, "top", "'0' is out of range", "at least 1"),
    ({"top": 2.5}, "top", "'2.5' is not of the right kind", "whole number"),
    ({"count": "yes"}, "count", "'yes' is not of the right kind", "true or false"),
    ({"seconds": 1000}, "seconds", "'1000' is out of range", f"at most {MOST_SECONDS}"),
    ({"seconds": 0}, "seconds", "'0' is out of range", "above 0"),
    ({"seconds": -1}, "seconds", "'-1' is out of range", "above 0"),
    ({"seconds": float("nan")}, "seconds", "'nan' is out of range", "above 0"),
    ({"seconds": True}, "seconds", "'True' is no number", "above 0"),
    ({"seconds": "soon"}, "seconds", "'soon' is no number", "above 0"),
    ({"crystal": "cristal"}, "crystal", "'cristal' is no oscillator", "did you mean crystal?"),
    ({"crystal": "fast_rc"}, "crystal", "Fast RC oscillator is nothing that a board fits", "crystal is"),
    ({"targts": []}, "targts", "'targts' is no key here", "did you mean targets?"),
    ({"pinned": [f"x{n}" for n in range(7000)]}, "body", "it holds more than 6000 values", "at most"),
]


@pytest.mark.parametrize(("raw", "where", "what", "allowed"), BAD, ids=[f"{case[1]}-{case[2][:24]}" for case in BAD])
def test_what_cannot_be_asked_is_named(raw: dict[str, Any], where: str, what: str, allowed: str) -> None:
    read, problems = read_asked(raw, turnstone())
    assert read is None
    assert problems[0].where == where
    assert what in problems[0].what
    assert allowed in problems[0].allowed


def test_all_problems_are_told_together() -> None:
    raw = {"targets": [{**USB, "node": "usb"}], "pinned": ["cor"], "prefer": ["mst room"], "crystal": "rc"}
    _, problems = read_asked(raw, turnstone())
    assert [problem.where for problem in problems] == ["targets.0.node", "pinned.0", "prefer.0", "crystal"]


def test_no_more_problems_are_told_than_one_reads() -> None:
    _, problems = read_asked({"pinned": [f"x{n}" for n in range(1000)]}, turnstone())
    assert len(problems) == 101
    assert problems[-1].what == "there may be more problems than these 100"
