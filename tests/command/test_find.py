"""`wheelwork find`: the answers of the interface, in words; exit 0, 1 and 2; Ctrl-C keeps what was found."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from wheelwork.command import main
from wheelwork.command.check import CAUTION
from wheelwork.find import answering
from wheelwork.find.answering import FullAnswer
from wheelwork.find.question import Answer, Question

ROOT = Path(__file__).resolve().parents[2]
PLAN = """\
name = "Tide gauge"
part = "turnstone-58"
core_voltage = "full"
in_use = ["processor"]

[board.crystal]
frequency = "8 MHz"
tolerance = "±30 ppm"
"""
USB = PLAN.replace('["processor"]', '["processor", "usb_link"]')
NONE = ["--target", "core 58 MHz", "--target", "slow_bus at least 30 MHz"]

Heard = pytest.CaptureFixture[str]


def write(folder: Path, text: str = PLAN) -> str:
    (folder / "plan.toml").write_text(text)
    return str(folder / "plan.toml")


def test_it_says_what_the_interface_says(tmp_path: Path, client: TestClient, capsys: Heard) -> None:
    wishes = ["--target", "usb_link 48 MHz within 0.25 %", "--prefer", "least current", "--pin", "core_voltage"]
    status = main(["find", write(tmp_path, USB), *wishes, "--top", "3", "--crystal", "crystal", "--json"])
    told = json.loads(capsys.readouterr().out)
    body = {
        "plan": tomllib.loads(USB),
        "targets": [{"node": "usb_link", "frequency": "48 MHz", "within": "0.25 %"}],
        "prefer": ["least current"],
        "pinned": ["core_voltage"],
        "top": 3,
        "crystal": "crystal",
    }
    assert client.post("/api/find", json=body, headers={"Prefer": "wait=60"}).json() == told
    assert (status, told["fits"]) == (0, True)


def test_the_count_is_proven_and_the_best_are_told(tmp_path: Path, capsys: Heard) -> None:
    """8 MHz · 29 / 4 = 58 MHz, the most that the sheet allows the core."""
    assert main(["find", write(tmp_path), "--prefer", "highest core", "--top", "2"]) == 0
    said = capsys.readouterr().out
    assert re.search(
        r"^[\d\u2009]+ settings fit\. All [\d\u2009]+ were searched in .+, so there are no others\.$", said, re.M
    )
    assert re.search(r"^1 +58\u00a0MHz +1\.15 V +2 +6\.13\u00a0mA +2 +.*Main PLL feedback ×29", said, re.M)
    assert CAUTION in said


def test_the_first_can_be_pasted_into_the_plan(tmp_path: Path, capsys: Heard) -> None:
    assert main(["find", write(tmp_path, USB), "--target", "usb_link 48 MHz", "--prefer", "highest core"]) == 0
    block = capsys.readouterr().out.partition("as it stands in a plan:\n\n")[2].partition("\n\nThe plan's own")[0]
    plan = USB.replace('core_voltage = "full"\n', "")
    top, _, settings = block.partition("\n\n[set]\n")
    (tmp_path / "used.toml").write_text(f"{top}\n{plan}\n[set]\n{settings}\n")
    assert main(["check", str(tmp_path / "used.toml")]) == 0
    assert main(["find", str(tmp_path / "used.toml"), "--target", "usb_link 48 MHz", "--prefer", "highest core"]) == 0
    assert "The plan's own settings fit, in place 1." in capsys.readouterr().out


def test_the_plans_own_targets_are_asked_where_none_is_given(tmp_path: Path, capsys: Heard) -> None:
    path = write(tmp_path, PLAN + '\n[[target]]\nnode = "core"\nfrequency = "58 MHz"\n')
    assert main(["find", path, "--json"]) == 0
    cores = [found["score"]["core"] for found in json.loads(capsys.readouterr().out)["solutions"]]
    assert set(cores) == {"58000000"}


def test_where_nothing_fits_it_says_what_is_to_blame_and_what_would_open_it(tmp_path: Path, capsys: Heard) -> None:
    """58 / 1 is above the slow bus's 31 MHz, 58 / 2 = 29 MHz below what is wanted."""
    assert main(["find", write(tmp_path), *NONE]) == 1
    said = capsys.readouterr().out
    assert "Nothing fits. All " in said
    assert "so there are no others" not in said
    assert "These cannot hold together:\n  Core clock: 58\u00a0MHz\n  Slow bus: at least 30\u00a0MHz\n" in said
    assert "29\u00a0MHz" in said.partition("What would open it again:")[0]
    assert "Leave slow bus out" in said


def test_one_that_is_not_in_use_is_told_so(tmp_path: Path, capsys: Heard) -> None:
    assert main(["find", write(tmp_path), "--target", "usb_link 48 MHz"]) == 1
    assert "This cannot hold:\n  USB, full speed: 48\u00a0MHz, and it is not in use\n" in capsys.readouterr().out


def test_a_count_not_asked_for_is_not_claimed(tmp_path: Path, capsys: Heard) -> None:
    assert main(["find", write(tmp_path), "--no-count", "--top", "3"]) == 0
    said = capsys.readouterr().out
    assert "At least 3 settings fit. The best were searched out in" in said
    assert "no others" not in said


