"""README and the guide say what is so."""

from __future__ import annotations

import argparse
import re
from dataclasses import fields

import pytest

from tests.house.tree import ROOT
from wheelwork import STOREYS
from wheelwork.command import make_parser
from wheelwork.settings import MEANINGS, Settings, variable

README = (ROOT / "README.md").read_text()
GUIDE = (ROOT / "DEVELOPERS.md").read_text()
TWO_COMMANDS = (
    "python3 -m venv .venv && .venv/bin/pip install -e . && .venv/bin/wheelwork serve",
    "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/pytest",
)


def commands() -> dict[str, argparse.ArgumentParser]:
    """The parsers of the command line by their names."""
    choices = next(a for a in make_parser()._actions if isinstance(a, argparse._SubParsersAction)).choices
    assert isinstance(choices, dict)
    return choices


@pytest.mark.parametrize("command", TWO_COMMANDS)
def test_the_two_commands_stand_word_for_word(command: str) -> None:
    assert README.splitlines().count(command) == 1


def test_the_settings_table_is_the_settings() -> None:
    rows = re.findall(r"^\| `(WHEELWORK_\w+)` \| (.+?) \| (.+) \|$", README, re.M)
    assert [name for name, _, _ in rows] == [variable(field.name) for field in fields(Settings)]
    for field, (_, default, meaning) in zip(fields(Settings), rows, strict=True):
        unset = "`wheelwork` in your data home" if field.name == "data" else "none"
        assert default.startswith(f"`{field.default}`" if field.default not in (None, "", ()) else unset)
        assert meaning.replace("`", "") == re.sub(r" \([^)]*\)$", "", MEANINGS[field.name]).replace("`", "")


@pytest.mark.parametrize("text", [README, GUIDE], ids=["README", "DEVELOPERS"])
def test_each_command_shown_is_one_that_there_is(text: str) -> None:
    shown = set(re.findall(r"^(?:\.venv/bin/)?wheelwork (\w+)", text, re.M))
    assert shown <= set(commands())


def test_readme_shows_every_command() -> None:
    assert set(commands()) == set(re.findall(r"wheelwork (\w+)", README)) & set(commands())


@pytest.mark.parametrize("name", commands())
def test_each_command_has_help(name: str) -> None:
    assert commands()[name].description


def test_the_guide_draws_the_storeys_as_they_stand() -> None:
    drawn = re.search(r"```\n(quantities|findings)(.+?)```", GUIDE, re.S)
    assert drawn
    rooms = [re.split(r"  +", line)[0].split(" · ") for line in drawn.group(0).strip("`\n").splitlines()]
    assert [tuple(storey) for storey in rooms] == list(STOREYS)


@pytest.mark.parametrize("text", [README, GUIDE], ids=["README", "DEVELOPERS"])
def test_each_file_a_page_links_to_is_there(text: str) -> None:
    links = [link for link in re.findall(r"(?<!!)\[[^]]+\]\(([^)#]+)\)", text) if "://" not in link]
    assert [link for link in links if not (ROOT / link).exists()] == []
