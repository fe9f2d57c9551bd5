"""Runs the whole benchmark and prints one table."""

from __future__ import annotations

from tests.bench import judging, serving
from tests.bench.measure import machine


def main() -> None:
    """Print every measurement with its goal."""
    print(f"machine: {machine()}")
    print(f"{'what':<66} {'measured':>12} {'goal':>12}")
    for room in (judging, serving):
        for what, measured, goal in room.measure():
            print(f"{what:<66} {measured:>12} {goal:>12}", flush=True)


if __name__ == "__main__":
    main()
