"""`wheelwork header`: the text of a form on standard output, and a file held against its plan."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.compilers import C, run_tool
from tests.demo import PLANS, SCENARIOS, load_demo
from tests.house.tree import ROOT
from wheelwork.command import main
from wheelwork.handover.forms import Wish, forms
from wheelwork.judge import judge

SKERRY = str(PLANS[0])
LAMP = str(SCENARIOS / "plans" / "04-harbour-lamp.toml")
WALK = ("--part", str(SCENARIOS / "walk" / "buoy-16.toml"), str(SCENARIOS / "walk" / "channel-buoy-4.toml"))
README = (ROOT / "README.md").read_text()
Capture = pytest.CaptureFixture[bytes]


def handed(capture: Capture, *arguments: str) -> tuple[int, str, str]:
    """Exit status, text and faults of the command."""
    status = main(["header", *arguments])
    said = capture.readouterr()
    return status, said.out.decode(), said.err.decode()


@pytest.mark.parametrize("form", forms())
@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_the_text_is_the_forms_own(path: Path, form: str, capfdbinary: Capture) -> None:
    judgement = judge(*load_demo(path.stem))
    status, text, _ = handed(capfdbinary, str(path), "--form", form, "--prefix", "CLOCK_", "--no-reasons")
    assert text == forms()[form].write(judgement, Wish("CLOCK_", False))
    assert status == (0 if judgement.legal else 1)


def test_a_c_header_is_what_comes_unasked(capfdbinary: Capture) -> None:
    status, text, faults = handed(capfdbinary, LAMP)
    assert (status, faults) == (0, "")
    assert run_tool(*C["C11"], "-", given=f"{text}\nint any;\n") == (0, "")


def test_what_stops_is_told_where_faults_go_and_the_text_comes_all_the_same(capfdbinary: Capture) -> None:
    status, text, faults = handed(capfdbinary, SKERRY)
    assert (status, faults.splitlines()[0]) == (1, "stop: Converter clock (ADC) is over by 2\u00a0MHz.")
    assert text.startswith("/* Skerry 3, steady running")


def test_the_bytes_are_the_same_whatever_the_terminal(tmp_path: Path) -> None:
    """An encoding of 7 bits, another folder, another seed of Python's: a header in a repository is one for all."""
    line = [sys.executable, "-m", "wheelwork", "header", SKERRY, "--form", "csv"]
    made = [
        subprocess.run(line, capture_output=True, cwd=folder, env={**os.environ, **more}, check=False).stdout
        for folder, more in ((tmp_path, {"PYTHONIOENCODING": "ascii"}), (ROOT, {"PYTHONHASHSEED": "7", "LC_ALL": "C"}))
    ]
    assert made[0] == made[1] == forms()["csv"].write(judge(*load_demo(PLANS[0].stem)), Wish()).encode()


def test_a_file_that_is_what_the_plan_gives_is_exit_0(tmp_path: Path, capfdbinary: Capture) -> None:
    for form in forms():
        kept = tmp_path / form
        kept.write_text(handed(capfdbinary, *WALK, "--form", form)[1], newline="")
        assert handed(capfdbinary, *WALK, "--form", form, "--check", str(kept))[::2] == (0, "")


def test_line_ends_of_another_system_do_not_count(tmp_path: Path, capfdbinary: Capture) -> None:
    kept = tmp_path / "clocks.h"
    kept.write_bytes(handed(capfdbinary, *WALK)[1].replace("\n", "\r\n").encode())
    assert handed(capfdbinary, *WALK, "--check", str(kept))[0] == 0


