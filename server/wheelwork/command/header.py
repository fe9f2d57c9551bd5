"""`wheelwork header PLAN.toml`: hand a plan over to the firmware, as a C header or another form, on standard output.

Exit 0 when the plan is legal, 1 when not (the text says so), 2 when the input cannot be read. With `--check FILE`
nothing is handed over: exit 0 when the file is still what the plan gives, 1 when it is not, 2 when it cannot be read.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from difflib import unified_diff
from pathlib import Path
from typing import Any

from wheelwork.command.check import read_files, tell_problems
from wheelwork.command.printing import show, show_fault, show_text
from wheelwork.findings import Problem, Unreadable, name_list, nearest, quote
from wheelwork.handover.forms import Form, Wish, forms
from wheelwork.handover.names import PREFIX, read_prefix
from wheelwork.judge import judge
from wheelwork.shelf.library import read_text_file

LARGEST_FILE = 4 * 1024 * 1024
MOST_LINES = 20


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("header", help="hand a plan over to the firmware", description=__doc__)
    parser.add_argument("plan", type=Path, metavar="PLAN.toml")
    parser.add_argument("--part", type=Path, metavar="FILE", help="the part sheet, in place of the one the plan names")
    parser.add_argument("--form", default="c", metavar="FORM", help=f"{', '.join(forms())} (c)")
    parser.add_argument("--prefix", default=PREFIX, metavar="P", help=f"what every name begins with ({PREFIX})")
    parser.add_argument("--no-reasons", action="store_true", help="the values alone, without where each comes from")
    parser.add_argument("--check", type=Path, metavar="FILE", help="say whether this file is still what the plan gives")
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Write the text, or hold a file against it."""
    form, prefix, problems = _read_wish(parsed)
    part, plan, more = read_files(parsed.plan, parsed.part)
    problems += more
    if part is None or plan is None or form is None or problems:
        return tell_problems(problems)
    judgement = judge(part, plan)
    text = form.write(judgement, Wish(prefix, not parsed.no_reasons))
    if parsed.check is not None:
        return _check(parsed.check, text, form)
    show_text(text)
    stops = [finding for finding in judgement.findings if finding.severity == "stop"]
    for finding in stops:
        show_fault(f"stop: {finding.what}")
    return 0 if judgement.legal else 1


def _read_wish(parsed: argparse.Namespace) -> tuple[Form | None, str, list[Problem]]:
    """The form and the prefix, and what is wrong with them."""
    known, problems, prefix = forms(), [], PREFIX
    form = known.get(parsed.form)
    if form is None:
        like = nearest(parsed.form, known)
        offer = f"did you mean {like}?" if like else f"{name_list(list(known))} are"
        problems.append(Problem("--form", f"{quote(parsed.form)} is no form", offer))
    try:
        prefix = read_prefix(parsed.prefix)
    except Unreadable as fault:
        problems.append(fault.at("--prefix"))
    return form, prefix, problems


def _check(path: Path, text: str, form: Form) -> int:
    """Whether a file is what the plan gives; line ends may be those of another system."""
    found, problem = read_text_file(path, LARGEST_FILE)
    if problem is not None:
        return tell_problems([problem])
    if _lines(found) == _lines(text):
        show(f"{path}: what the plan gives")
        return 0
    show("\n".join([f"{path}: no longer what the plan gives", *_differences(found, text, form)]))
    return 1


def _lines(text: str) -> list[str]:
    return text.replace("\r\n", "\n").split("\n")


def _differences(found: str, text: str, form: Form) -> Iterator[str]:
    """Which constants differ; where none does, the lines that do."""
    told: list[str] = []
    if form.read_constants is not None:
        told = list(_constants(form.read_constants(found), form.read_constants(text)))
    if told:
        yield from told[:MOST_LINES]
        yield from _more(len(told), "constants")
        return
    if form.read_constants is not None:
        yield "every constant is the same; the text around them differs"
    lines = list(unified_diff(_lines(found), _lines(text), "file", "plan", n=0, lineterm=""))[2:]
    yield from lines[:MOST_LINES]
    yield from _more(len(lines), "lines")


def _more(count: int, what: str) -> Iterator[str]:
    if count > MOST_LINES:
        yield f"… and {count - MOST_LINES} more {what}"


def _constants(found: Mapping[str, str], given: Mapping[str, str]) -> Iterator[str]:
    for name in dict.fromkeys([*given, *found]):
        if name not in found:
            yield f"  {name}: not in the file, the plan gives {given[name]}"
        elif name not in given:
            yield f"  {name}: {found[name]} in the file, the plan does not have it"
        elif found[name] != given[name]:
            yield f"  {name}: {found[name]} in the file, the plan gives {given[name]}"
