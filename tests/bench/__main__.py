"""Runs the benchmark and prints one table: all of it, or the rooms named: `python -m tests.bench searching a b`."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from tests.bench import charging, judging, linking, searching, serving, shelving
from tests.bench.measure import machine

ROOMS = {
    "charging": charging,
    "judging": judging,
    "linking": linking,
    "searching": searching,
    "serving": serving,
    "shelving": shelving,
}


def main(asked: list[str]) -> None:
    """Print every measurement with its goal."""
    print(f"machine: {machine()}")
    print(f"{'what':<78} {'measured':>12} {'goal':>12}")
    for what, measured, goal in _lines(asked):
        print(f"{what:<78} {measured:>12} {goal:>12}", flush=True)


def _lines(asked: list[str]) -> Iterator[tuple[str, str, str]]:
    rooms = [name for name in asked if name in ROOMS] or list(ROOMS)
    problems = tuple(name for name in asked if name not in ROOMS)
    for name in rooms:
        if name == "searching" and problems:
            yield from searching.measure(problems)
        else:
            yield from ROOMS[name].measure()


if __name__ == "__main__":
    main(sys.argv[1:])