@pytest.mark.parametrize("form", ["c", "rust"])
def test_each_constant_that_differs_is_named(form: str, tmp_path: Path, capfdbinary: Capture) -> None:
    """8 MHz / 2 * 30 / 8 = 15 MHz: the plan of the walk."""
    kept = tmp_path / "clocks"
    text = handed(capfdbinary, *WALK, "--form", form)[1]
    text = re.sub(r"(PLAN_CORE_HZ\b[^\n]*? )15(_?000_?000)", r"\g<1>16\g<2>", text, count=1)
    text = re.sub(r"\bPLAN_BUS_RATIO\b", "PLAN_OLD_BUS_RATIO", text)
    kept.write_text(text)
    status, said, _ = handed(capfdbinary, *WALK, "--form", form, "--check", str(kept))
    assert status == 1
    assert said.splitlines() == [
        f"{kept}: no longer what the plan gives",
        "  PLAN_CORE_HZ: 16000000 in the file, the plan gives 15000000",
        "  PLAN_BUS_RATIO: not in the file, the plan gives 2",
        "  PLAN_OLD_BUS_RATIO: 2 in the file, the plan does not have it",
    ]


def test_a_text_that_differs_with_the_same_constants_is_told_by_its_lines(tmp_path: Path, capfdbinary: Capture) -> None:
    kept = tmp_path / "clocks.h"
    kept.write_text(handed(capfdbinary, *WALK)[1].replace("Channel buoy 4 at night", "Channel buoy 5", 1))
    status, said, _ = handed(capfdbinary, *WALK, "--check", str(kept))
    assert status == 1
    assert "every constant is the same; the text around them differs" in said
    assert "-/* Channel buoy 5\n+/* Channel buoy 4 at night\n" in said


def test_another_plans_header_tells_the_first_twenty_differences(tmp_path: Path, capfdbinary: Capture) -> None:
    kept = tmp_path / "clocks.h"
    kept.write_text(handed(capfdbinary, LAMP)[1])
    status, said, _ = handed(capfdbinary, SKERRY, "--check", str(kept))
    assert (status, len(said.splitlines())) == (1, 22)
    assert re.fullmatch(r"… and \d+ more constants|\.\.\. and \d+ more constants", said.splitlines()[-1])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--form", "rst"), "--form: 'rst' is no form; did you mean rust?"),
        (("--form", "x"), "--form: 'x' is no form; c, rust, devicetree, markdown, csv, json and toml are"),
        (("--prefix", "while"), "--prefix: 'while' is a keyword of C, C++ or Rust; write WHILE_ in its place"),
        (("--prefix", "9_"), "--prefix: '9_' starts with a digit"),
        (("--check", "/nowhere/clocks.h"), "/nowhere/clocks.h: it cannot be read: No such file or directory"),
    ],
)
def test_bad_input_is_exit_2_with_what_is_allowed(arguments: tuple[str, ...], said: str, capfdbinary: Capture) -> None:
    status, text, faults = handed(capfdbinary, SKERRY, *arguments)
    assert (status, text) == (2, "")
    assert faults.startswith(said)


def test_readmes_check_in_a_repository_runs_as_it_stands(tmp_path: Path) -> None:
    """The lines of the example after the installation, with the files of the walk: first as kept, then edited."""
    [script] = re.findall(r"^```sh\n(#!/bin/sh\n.*?)^```$", README, re.M | re.S)
    assert len(script.splitlines()) <= 10
    lines = [line for line in script.splitlines() if line.startswith(("set", "wheelwork"))]
    for name in ("buoy-16.toml", "channel-buoy-4.toml"):
        shutil.copy(SCENARIOS / "walk" / name, tmp_path)
    (tmp_path / "src").mkdir()
    command = f'wheelwork() {{ "{sys.executable}" -m wheelwork "$@"; }}\n'
    made = "wheelwork header --part buoy-16.toml channel-buoy-4.toml > src/clocks.h\n"
    statuses = []
    for before in (made, "sed -i s/15000000u/15000001u/ src/clocks.h\n"):
        whole = command + before + "\n".join(lines)
        statuses.append(subprocess.run(["sh", "-c", whole], cwd=tmp_path, capture_output=True, check=False).returncode)
    assert statuses == [0, 1]


def test_readme_shows_lines_of_the_demos_header() -> None:
    [block] = re.findall(r"^```c\n(.*?)^```$", README, re.M | re.S)
    text = forms()["c"].write(judge(*load_demo(PLANS[0].stem)), Wish())
    assert set(block.splitlines()) <= set(text.splitlines())
