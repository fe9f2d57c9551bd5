"""`wheelwork settings`: every setting with its environment variable, its value here and what it means."""

from __future__ import annotations

import argparse
import re
from dataclasses import fields
from typing import Any

from wheelwork.command.printing import show
from wheelwork.command.table import write_table
from wheelwork.settings import MEANINGS, SECRET, Settings, read_settings, variable

_PASSWORD = re.compile(r"^(\w+://[^/:@]*):.*@")


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("settings", help="list every setting of the server", description=__doc__)
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Print the settings as a table."""
    settings = read_settings()
    rows = [(variable(f.name), _say(f.name, getattr(settings, f.name)), MEANINGS[f.name]) for f in fields(Settings)]
    show("\n".join(write_table(("variable", "here", "meaning"), rows)))
    return 0


def _say(name: str, value: object) -> str:
    """A setting's value, without what nobody shall see over a shoulder or in a log."""
    if value in (None, "", ()):
        return "–"
    if name in SECRET:
        return "set, not shown"
    if name == "database":
        return _PASSWORD.sub(r"\1:…@", str(value))
    return ", ".join(str(each) for each in value) if isinstance(value, tuple) else str(value)
