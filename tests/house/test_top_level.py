"""What one sees on opening the repository."""

from __future__ import annotations

from tests.house.tree import ROOT, is_ignored

SHOWN = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "server",
    "templates",
    "static",
    "tests",
    "scenarios",
    "Dockerfile",
    "LICENSE",
}


def test_the_top_level_shows_these_ten_names_and_no_other() -> None:
    seen = {entry.name for entry in ROOT.iterdir() if not entry.name.startswith(".") and not is_ignored(entry.name)}
    assert seen == SHOWN


def test_no_name_of_the_top_level_is_ignored() -> None:
    assert [name for name in SHOWN if is_ignored(name)] == []
