"""Lines of the log: one for each event, as JSON for machines or as text for people.

A line of JSON has `time` (RFC 3339, UTC), `level`, `message`, `request` where it was written amid one, what the event
says besides (`extra`'s key `fields`), and `fault`, the traceback, where there is one. No line ever breaks: what a
stranger sent cannot begin a new one.
"""

from __future__ import annotations

import json
import logging
import logging.config
import sys
from collections.abc import Mapping
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

from wheelwork.settings import Settings

REQUEST_ID: ContextVar[str] = ContextVar("request_id", default="")
"""The id of the request that is being answered."""

TOLD = "_told_by_wheelwork"
"""What marks an exception whose line is written already."""


class JsonLines(logging.Formatter):
    """Each record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        line: dict[str, Any] = {
            "time": time_of(record),
            "level": record.levelname.lower(),
            "message": record.getMessage().strip(),
            **({"request": id} if (id := REQUEST_ID.get()) else {}),
            **fields_of(record),
        }
        if record.exc_info:
            line["fault"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str).encode("utf-8", "replace").decode()


class TextLines(logging.Formatter):
    """Each record as a line for people; a traceback follows it."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        said = " ".join([record.getMessage().strip(), *(str(value) for value in fields_of(record).values())])
        said = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in said)
        pieces = [time_of(record)[11:19], record.levelname.lower(), said, REQUEST_ID.get()]
        fault = f"\n{self.formatException(record.exc_info)}" if record.exc_info else ""
        return " ".join(piece for piece in pieces if piece) + fault


def time_of(record: logging.LogRecord) -> str:
    """When a record was made, as RFC 3339 has it, in milliseconds of UTC."""
    return datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def fields_of(record: logging.LogRecord) -> Mapping[str, Any]:
    """What an event says besides its message."""
    found: Mapping[str, Any] = getattr(record, "fields", {})
    return found


def not_told_yet(record: logging.LogRecord) -> bool:
    """Whether a record tells something new: the server tells an exception again that has its line already."""
    fault = record.exc_info[1] if record.exc_info else None
    return not getattr(fault, TOLD, False)


def log_settings(settings: Settings) -> dict[str, Any]:
    """How Python's logging is set up for a server: everything to the standard error, in one format."""
    kind = settings.log_format or ("text" if sys.stderr.isatty() else "json")
    level = settings.log.upper()
    ours: dict[str, Any] = {"level": level, "handlers": ["lines"], "propagate": False}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"lines": {"()": f"{__name__}.{'TextLines' if kind == 'text' else 'JsonLines'}"}},
        "filters": {"news": {"()": f"{__name__}.News"}},
        "handlers": {
            "lines": {
                "class": "logging.StreamHandler",
                "stream": "ext://sys.stderr",
                "formatter": "lines",
                "filters": ["news"],
            }
        },
        "loggers": {"wheelwork": ours, "uvicorn": ours},
        "root": {"level": "WARNING", "handlers": ["lines"]},
    }


class News(logging.Filter):
    """Leaves out what has its line already."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether the record is written."""
        return not_told_yet(record)


def configure(settings: Settings) -> None:
    """Set up the log of this process."""
    logging.config.dictConfig(log_settings(settings))