def test_crystals_are_told_best_first(tmp_path: Path, capsys: Heard) -> None:
    """58 MHz of 12 MHz: · 29 / 6; of 25 MHz it would take a factor of 29 · 2 / 25, and no reference divider has 25."""
    assert main(["find", write(tmp_path), "--target", "core 58 MHz", "--crystal", "crystal"]) == 0
    said = capsys.readouterr().out.partition("Standard crystals, best first:")[2]
    assert re.search(r"^ *12\u00a0MHz +\d+ +58\u00a0MHz", said, re.M)
    assert not re.search(r"^ *25\u00a0MHz", said, re.M)
    assert re.search(r"^With \d+ other standard values nothing fits\.$", said, re.M)


def test_an_oscillator_with_nothing_fitted_is_no_fault(tmp_path: Path, capsys: Heard) -> None:
    path = write(tmp_path, 'part = "turnstone-58"\n[set]\ncore_source = "crystal"\n')
    assert main(["check", path]) == 2
    assert main(["find", path, "--no-count"]) == 0
    capsys.readouterr()


def test_without_time_no_count_is_claimed(tmp_path: Path, capsys: Heard) -> None:
    main(["find", write(tmp_path), "--seconds", "0.000001"])
    said = capsys.readouterr().out
    assert re.search(r"^(At least|Not decided)", said, re.M)
    assert "no others" not in said


def test_what_is_not_decided_is_no_success(tmp_path: Path, capsys: Heard, monkeypatch: pytest.MonkeyPatch) -> None:
    def decide_nothing(question: Question, *_: object, crystal: str | None = None) -> FullAnswer:
        return FullAnswer(Answer(question=question, fits=None, complete=False))

    monkeypatch.setattr(answering, "answer_fully", decide_nothing)
    assert main(["find", write(tmp_path)]) == 1
    assert "Not decided" in capsys.readouterr().out


BAD: list[tuple[list[str], str]] = [
    (["--target", "cor 58 MHz"], "--target 1, node: 'cor' is no node of Turnstone 58; did you mean core?"),
    (["--target", "core"], "--target 1: nothing is asked for; write frequency, at_least or at_most"),
    (["--target", "core 58"], "--target 1, frequency: '58' has no unit; write it as 58 MHz"),
    (["--target", "core 8 MHz", "--target", "core 8 MHz within 120 %"], "--target 2, within: '120 %' is no share;"),
    (["--pin", "cor"], "--pin 1: 'cor' is no setting of Turnstone 58; did you mean core?"),
    (["--prefer", "least curent"], "--prefer 1: 'least curent' is no preference; did you mean least current?"),
    (["--top", "1000000"], "--top: '1000000' is out of range; write a number at most 200"),
    (["--seconds", "500"], "--seconds: '500' is out of range; write a number of seconds above 0, at most 120"),
    (["--seconds", "soon"], "--seconds: 'soon' is no number;"),
    (["--crystal", "z"], "--crystal: 'z' is no oscillator that a board fits on Turnstone 58; crystal is"),
    (["--target", "core 8 MHz"] * 65, "--target: there are 65 entries; at most 64"),
]


@pytest.mark.parametrize(("options", "said"), BAD, ids=[f"{case[0][0]} {case[0][1][:20]}" for case in BAD])
def test_what_cannot_be_asked_is_told_at_its_option(
    options: list[str], said: str, tmp_path: Path, capsys: Heard
) -> None:
    assert main(["find", write(tmp_path), *options]) == 2
    heard = capsys.readouterr()
    assert said in heard.err
    assert heard.out == ""


def test_problems_of_plan_and_wishes_are_told_together(tmp_path: Path, capsys: Heard) -> None:
    path = write(tmp_path, PLAN + "\n[set]\ncore = 5\n")
    assert main(["find", path, "--pin", "cor", "--prefer", "x"]) == 2
    told = capsys.readouterr().err.splitlines()
    assert [line.partition(":")[0] for line in told] == ["line 11, set.core", "--pin 1", "--prefer 1"]


def test_a_missing_file_exits_with_2(tmp_path: Path, capsys: Heard) -> None:
    assert main(["find", str(tmp_path / "nowhere.toml")]) == 2
    assert "it cannot be read" in capsys.readouterr().err


def test_ctrl_c_ends_the_search_and_keeps_what_was_found(tmp_path: Path) -> None:
    """A process of its own whose search waits for the interrupt, sent once it is heard to have begun."""
    code = (
        "import sys\n"
        "from wheelwork.find import answering\n"
        "from wheelwork.find.question import Answer\n"
        "def answer_slowly(question, still_time, tell=None, crystal=None):\n"
        "    print('begun', file=sys.stderr, flush=True)\n"
        "    while still_time():\n"
        "        pass\n"
        "    return answering.FullAnswer(Answer(question=question, fits=True, complete=False, admissible=12))\n"
        "answering.answer_fully = answer_slowly\n"
        "from wheelwork.command import main\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    paths = os.pathsep.join(path for path in sys.path if path)
    with subprocess.Popen(
        [sys.executable, "-c", code, "find", write(tmp_path), "--seconds", "100"],
        env={**os.environ, "PYTHONPATH": paths},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as running:
        assert running.stderr is not None
        assert running.stderr.readline() == "begun\n"
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
    assert err == "stopped; what was found is kept\n"
    assert "At least 12 settings fit. Stopped after" in out
    assert running.returncode == 0
