"""Where our own files lie."""

from __future__ import annotations

from pathlib import Path

import pytest

from wheelwork import folders


def test_in_a_wheel_a_folder_lies_beside_the_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "site" / "wheelwork"
    (package / "static").mkdir(parents=True)
    monkeypatch.setattr(folders, "PACKAGE", package)
    assert folders.find_folder("static") == package / "static"


def test_in_a_checkout_it_lies_at_the_top(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "static").mkdir()
    (tmp_path / "server" / "wheelwork").mkdir(parents=True)
    monkeypatch.setattr(folders, "PACKAGE", tmp_path / "server" / "wheelwork")
    assert folders.find_folder("static") == tmp_path / "static"


def test_a_folder_that_is_nowhere_is_told_with_both_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "server" / "wheelwork"
    monkeypatch.setattr(folders, "PACKAGE", package)
    with pytest.raises(FileNotFoundError) as refused:
        folders.find_folder("static")
    assert str(package / "static") in str(refused.value)
    assert str(tmp_path / "static") in str(refused.value)
