"""`wheelwork links`: one table, the findings, exit 0, 1 and 2."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from wheelwork.command import main

ROOT = Path(__file__).resolve().parents[2]
PLANS = sorted((ROOT / "scenarios" / "plans").glob("*.toml"))

PLAN = """
part = "turnstone-58"
in_use = ["processor", "serial_port"]
board.crystal = { frequency = "8 MHz", tolerance = "±30 ppm" }

[set]
core_source = "crystal"
port_source = "slow_bus"
"""
CONSOLE = """
[[link]]
name = "Console"
load = "serial_port"
family = "uart"
rate = "9600 Bd"
allowance = "±2 %"
"""


def written(folder: Path, *links: str) -> str:
    path = folder / "plan.toml"
    path.write_text(PLAN + "".join(links))
    return str(path)


def plainly(said: str) -> str:
    return said.translate(str.maketrans("\u00a0\u2009", "  "))


def test_one_table_says_how_each_link_stands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """8 MHz / 9600 is 833.333…; in halves (8 samples a bit) 833.5, 9 598.080… Bd, 200 ppm slow."""
    assert main(["links", written(tmp_path, CONSOLE)]) == 0
    said = plainly(capsys.readouterr().out)
    assert "1 of 1 link keeps its rate" in said
    [row] = [line for line in said.splitlines() if line.startswith("Console")]
    assert "Serial port source 8 MHz ±30 ppm" in row
    assert "oversampling 8, divisor 104.1875" in row
    assert "9598.080… Bd  slow by 200 ppm  ±2 %     inside" in row
    assert "no substitute for licensed or functional-safety work" in said


def test_a_link_that_does_not_keep_its_rate_is_exit_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """8 MHz / (8 * 1) = 1 MBd is the fastest: half of what is wanted."""
    fast = CONSOLE.replace("Console", "Modem").replace("9600 Bd", "2 MBd")
    assert main(["links", written(tmp_path, CONSOLE, fast)]) == 1
    said = plainly(capsys.readouterr().out)
    assert "1 of 2 links keep their rate" in said
    assert "stop: Modem cannot be met: the nearest is slow by 50 %." in said


def test_a_stopped_link_is_not_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = Path(written(tmp_path, CONSOLE))
    path.write_text(path.read_text().replace(', "serial_port"', ""))
    assert main(["links", str(path)]) == 0
    said = capsys.readouterr().out
    assert "0 of 0 links keep their rate, 1 not judged" in said
    assert "note: Console is not judged: Serial port (UART) is not in use." in said


def test_a_plan_without_links_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["links", written(tmp_path)]) == 0
    assert "the plan has no links" in capsys.readouterr().out


def test_a_link_that_cannot_be_read_is_exit_2_with_its_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["links", written(tmp_path, CONSOLE.replace("9600 Bd", "0 Bd"))]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("line 14, link.0.rate: '0 Bd' is not above zero")


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_the_json_is_that_of_the_interface(path: Path, client: TestClient, capsys: pytest.CaptureFixture[str]) -> None:
    status = main(["links", str(path), "--json"])
    told = json.loads(capsys.readouterr().out)
    assert client.post("/api/links", json={"plan": tomllib.loads(path.read_text(), parse_float=str)}).json() == told
    kept = all(link["verdict"] in ("inside", "tight", "stopped") for link in told["links"])
    assert status == (0 if kept else 1)


def test_a_check_tells_findings_of_links_and_stays_legal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", written(tmp_path, CONSOLE.replace("9600 Bd", "2 MBd"))]) == 0
    said = plainly(capsys.readouterr().out)
    assert ": legal" in said
    assert "stop: Console cannot be met: the nearest is slow by 50 %." in said
