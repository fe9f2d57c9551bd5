"""`wheelwork check PLAN.toml [--part FILE]`: judge a plan as the page does, for people and for firmware's checks."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from time import monotonic
from typing import Any

from wheelwork.api.answers import tell_judgement
from wheelwork.clocks.propagate import unfitted
from wheelwork.clocks.verdicts import Judged
from wheelwork.command.printing import show, show_fault, show_json
from wheelwork.command.table import write_table
from wheelwork.find.mends import with_mends
from wheelwork.findings import Problem, name_list, nearest, quote
from wheelwork.judge import Judgement, judge
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import LARGEST_PLAN, add_lines, read_plan, read_plan_text, sheet_in
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.spans import say_window
from wheelwork.quantities.units import CURRENT, FREQUENCY, say_frequency, say_quantity
from wheelwork.settings import read_settings
from wheelwork.shelf.library import Library, make_library, read_sheet_file, read_text_file
from wheelwork.shelf.plans import Plans
from wheelwork.shelf.store import make_store

SECONDS_FOR_MENDS = 2.0
CAUTION = "The part's own datasheet and errata rule; this is no substitute for licensed or functional-safety work."


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("check", help="judge a plan", description=__doc__)
    parser.add_argument("plan", type=Path, metavar="PLAN.toml")
    parser.add_argument("--part", type=Path, metavar="FILE", help="the part sheet, in place of the one the plan names")
    parser.add_argument("--json", action="store_true", help="the answer of POST /api/check instead of tables")
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Judge the plan and print what there is to say."""
    part, plan, problems = read_files(parsed.plan, parsed.part)
    if part is None or plan is None:
        return tell_problems(problems)
    ends = monotonic() + SECONDS_FOR_MENDS
    judgement = with_mends(judge(part, plan), lambda: monotonic() < ends)
    if parsed.json:
        show_json(tell_judgement(judgement))
    else:
        show("\n".join(describe(judgement)))
    return 0 if judgement.legal else 1


def tell_problems(problems: Iterable[Problem]) -> int:
    """Print problems where faults go; the exit status of unreadable input."""
    for problem in problems:
        show_fault(problem.sentence())
    return 2


def read_files(
    plan_path: Path, part_path: Path | None, all_fitted: bool = True
) -> tuple[Part | None, Plan | None, list[Problem]]:
    """Part and plan from their files, or every problem; the sheet is the file named, else the one the plan names.

    With `all_fitted` an oscillator in use for which the board has nothing is a problem too.
    """
    text, problem = read_text_file(plan_path, LARGEST_PLAN)
    if problem is not None:
        return None, None, [problem]
    raw, problems = read_plan_text(text)
    if raw is None:
        return None, None, problems
    part, problems = read_sheet_file(part_path) if part_path is not None else find_sheet(raw)
    if part is None:
        return None, None, problems
    plan, problems = read_plan(raw, part)
    if plan is not None and all_fitted:
        problems = unfitted(part, plan)
    return part, None if problems else plan, add_lines(problems, text)


def find_sheet(raw: dict[str, Any]) -> tuple[Part | None, list[Problem]]:
    """The stored sheet that a raw plan names."""
    library, name = stored_library(), sheet_in(raw)
    sheet = library.sheet(name)
    if sheet is not None:
        return sheet.part, list(sheet.problems)
    like = nearest(name, library.sheets())
    offer = f"did you mean {like}? " if like else f"{name_list(list(library.sheets()))} are; "
    what = f"{quote(name)} is no stored part sheet" if name else "names no part sheet"
    return None, [Problem("part", what, f"{offer}or name a file with --part")]


def stored_library() -> Library:
    """The sheets of the demo, of the data folder, and of the shelf where one has been begun."""
    settings = read_settings()
    library, store = make_library(settings), make_store(settings)
    if store is not None and store.begun:
        library.kept = Plans(store)
    return library


def describe(judgement: Judgement) -> Iterable[str]:
    """The judgement as lines of text: the sum, the clocks, the findings with their mends."""
    yield from _sum_lines(judgement)
    yield ""
    head = ("clock", "frequency", "allowed", "room", "verdict")
    yield from write_table(head, [row for name in judgement.part.nodes for row in _rows(judgement, name)], right=(1, 3))
    for finding in judgement.findings:
        yield ""
        yield f"{finding.severity}: {finding.what}"
        yield f"  {finding.detail}"
        for mend in finding.mend[:1]:
            yield f"  mend: {mend.what}."
        if finding.tried:
            yield f"  {finding.tried}"


def _sum_lines(judgement: Judgement) -> Iterable[str]:
    part, plan = judgement.part, judgement.plan
    step = part.step(plan.core_voltage)
    lowest = judgement.lowest_that_does
    does = "none yet" if lowest is None else f"{lowest}, {write_exact(part.step(lowest).volts)} V"
    needed = "none suffices" if judgement.wait_states_needed is None else str(judgement.wait_states_needed)
    chosen = judgement.wait_states_chosen
    yield f"{plan.name or 'Plan'} on {part.name}{f', sheet revision {part.revision}' if part.revision else ''}"
    verdict = "legal" if judgement.legal else "not legal"
    yield f"{judgement.inside} of {len(judgement.windows)} clocks inside their windows: {verdict}"
    yield f"core voltage: {step.id}, {write_exact(step.volts)} V; lowest that would do: {does}"
    yield f"flash wait states: {'–' if chosen is None else chosen}; needed: {needed}"
    missing = f"; not stated: {name_list(judgement.current.not_stated)}" if judgement.current.not_stated else ""
    yield f"supply current, estimated, typical: {say_quantity(judgement.current.typical, CURRENT)}{missing}"
    yield CAUTION


def _rows(judgement: Judgement, name: str) -> Iterable[tuple[str, ...]]:
    title = judgement.part.nodes[name].title
    if name in judgement.phase_detectors:
        yield _row(f"{title}, phase detector", judgement.phase_detectors[name])
        title = f"{title}, VCO"
    yield _row(title, judgement.nodes[name])


def _row(title: str, judged: Judged) -> tuple[str, ...]:
    if judged.clock is None:
        return (title, "", "", "", "not running")
    allowed = "" if judged.window is None else say_window(judged.window)
    room = "" if judged.margin is None else say_quantity(judged.margin, FREQUENCY)
    return (title, say_frequency(judged.clock.nominal), allowed, room, judged.verdict if judged.window else "no window")
