"""The settings by environment."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest

from wheelwork.settings import MEANINGS, Settings, UnfitSettings, read_settings


def test_an_empty_environment_gives_the_defaults() -> None:
    assert read_settings({}) == Settings(data=None, host="127.0.0.1", port=8000, workers=1, log="info", searches=2)


def test_every_setting_is_read_from_its_variable() -> None:
    given = {
        "WHEELWORK_DATA": "/data",
        "WHEELWORK_HOST": "0.0.0.0",
        "WHEELWORK_PORT": "80",
        "WHEELWORK_WORKERS": "2",
        "WHEELWORK_LOG": "warning",
        "WHEELWORK_SEARCHES": "3",
    }
    assert read_settings(given) == Settings(Path("/data"), "0.0.0.0", 80, 2, "warning", 3)


def test_a_variable_left_empty_counts_as_not_there() -> None:
    assert read_settings({"WHEELWORK_PORT": " ", "WHEELWORK_DATA": ""}) == Settings()


@pytest.mark.parametrize(
    ("name", "value", "allowed"),
    [
        ("WHEELWORK_PORT", "65536", "write 0 to 65535"),
        ("WHEELWORK_PORT", "-1", "write 0 to 65535"),
        ("WHEELWORK_PORT", "8000.0", "write 0 to 65535"),
        ("WHEELWORK_PORT", "9" * 40, "write 0 to 65535"),
        ("WHEELWORK_PORT", "0000000000065536", "write 0 to 65535"),
        ("WHEELWORK_WORKERS", "0", "write 1 to 64"),
        ("WHEELWORK_WORKERS", "two", "write 1 to 64"),
        ("WHEELWORK_SEARCHES", "0", "write 1 to 64"),
        ("WHEELWORK_LOG", "loud", "write debug, info, warning or error"),
    ],
)
def test_a_value_that_cannot_be_taken_is_refused_by_name(name: str, value: str, allowed: str) -> None:
    with pytest.raises(UnfitSettings) as refused:
        read_settings({name: value})
    (problem,) = refused.value.problems
    assert (problem.where, problem.allowed) == (name, allowed)
    assert value[:8] in problem.what


def test_all_that_cannot_be_taken_is_told_together() -> None:
    with pytest.raises(UnfitSettings) as refused:
        read_settings({"WHEELWORK_PORT": "x", "WHEELWORK_WORKERS": "x", "WHEELWORK_LOG": "x"})
    assert [problem.where for problem in refused.value.problems] == [
        "WHEELWORK_PORT",
        "WHEELWORK_WORKERS",
        "WHEELWORK_LOG",
    ]


def test_every_setting_says_what_it_means() -> None:
    assert list(MEANINGS) == [field.name for field in fields(Settings)]
