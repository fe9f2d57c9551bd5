"""The command line: the same calls as the pages and the interface. Exit 0 legal, 1 findings that stop, 2 unreadable."""

from __future__ import annotations

import argparse
import importlib
import pkgutil
from collections.abc import Sequence

import wheelwork
from wheelwork.command.check import tell_problems
from wheelwork.command.printing import Unwritten
from wheelwork.findings import Problem
from wheelwork.settings import UnfitSettings
from wheelwork.shelf.store import ShelfFault


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the console script `wheelwork`."""
    parser = make_parser()
    parsed = parser.parse_args(arguments)
    if not hasattr(parsed, "run"):
        parser.print_help()
        return 2
    try:
        return int(parsed.run(parsed))
    except UnfitSettings as unfit:
        return tell_problems(unfit.problems)
    except ShelfFault as fault:
        return tell_problems([fault.problem])
    except Unwritten as unwritten:
        return tell_problems([Problem("output", f"it cannot be written: {unwritten}", "send it where there is room")])


def make_parser() -> argparse.ArgumentParser:
    """The parser with one command for each module of this room that has `add_to`."""
    parser = argparse.ArgumentParser(
        prog="wheelwork", description="Clock plans of microcontroller boards: judged exactly, mended, shared."
    )
    parser.add_argument("--version", action="version", version=f"wheelwork {wheelwork.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for found in sorted(pkgutil.iter_modules(__path__), key=lambda module: module.name):
        module = importlib.import_module(f"{__name__}.{found.name}")
        if hasattr(module, "add_to"):
            module.add_to(commands)
    return parser
