"""`wheelwork shelf`: told where it is, copied out and in; a sentence and an exit status for whatever goes wrong."""

from __future__ import annotations

import gzip
import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.shelf.test_copying import STANDING, fill, rows
from wheelwork.command import main
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.store import Store, open_store


@pytest.fixture(params=["sqlite", "postgresql"])
def shelf(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    """The shelf of the environment, filled, of either kind."""
    monkeypatch.setenv("WHEELWORK_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("WHEELWORK_DATABASE", raising=False)
    database = request.getfixturevalue("database_url") if request.param == "postgresql" else ""
    if database:
        monkeypatch.setenv("WHEELWORK_DATABASE", database)
    store = fill(open_store(tmp_path / "data", database))
    yield store
    store.close()


@pytest.fixture
def elsewhere(shelf: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Store:
    """A new data folder, named by the environment once this is asked for; there is no shelf in it yet."""
    monkeypatch.delenv("WHEELWORK_DATABASE", raising=False)
    monkeypatch.setenv("WHEELWORK_DATA", str(tmp_path / "elsewhere"))
    return open_store(tmp_path / "elsewhere")


def test_it_tells_where_the_shelf_is_and_how_much_it_holds(shelf: Store, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["shelf"]) == 0
    said = capsys.readouterr().out.replace("\n", " ")
    assert str(shelf.folder) in said if shelf.embedded else "the database postgresql" in said
    assert "It holds 3 plans (1 of them off the list) in 6 revisions" in said
    assert "and 2 part sheets (1 of them off the list) in 3 revisions." in said


def test_the_word_of_a_database_is_not_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WHEELWORK_DATABASE", f"postgresql://lab:secret@/none?host={tmp_path}")
    assert main(["shelf"]) == 2
    heard = capsys.readouterr()
    assert "secret" not in heard.out + heard.err
    assert "the shelf's database does not answer" in heard.err


def test_a_copy_fills_another_shelf(
    shelf: Store, tmp_path: Path, request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.gz"
    assert main(["shelf", "export", str(copy)]) == 0
    assert re.search(
        r"^Copied 3 plans and 2 part sheets with 9 revisions; sha-256 [0-9a-f]{64}$", capsys.readouterr().out, re.M
    )
    before = rows(shelf)
    other: Store = request.getfixturevalue("elsewhere")
    assert main(["shelf", "import", str(copy)]) == 0
    assert "Brought in 3 plans and 2 part sheets with 9 revisions." in capsys.readouterr().out
    assert rows(other) == before


def test_an_export_leaves_nothing_beside_its_file(shelf: Store, tmp_path: Path) -> None:
    (tmp_path / "copies").mkdir()
    assert main(["shelf", "export", str(tmp_path / "copies" / "copy.gz")]) == 0
    assert [path.name for path in (tmp_path / "copies").iterdir()] == ["copy.gz"]


def test_a_file_that_is_there_is_replaced_only_when_that_is_said(
    shelf: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.gz"
    copy.write_text("precious")
    assert main(["shelf", "export", str(copy)]) == 2
    assert "it is there already; name a new file, or say --replace" in capsys.readouterr().err
    assert copy.read_text() == "precious"
    assert main(["shelf", "export", "--replace", str(copy)]) == 0
    assert gzip.decompress(copy.read_bytes()).startswith(b'{"format":"wheelwork-shelf/1"')


def test_a_shelf_that_holds_something_is_filled_only_to_merge(
    shelf: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = str(tmp_path / "copy.gz")
    assert main(["shelf", "export", copy]) == 0
    Plans(shelf).revise("skerry", {"name": "mine", "part": "small"}, "", STANDING, 2)
    before = rows(shelf)
    for arguments in ([copy], ["--into-empty", copy]):
        assert main(["shelf", "import", *arguments]) == 2
        assert "the shelf is not empty" in capsys.readouterr().err
    assert main(["shelf", "import", "--merge", copy]) == 0
    assert "Brought in 0 plans and 0 part sheets with 0 revisions." in capsys.readouterr().out
    assert rows(shelf) == before


def test_a_clash_is_told_and_ends_with_1(
    shelf: Store, tmp_path: Path, request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = str(tmp_path / "copy.gz")
    assert main(["shelf", "export", copy]) == 0
    other: Store = request.getfixturevalue("elsewhere")
    Plans(other).keep({"name": "Skerry", "part": "small"}, "", STANDING)
    assert main(["shelf", "import", "--merge", copy]) == 1
    heard = capsys.readouterr()
    assert "Brought in 2 plans and 2 part sheets with 7 revisions." in heard.out
    assert "the plan 'skerry' is another one from revision 1 on; it stays as it is here" in heard.err


def test_a_spoilt_copy_changes_nothing(
    shelf: Store, tmp_path: Path, request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.gz"
    assert main(["shelf", "export", str(copy)]) == 0
    other: Store = request.getfixturevalue("elsewhere")
    copy.write_bytes(copy.read_bytes()[:-40])
    assert main(["shelf", "import", str(copy)]) == 2
    assert "take another copy; nothing was changed" in capsys.readouterr().err
    assert not other.begun


def test_what_cannot_be_read_or_written_is_told(
    shelf: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for arguments, said in (
        (["import", str(tmp_path / "none.gz")], "it is not there"),
        (["import", str(tmp_path)], "it is no file"),
        (["export", str(tmp_path / "none" / "copy.gz")], "No such file or directory"),
    ):
        assert main(["shelf", *arguments]) == 2
        assert said in capsys.readouterr().err


def test_where_nothing_was_kept_there_is_nothing_to_copy(
    elsewhere: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["shelf"]) == 0
    assert "Nothing has been kept on it yet." in capsys.readouterr().out
    assert main(["shelf", "export", str(tmp_path / "copy.gz")]) == 2
    assert "name its data folder or database as the server has it" in capsys.readouterr().err
    assert not (tmp_path / "copy.gz").exists()
    assert not (tmp_path / "elsewhere").exists()


def test_a_copy_goes_over_standard_output_and_input(
    shelf: Store,
    tmp_path: Path,
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    capfdbinary: pytest.CaptureFixture[bytes],
) -> None:
    assert main(["shelf", "export", "-"]) == 0
    heard = capfdbinary.readouterr()
    assert heard.err.startswith(b"Copied 3 plans")
    before = rows(shelf)
    other: Store = request.getfixturevalue("elsewhere")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(heard.out)))
    assert main(["shelf", "import", "-"]) == 0
    assert rows(other) == before


def test_without_a_home_there_is_no_shelf(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("WHEELWORK_DATA", "WHEELWORK_DATABASE", "HOME", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    assert main(["shelf"]) == 2
    assert "name a data folder in WHEELWORK_DATA" in capsys.readouterr().err
