"""The command line: the same answers as the page and the interface, exit 0, 1 and 2."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from wheelwork.command import main

ROOT = Path(__file__).resolve().parents[2]
PLANS = sorted((ROOT / "scenarios" / "plans").glob("*.toml"))


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_check_says_what_the_interface_and_the_page_say(
    path: Path, client: TestClient, capsys: pytest.CaptureFixture[str]
) -> None:
    status = main(["check", str(path), "--json"])
    told = json.loads(capsys.readouterr().out)

    plan = tomllib.loads(path.read_text(), parse_float=str)
    assert client.post("/api/check", json={"plan": plan}).json() == told
    assert status == (0 if told["legal"] else 1)
    windows = [node for node in told["nodes"].values() if node["window"]]
    windows += [
        node["phase_detector"] for node in told["nodes"].values() if node.get("phase_detector", {}).get("window")
    ]
    inside = sum(window["verdict"] in ("inside", "tight") for window in windows)
    page = client.get("/plans").text
    assert f"{inside} of {len(windows)} inside" in page


def test_a_check_prints_tables_findings_and_mends(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(PLANS[0])]) == 1
    said = capsys.readouterr().out
    assert "9 of 10 clocks inside their windows: not legal" in said
    assert "stop: Converter clock (ADC) is over by 2\u00a0MHz." in said
    assert "mend: Set PLL converter tap to ÷9." in said
    assert "no substitute for licensed or functional-safety work" in said


def test_a_check_takes_a_sheet_by_file(capsys: pytest.CaptureFixture[str]) -> None:
    sheet = ROOT / "scenarios" / "parts" / "turnstone-58.toml"
    assert main(["check", str(PLANS[1]), "--part", str(sheet)]) == 0
    capsys.readouterr()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('part = "turnstone-58"\n[set]\ncore = 5\n', "line 3, set.core: 5 is not offered; 1 to 4, 6, 8"),
        ('part = "turnstone-85"\n', "did you mean turnstone-58?"),
        ("part = [", "not TOML"),
        (
            'part = "turnstone-58"\n[set]\ncore_source = "crystal"\n',
            "board.crystal.frequency: Fast crystal oscillator is in use",
        ),
    ],
)
def test_a_plan_that_cannot_be_read_exits_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, said: str
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(text)
    assert main(["check", str(plan)]) == 2
    heard = capsys.readouterr()
    assert said in heard.err
    assert heard.out == ""


def test_a_file_that_is_missing_or_no_text_exits_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    for name in ("nowhere.toml", "bytes.toml", "."):
        assert main(["check", str(tmp_path / name)]) == 2
        assert main(["sheet", str(tmp_path / name)]) == 2
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize("name", ["turnstone-58", "whimbrel-132", "dunlin-192"])
def test_a_sheet_is_shown_as_tables(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = ROOT / "scenarios" / "parts" / f"{name}.toml"
    assert main(["sheet", str(path)]) == 0
    said = capsys.readouterr().out
    assert "core voltage" in said
    assert "main.feedback" in said


def test_a_faulty_sheet_tells_all_its_problems(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    faulty = (ROOT / "scenarios" / "parts" / "turnstone-58.toml").read_text()
    faulty = faulty.replace('"37 kHz"', '"37"').replace('"fast_rc", "crystal"', '"fast_rx", "crystal"', 1)
    (tmp_path / "faulty.toml").write_text(faulty)
    assert main(["sheet", str(tmp_path / "faulty.toml")]) == 2
    said = capsys.readouterr().err
    assert "2 problems" in said
    assert "has no unit" in said
    assert "did you mean fast_rc?" in said


def test_sheets_of_the_data_folder_are_offered_beside_the_demo_s(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "parts").mkdir()
    own = (ROOT / "scenarios" / "parts" / "turnstone-58.toml").read_text().replace("Turnstone 58", "Own part")
    (tmp_path / "parts" / "own-part.toml").write_text(own)
    (tmp_path / "plan.toml").write_text('part = "own-part"\n')
    monkeypatch.setenv("WHEELWORK_DATA", str(tmp_path))
    assert main(["check", str(tmp_path / "plan.toml")]) in (0, 1)
    assert "on Own part" in capsys.readouterr().out


def test_every_command_has_help(capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("check", "find", "sheet", "serve", "settings"):
        with pytest.raises(SystemExit) as ended:
            main([command, "--help"])
        assert ended.value.code == 0
        assert len(capsys.readouterr().out) > 100


def test_settings_are_listed_and_a_bad_one_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["settings"]) == 0
    assert "WHEELWORK_DATA" in capsys.readouterr().out
    monkeypatch.setenv("WHEELWORK_PORT", "eight")
    assert main(["settings"]) == 2
    assert main(["serve"]) == 2
    assert "WHEELWORK_PORT: 'eight' is not offered; write 0 to 65535" in capsys.readouterr().err


def test_settings_are_listed_without_what_is_secret(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WHEELWORK_PASSPHRASE", "seven quiet cogs")
    monkeypatch.setenv("WHEELWORK_DATABASE", "postgresql://keeper:hid:d@en@shelf.lab/wheelwork")
    monkeypatch.setenv("WHEELWORK_TRUSTED_PROXIES", "10.1.0.7,::1")
    assert main(["settings"]) == 0
    said = capsys.readouterr().out
    assert "set, not shown" in said
    assert "postgresql://keeper:…@shelf.lab/wheelwork" in said
    assert "10.1.0.7/32, ::1/128" in said
    assert "quiet cogs" not in said
    assert "hid:d" not in said
