"""`wheelwork find PLAN.toml --target "usb_link 48 MHz within 0.25 %"`: search every setting, show the best that fit.

Exit 0 when something fits, 1 when nothing does or it was not decided, 2 when the input cannot be read. Ctrl-C ends the
search and keeps what was found.
"""

from __future__ import annotations

import argparse
import json
import re
import signal
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from time import monotonic
from types import FrameType
from typing import TYPE_CHECKING, Any

from wheelwork.api.found import tell_answer
from wheelwork.command.check import CAUTION, read_files, tell_problems
from wheelwork.command.printing import show, show_fault, show_json
from wheelwork.command.table import write_table
from wheelwork.find.asking import MOST_SECONDS, MOST_SHOWN, USUAL_SECONDS, Asked, read_asked
from wheelwork.find.mends import say_value
from wheelwork.find.question import Answer, CrystalChoice, Question, Solution
from wheelwork.find.saying import head_count, say_blame, say_count, say_proof
from wheelwork.findings import Problem
from wheelwork.judge.judgement import reckon
from wheelwork.part.nodes import Part, Value
from wheelwork.plan.targets import split_target
from wheelwork.plan.writing import write_settings
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.units import CURRENT, say_frequency, say_quantity

if TYPE_CHECKING:
    from wheelwork.find.answering import FullAnswer

MOST_CHANGES_NAMED = 6

_OPTIONS = {"targets": "--target", "pinned": "--pin", "prefer": "--prefer"}


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("find", help="search every setting for the best that fit", description=__doc__)
    parser.add_argument("plan", type=Path, metavar="PLAN.toml")
    parser.add_argument("--part", type=Path, metavar="FILE", help="the part sheet, in place of the one the plan names")
    parser.add_argument(
        "--target",
        action="append",
        metavar="WISH",
        help='what a clock must reach, in place of the plan\'s own targets: "usb_link 48 MHz within 0.25 %%", '
        '"core at least 30 MHz", "slow_bus at most 31 MHz", "core exactly 48 MHz"; may be given again',
    )
    parser.add_argument(
        "--pin",
        action="append",
        metavar="SETTING",
        help="a setting that stays as the plan has it, such as core_source, main.feedback or core_voltage",
    )
    parser.add_argument(
        "--prefer",
        action="append",
        metavar="WHAT",
        help="what to put first, first things first: highest core (or any clock), lowest core, least current, "
        "least error, highest phase detector, lowest core voltage, fewest changes, most room",
    )
    parser.add_argument("--top", type=int, metavar="N", default=10, help=f"how many to show (10, at most {MOST_SHOWN})")
    parser.add_argument("--no-count", action="store_true", help="the best alone, without how many fit")
    parser.add_argument(
        "--seconds",
        metavar="S",
        default=USUAL_SECONDS,
        help=f"end after so many with what there is ({USUAL_SECONDS}, at most {MOST_SECONDS})",
    )
    parser.add_argument("--crystal", metavar="OSCILLATOR", help="leave it open and try the standard crystal values")
    parser.add_argument("--json", action="store_true", help="the answer of POST /api/find instead of tables")
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Search and print what there is to say."""
    part, plan, problems = read_files(parsed.plan, parsed.part, all_fitted=False)
    if part is None:
        return tell_problems(problems)
    asked, more = read_asked(_raw(parsed), part)
    if plan is None or asked is None:
        return tell_problems([*problems, *map(_at_option, more)])
    from wheelwork.find.answering import answer_fully  # the other commands need none of it

    with _ending_by_interrupt(asked.seconds) as end:
        full = answer_fully(asked.of(part, plan), end.still_time, crystal=asked.crystal)
    if parsed.json:
        show_json(tell_answer(full, asked.crystal is not None))
    else:
        show("\n".join(describe(full, asked, end.seconds, end.stopped)))
    return 0 if full.answer.fits else 1


def _raw(parsed: argparse.Namespace) -> dict[str, Any]:
    """What is asked in the shape of the interface."""
    raw = {
        "pinned": parsed.pin or [],
        "prefer": parsed.prefer or [],
        "top": parsed.top,
        "count": not parsed.no_count,
        "seconds": parsed.seconds,
        "crystal": parsed.crystal,
    }
    return raw if parsed.target is None else {**raw, "targets": [split_target(wish) for wish in parsed.target]}


def _at_option(problem: Problem) -> Problem:
    """A problem at the option where it was written: `targets.0.within` becomes `--target 1, within`."""
    key, _, rest = problem.where.partition(".")
    number, _, field = rest.partition(".")
    option = _OPTIONS.get(key, f"--{key}" if re.fullmatch("top|seconds|crystal", key) else key)
    place = f" {int(number) + 1}" if number.isdecimal() else ""
    return replace(problem, where=f"{option}{place}{', ' if field else ''}{field}")


@dataclass
class _End:
    """When a search ends: by its time, or because it was interrupted."""

    limit: float
    began: float
    stopped: bool = False

    def still_time(self) -> bool:
        """Whether the search may go on."""
        return not self.stopped and self.seconds < self.limit

    @property
    def seconds(self) -> float:
        """The seconds since it began."""
        return monotonic() - self.began

    def interrupt(self, number: int, frame: FrameType | None) -> None:
        """The first Ctrl-C ends the search, the second the program."""
        if self.stopped:
            raise KeyboardInterrupt
        self.stopped = True
        show_fault("stopped; what was found is kept")


@contextmanager
def _ending_by_interrupt(limit: float) -> Iterator[_End]:
    end = _End(limit, monotonic())
    before = signal.signal(signal.SIGINT, end.interrupt)
    try:
        yield end
    finally:
        signal.signal(signal.SIGINT, before)


def describe(full: FullAnswer, asked: Asked, seconds: float, stopped: bool) -> Iterable[str]:
    """The answer as lines of text: the count and what it rests on, the table of the best, or what is to blame."""
    answer = full.answer
    question = answer.question
    yield f"{question.plan.name or 'Plan'} on {question.part.name}"
    yield f"{head_count(answer)}. {say_proof(answer, seconds, stopped)}"
    yield from answer.remarks
    if answer.solutions:
        yield ""
        yield from _table(answer)
        yield ""
        yield from _first_as_plan(answer)
    if answer.fits is False:
        yield from _blame_lines(full)
    if asked.crystal is not None:
        yield ""
        yield from _crystal_lines(full.crystals)
    yield ""
    yield f"The plan's own settings {_own(answer)}."
    yield CAUTION


def _own(answer: Answer) -> str:
    if not answer.plan_fits:
        return "do not fit"
    return "fit" if answer.rank is None else f"fit, in place {answer.rank}"


def _table(answer: Answer) -> Iterable[str]:
    question = answer.question
    further = _clocks_wanted(question)
    head = ("", "core clock", *further.values(), "voltage", "waits", "supply", "alike", "changes from the plan")
    rows = [_row(place, found, question, further) for place, found in enumerate(answer.solutions, 1)]
    right = (0, 1, *range(2, 2 + len(further)), 3 + len(further), 4 + len(further), 5 + len(further))
    return write_table(head, rows, right)


def _clocks_wanted(question: Question) -> Mapping[str, str]:
    """The clocks that are shown beside the core: those of targets that one could miss, with their titles."""
    nodes = [target.node for target in question.targets if target.node != question.part.core_clock]
    return {name: question.part.nodes[name].title for name in dict.fromkeys(nodes)}


def _row(place: int, found: Solution, question: Question, further: Iterable[str]) -> tuple[str, ...]:
    clocks = reckon(question.part, found.plan).clocks
    return (
        str(place),
        say_frequency(found.core),
        *(say_frequency(clocks[name].nominal) for name in further),
        f"{write_exact(question.part.step(found.core_voltage).volts)} V",
        str(found.wait_states),
        say_quantity(found.current, CURRENT),
        say_count(found.alike),
        _changes(found, question),
    )


def _changes(found: Solution, question: Question) -> str:
    part, before = question.part, question.plan.complete(question.part)
    settings = found.settings.items()
    changed = [f"{_name(part, key)} {_value(part, key, value)}" for key, value in settings if before.get(key) != value]
    if found.core_voltage != question.plan.core_voltage:
        changed.append("core voltage")
    rest = len(changed) - MOST_CHANGES_NAMED
    return ", ".join(changed[:MOST_CHANGES_NAMED]) + (f" and {rest} more" if rest > 0 else "") if changed else "none"


def _name(part: Part, key: str) -> str:
    head, _, factor = key.partition(".")
    return f"{part.nodes[head].title} {factor.replace('_', ' ')}".strip()


def _value(part: Part, key: str, value: Value) -> str:
    return f"{'from ' if isinstance(value, str) else ''}{say_value(part, key, value)}"


def _first_as_plan(answer: Answer) -> Iterable[str]:
    """The first setting as it stands in a plan's file."""
    found, part = answer.solutions[0], answer.question.part
    yield "The first, as it stands in a plan:"
    yield ""
    yield f'core_voltage = "{found.core_voltage}"'
    yield f"wait_states = {found.wait_states}"
    yield ""
    yield "[set]"
    for name, value in write_settings(found.settings, part).items():
        factors = value.items() if isinstance(value, dict) else ()
        yield from (f"{name}.{factor} = {json.dumps(chosen)}" for factor, chosen in factors)
        if not isinstance(value, dict):
            yield f"{name} = {json.dumps(value)}"


