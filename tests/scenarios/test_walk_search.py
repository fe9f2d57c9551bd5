"""README's search on the walk's plan: the command that is shown says what is shown."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from wheelwork.command import main

ROOT = Path(__file__).resolve().parents[2]
SECTION = (ROOT / "README.md").read_text("utf-8").partition("\n### Which settings would give me this?\n")[2]
COMMAND, SHOWN = re.findall(r"^```\n(.*?)^```$", SECTION, re.M | re.S)[:2]


def plain(said: str) -> str:
    """What was said with plain spaces, the time that it took left out."""
    return re.sub(r"searched in \S+ m?s", "searched in …", re.sub("[\u2009\u00a0]", " ", said))


def test_the_search_shown_says_what_is_shown(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    program, *arguments = shlex.split(COMMAND.replace("\\\n", " "))
    assert program == "wheelwork"
    monkeypatch.chdir(ROOT / "scenarios" / "walk")
    assert main(arguments) == 0
    said = plain(capsys.readouterr().out)
    assert said.startswith(plain(SHOWN))
    assert said.removeprefix(plain(SHOWN)).startswith("\nThe first, as it stands in a plan:\n")


def test_the_clocks_shown_are_those_of_a_sum_by_hand() -> None:
    """8 MHz / 1 · 16 = 128 MHz in the VCO's 64 to 160; / 8 = 16 MHz, the core's limit; / 4 = 32 MHz for the dimmer."""
    rows = [line.split() for line in SHOWN.splitlines()[4:]]
    assert [row[:5] for row in rows] == [[str(place), "16", "MHz", "32", "MHz"] for place in (1, 2, 3)]


def test_the_count_shown_is_that_of_a_sum_by_hand() -> None:
    """32 MHz · 2 = 64 and · 4 = 128 MHz are in the VCO's window, · 6 is not; the RC's 2 % cannot keep 0.1 %.

    From 8 MHz that is feedback over reference 8 (16/2, 24/3, 32/4) or 16 (16/1, 32/2, 48/3): 3 + 3, each with one core
    tap, for 15 to 16 MHz (÷ 4, ÷ 8). The bus (up to 8 MHz) is 8 or 4 MHz; the sensor (0.25 to 1.5 MHz) divides by 6 to
    16 or by 3 to 16: 11 + 14. In all 6 · 25; the three of equal ratio are one row.
    """
    assert SHOWN.splitlines()[1].startswith(f"{6 * (11 + 14)} settings fit.")
    assert {line.split()[10] for line in SHOWN.splitlines()[4:]} == {"3"}
