"""`wheelwork settings`: every setting with its environment variable, its value here and what it means."""

from __future__ import annotations

import argparse
from dataclasses import fields
from typing import Any

from wheelwork.command.printing import show
from wheelwork.command.table import write_table
from wheelwork.settings import MEANINGS, Settings, read_settings, variable


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("settings", help="list every setting of the server", description=__doc__)
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Print the settings as a table."""
    settings = read_settings()
    rows = [(variable(f.name), _say(getattr(settings, f.name)), MEANINGS[f.name]) for f in fields(Settings)]
    show("\n".join(write_table(("variable", "here", "meaning"), rows)))
    return 0


def _say(value: object) -> str:
    return "–" if value is None else str(value)
