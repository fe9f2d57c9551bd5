"""What the commands say reaches every terminal: plain signs where it lacks ours, and nothing that it would obey."""

from __future__ import annotations

import io
import json
import os
from pathlib import Path

import pytest

from tests.demo import PLANS
from wheelwork.command import main
from wheelwork.quantities.plain import PLAIN
from wheelwork.quantities.spans import read_tolerance
from wheelwork.quantities.units import CURRENT, read_quantity

PLAN = str(PLANS[0])
SHEET = Path(PLAN).parents[1] / "parts" / "turnstone-58.toml"


ENCODINGS = pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-8"])


def printed(arguments: list[str], encoding: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """What a command prints on a terminal with an encoding."""
    held = io.BytesIO()
    with monkeypatch.context() as patch:
        patch.setattr("sys.stdout", io.TextIOWrapper(held, encoding=encoding))
        assert main(arguments) in (0, 1)
        return held.getvalue().decode(encoding)


@ENCODINGS
def test_tables_are_printed_in_every_encoding(encoding: str, monkeypatch: pytest.MonkeyPatch) -> None:
    said = printed(["sheet", str(SHEET)], encoding, monkeypatch) + printed(["check", PLAN], encoding, monkeypatch)
    assert "?" not in said
    assert "USB, full speed" in said
    assert ("±0.25\u00a0%" in said) == (encoding != "ascii")
    assert ("+-0.25 %" in said) == (encoding == "ascii")
    assert ("-1.5" in said) == (encoding != "utf-8")  # the sign of minus is U+2212


@ENCODINGS
def test_json_is_the_same_in_every_encoding(encoding: str, monkeypatch: pytest.MonkeyPatch) -> None:
    told = json.loads(printed(["check", PLAN, "--json"], encoding, monkeypatch))
    assert told["findings"][0]["what"] == "Converter clock (ADC) is over by 2\u00a0MHz."


@pytest.mark.parametrize("text", ["±30 ppm", "\u22121.5 % .. +1.2 %"])
def test_a_plainly_written_tolerance_reads_back_the_same(text: str) -> None:
    assert read_tolerance("".join(PLAIN.get(sign, sign) for sign in text)) == read_tolerance(text)


def test_a_plainly_written_current_reads_back_the_same() -> None:
    assert read_quantity(f"95\u00a0{PLAIN['µ']}A", CURRENT) == read_quantity("95 µA", CURRENT)


def test_nothing_is_printed_that_a_terminal_would_obey(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text('part = "turnstone-58"\n"\\u001b[31m" = 1\nname = "\\u202e\\u0007"\n')
    assert main(["check", str(plan)]) == 2
    said = capsys.readouterr().err
    assert "\\u001b[31m" in said
    assert "\\u202e\\u0007" in said
    assert {sign for sign in said if ord(sign) < 32 or sign == "\u202e"} == {"\n"}


@pytest.mark.parametrize(("arguments", "status"), [(["sheet", str(SHEET)], 0), (["check", PLAN], 1)])
def test_a_reader_that_leaves_early_changes_no_verdict(
    arguments: list[str], status: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "w", encoding="utf-8") as stream, monkeypatch.context() as patch:
        patch.setattr("sys.stdout", stream)
        assert main(arguments) == status


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a file that is always full")
def test_a_full_disk_is_said_in_a_sentence(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        monkeypatch.setattr("sys.stdout", full)
        assert main(["check", PLAN]) == 2
    assert "output: it cannot be written: No space left on device" in capsys.readouterr().err


def test_a_closed_output_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdout", None)
    assert main(["check", PLAN]) == 1
