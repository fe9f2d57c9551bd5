"""Commands find a sheet of the shelf as the page does, and make no shelf where there is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.shelf.test_sheets import SMALL, checked
from wheelwork.command import main
from wheelwork.shelf.sheets import Sheets
from wheelwork.shelf.store import open_store


@pytest.fixture
def plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("WHEELWORK_DATA", str(tmp_path / "data"))
    path = tmp_path / "plan.toml"
    path.write_text('part = "small"\n')
    return str(path)


def test_a_plan_on_a_sheet_of_the_shelf_is_judged(
    plan: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = open_store(tmp_path / "data")
    Sheets(store).put_in(checked(SMALL), "one", "small")
    store.close()
    assert main(["check", plan]) == 0
    assert "Plan on Small" in capsys.readouterr().out


def test_looking_for_a_sheet_makes_no_shelf(plan: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", plan]) == 2
    assert "'small' is no stored part sheet" in capsys.readouterr().err
    assert not (tmp_path / "data").exists()


def test_a_shelf_that_does_not_answer_is_told(
    plan: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WHEELWORK_DATABASE", f"postgresql://nobody@/none?host={tmp_path}")
    assert main(["check", plan]) == 2
    assert "the shelf's database does not answer" in capsys.readouterr().err
