"""Mends in words: the button names the act, the sentence what it gives. Words are those of the page's design."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.pages.sheets import dipper, judged
from wheelwork.findings import Finding, Mend
from wheelwork.pages.mend_words import MendWords, mend_label, name_acts, write_act
from wheelwork.part.outline import outline_of
from wheelwork.plan.permalink import write_permalink

F = Fraction


@pytest.mark.parametrize(
    ("mend", "at", "label"),
    [
        (Mend({"bus": F(2)}), "bus", "Set ÷2"),
        (Mend({"bus": F(2)}), "", "Set 4.1 to ÷2"),
        (Mend({"main.feedback": F(28), "tap": F(9)}), "", "Set 2.2 to ×28 and 2.3 to ÷9"),
        (Mend({"source": "crystal"}), "", "Set 3.1 to Crystal oscillator"),
        (Mend(core_voltage="full"), "", "Go to 1.2\u00a0V"),
        (Mend(wait_states=1), "", "Use 1 wait state"),
        (Mend(core_voltage="full", wait_states=2), "", "Go to 1.2\u00a0V and use 2 wait states"),
    ],
)
def test_a_button_names_the_act(mend: Mend, at: str, label: str) -> None:
    assert mend_label(dipper(), outline_of(dipper()), mend, at) == label


def test_a_mend_is_named_by_what_it_sets() -> None:
    mend = Mend({"main.feedback": F(28), "source": "crystal"}, wait_states=1)
    assert name_acts(dipper(), mend) == (
        "Main PLL feedback ×28 and Core source from Crystal oscillator and 1 wait state"
    )


def test_a_button_carries_its_act_as_fields() -> None:
    mend = Mend({"main.feedback": F(28), "source": "crystal"}, core_voltage="low", wait_states=0)
    assert write_act(mend) == "set.main.feedback=28;set.source=crystal;core_voltage=low;wait_states=0"


def test_the_sentence_says_what_the_clock_of_the_finding_becomes() -> None:
    """8 MHz / 5 = 1.6 MHz is under 2 MHz; 8 MHz / 4 = 2 MHz with -2 % reaches 40 kHz below."""
    judgement = judged(set={"bus": 5}, in_use=["processor", "port"])
    finding = Finding("bus", "stop", "Bus is under by 432 kHz.", mend=(Mend({"bus": F(3)}),))
    said = MendWords(judgement, outline_of(dipper()), write_permalink({"name": "a mend"})).view(finding, at="bus")
    # 8 MHz / 3 = 2.666666… MHz; lowest 2.613333… MHz, 613333 Hz above 2 MHz
    assert said.sentence.replace("\u00a0", " ") == "Bus ÷3 gives 2.666666… MHz, 613 kHz above the floor."
