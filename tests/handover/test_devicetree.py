"""The Devicetree: the board's oscillators, taken by its compiler without a warning and read back."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.compilers import run_tool
from tests.handover.plans import NAMES, judged, with_titles, written
from tests.handover.test_c_header import NASTY
from wheelwork.handover.forms import Wish, forms
from wheelwork.judge import Judgement, judge
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.reading import read_plan


def compiled(folder: Path, text: str) -> str:
    """The source as the compiler gives it back from its own binary; it must have taken it without a word."""
    (folder / "board.dtsi").write_text(text)
    (folder / "board.dts").write_text('/dts-v1/;\n/include/ "board.dtsi"\n')
    blob = str(folder / "board.dtb")
    strict = ["-W", "node_name_chars_strict", "-W", "property_name_chars_strict"]
    assert run_tool("dtc", *strict, "-O", "dtb", "-o", blob, str(folder / "board.dts")) == (0, "")
    status, source = run_tool("dtc", "-q", "-I", "dtb", "-O", "dts", blob)
    assert status == 0
    return source


def nodes_of(source: str) -> dict[str, dict[str, str]]:
    """The nodes below the root with their properties."""
    found = re.findall(r"^\t([\w,.+-]+) \{\n(.*?)^\t\};", source, re.M | re.S)
    return {name: dict(re.findall(r"^\t\t([\w#-]+) = (.+);$", body, re.M)) for name, body in found}


@pytest.mark.parametrize("name", NAMES)
def test_every_plan_is_taken_without_a_warning(tmp_path: Path, name: str) -> None:
    for reasons in (True, False):
        compiled(tmp_path, written(name, "devicetree", reasons=reasons))


def test_the_boards_oscillators_are_fixed_clocks(tmp_path: Path) -> None:
    """8 MHz ±30 ppm and 32.768 kHz ±20 ppm: 30 000 and 20 000 parts per billion; the RC oscillators are the part's."""
    nodes = nodes_of(compiled(tmp_path, written("01-skerry-3-steady-running", "devicetree")))
    assert {name: {key: node[key] for key in sorted(node)} for name, node in nodes.items()} == {
        "clock-crystal": {
            "#clock-cells": "<0x00>",
            "clock-accuracy": f"<{30_000:#04x}>",
            "clock-frequency": f"<{8_000_000:#04x}>",
            "clock-output-names": '"crystal"',
            "compatible": '"fixed-clock"',
        },
        "clock-watch-crystal": {
            "#clock-cells": "<0x00>",
            "clock-accuracy": f"<{20_000:#04x}>",
            "clock-frequency": f"<{32_768:#04x}>",
            "clock-output-names": '"watch_crystal"',
            "compatible": '"fixed-clock"',
        },
    }


def board(**oscillators: dict[str, str]) -> Judgement:
    """A part that runs from the first of some oscillators on the board; the others are kept running."""
    raw = {
        "format": "wheelwork-part/1",
        "name": "Board",
        "core": {"clock": "core"},
        "core_voltage": {"only": {"volts": "1.2 V"}},
        "oscillator": {name: {"kind": "crystal", **table} for name, table in oscillators.items()},
        "divider": {"core": {"input": next(iter(oscillators)), "ratios": [1]}},
    }
    part, problems = read_sheet_json(raw)
    assert part is not None, problems
    plan, problems = read_plan({"keep_running": list(oscillators)}, part)
    assert plan is not None, problems
    return judge(part, plan)


def test_the_larger_side_of_a_tolerance_counts_and_is_never_made_smaller(tmp_path: Path) -> None:
    """-1.5 % .. +1.2 %: 15 000 000 parts per billion; 1/3 ppm: 333.33…, so 334."""
    judgement = board(
        skew={"frequency": "4 MHz", "tolerance": "-1.5 % .. +1.2 %"},
        fine={"frequency": "1 MHz", "tolerance": "±1/3 ppm"},
    )
    nodes = nodes_of(compiled(tmp_path, forms()["devicetree"].write(judgement, Wish())))
    assert int(nodes["clock-skew"]["clock-accuracy"].strip("<>"), 16) == 15_000_000
    assert int(nodes["clock-fine"]["clock-accuracy"].strip("<>"), 16) == 334


def test_what_does_not_fit_or_is_not_whole_is_told(tmp_path: Path) -> None:
    """A cell of 32 bits holds up to 4 294 967 295 Hz; 100/3 MHz is 33 333 333.33… Hz."""
    judgement = board(third={"frequency": "100/3 MHz"}, fast={"frequency": "5 GHz"})
    text = forms()["devicetree"].write(judgement, Wish())
    nodes = nodes_of(compiled(tmp_path, text))
    assert list(nodes) == ["clock-third"]
    assert int(nodes["clock-third"]["clock-frequency"].strip("<>"), 16) == 33_333_333
    assert "clock-accuracy" not in nodes["clock-third"]
    assert "exactly 100000000/3 Hz, the frequency is rounded; no tolerance stated" in text
    assert "fast is left out: 5000000000 Hz do not fit into a cell of 32 bits." in text


def test_names_that_are_too_long_stay_different(tmp_path: Path) -> None:
    """The Devicetree Specification allows 31 signs to a node's name."""
    alike = {f"{'long_' * 8}{end}": {"frequency": "1 MHz"} for end in ("a", "b", "c")}
    nodes = nodes_of(compiled(tmp_path, forms()["devicetree"].write(board(**alike), Wish("P" * 40))))
    assert len(nodes) == 3
    assert all(len(name) <= 31 for name in nodes)


def test_nasty_titles_are_taken_without_a_warning(tmp_path: Path) -> None:
    for place in range(len(NASTY)):
        judgement = with_titles(judged("01-skerry-3-steady-running"), NASTY[place:] + NASTY[:place])
        assert len(nodes_of(compiled(tmp_path, forms()["devicetree"].write(judgement, Wish())))) == 2
