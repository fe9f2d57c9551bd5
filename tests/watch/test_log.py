"""Lines of the log, for machines and for people."""

from __future__ import annotations

import json
import logging
import re
import sys
from typing import Any

import pytest

from wheelwork.settings import Settings
from wheelwork.watch.log import REQUEST_ID, TOLD, JsonLines, News, TextLines, log_settings


def record(message: str, exc_info: Any = None, **fields: Any) -> logging.LogRecord:
    made = logging.LogRecord("wheelwork", logging.WARNING, "", 0, message, (), exc_info)
    made.created = 1_000_000_000.25
    made.fields = fields
    return made


def raised(fault: Exception) -> Any:
    try:
        raise fault
    except Exception:
        return sys.exc_info()


def test_a_line_for_machines_says_when_what_and_where() -> None:
    """1 000 000 000 s are 2001-09-09T01:46:40Z (POSIX.1, Seconds Since the Epoch; RFC 3339, section 5.6)."""
    mark = REQUEST_ID.set("abc")
    line = JsonLines().format(record("answered", path="/plan", status=200))
    REQUEST_ID.reset(mark)
    assert json.loads(line) == {
        "time": "2001-09-09T01:46:40.250Z",
        "level": "warning",
        "message": "answered",
        "request": "abc",
        "path": "/plan",
        "status": 200,
    }


def test_outside_of_a_request_there_is_no_id() -> None:
    assert "request" not in json.loads(JsonLines().format(record("started")))


def test_a_traceback_is_a_field_of_the_one_line() -> None:
    line = JsonLines().format(record("fault", raised(ValueError("no\nsuch"))))
    assert "\n" not in line
    assert json.loads(line)["fault"].startswith("Traceback (most recent call last):\n")


@pytest.mark.parametrize("sent", ["a\nb", "a\r\nb", "a\x1b[31mb", "a\x00b", "\ud800"])
def test_what_a_stranger_sent_begins_no_new_line(sent: str) -> None:
    for kind in (JsonLines(), TextLines()):
        line = kind.format(record("answered", path=sent))
        line.encode()
        assert len(line.splitlines()) == 1
        assert not set(line) & set("\r\n\x1b\x00")


def test_a_line_for_people_reads_like_one() -> None:
    line = TextLines().format(record("answered", method="GET", path="/plan", status=200))
    assert line == "01:46:40 warning answered GET /plan 200"


def test_a_fault_that_has_its_line_is_not_told_again() -> None:
    fault = ValueError("once")
    assert News().filter(record("fault", raised(fault)))
    setattr(fault, TOLD, True)
    assert not News().filter(record("again", raised(fault)))
    assert News().filter(record("nothing is wrong"))


@pytest.mark.parametrize(
    ("setting", "terminal", "kind"),
    [("json", True, "JsonLines"), ("text", False, "TextLines"), ("", True, "TextLines"), ("", False, "JsonLines")],
)
def test_people_read_a_terminal(monkeypatch: pytest.MonkeyPatch, setting: str, terminal: bool, kind: str) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: terminal, raising=False)
    found = log_settings(Settings(log_format=setting))["formatters"]["lines"]["()"]
    assert re.fullmatch(rf"wheelwork\.watch\.log\.{kind}", found)