def _blame_lines(full: FullAnswer) -> Iterable[str]:
    question = full.answer.question
    if full.answer.conflict:
        yield ""
        yield "These cannot hold together:" if len(full.answer.conflict) > 1 else "This cannot hold:"
        yield from (f"  {say_blame(blame, question)}" for blame in full.answer.conflict)
    if full.nearest is not None:
        yield full.nearest.sentence
    if full.openings:
        yield ""
        yield "What would open it again:"
        rows = [(_count(opening.admissible), opening.act, opening.detail) for opening in full.openings]
        yield from write_table(("settings", "act", ""), rows, right=(0,))


def _count(count: int | None) -> str:
    return "not decided" if count is None else say_count(count)


def _crystal_lines(crystals: Sequence[CrystalChoice]) -> Iterable[str]:
    rows = [_crystal_row(choice) for choice in crystals if choice.admissible != 0]
    none = len(crystals) - len(rows)
    if rows:
        yield "Standard crystals, best first:"
        yield from write_table(("crystal", "settings", "core clock", "supply"), rows, right=(0, 1, 2, 3))
    if none or not rows:
        yield f"With {none} {'other ' if rows else ''}standard {'value' if none == 1 else 'values'} nothing fits."


def _crystal_row(choice: CrystalChoice) -> tuple[str, ...]:
    best = choice.best
    core, supply = ("", "") if best is None else (say_frequency(best.core), say_quantity(best.current, CURRENT))
    return say_frequency(choice.frequency), _count(choice.admissible), core, supply
