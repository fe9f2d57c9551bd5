"""The search against listing on as many random parts as wanted: `python -m tests.find.many [HOW MANY [FIRST]]`."""

from __future__ import annotations

import sys
import traceback

from tests.find.test_operating import faults_of as operates_wrongly
from tests.find.test_search import QUESTIONS, blames_wrongly, faults_of


def main(count: int, first: int) -> int:
    """Try the parts one by one; print what does not agree. Gives 1 where anything does not."""
    faults = 0
    for seed in range(first, first + count):
        try:
            found = [*faults_of(seed), *blames_wrongly(seed), *operates_wrongly(seed)]
        except Exception:
            found = [f"part {seed}: {traceback.format_exc()}"]
        faults += bool(found)
        for fault in found:
            print(fault, flush=True)
    print(f"{count} parts, {count * QUESTIONS} questions; {faults} parts with faults")
    return 1 if faults else 0


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    sys.exit(main(*(given + [300, 0][len(given) :])))
