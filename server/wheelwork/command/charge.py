"""`wheelwork charge PLAN.toml [--part FILE]`: supply current, one round of phases, how long the battery lasts.

Exit 0 when nothing stops it, 1 when something does, 2 when the input cannot be read.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from wheelwork.api.charge import tell_charge
from wheelwork.command.check import CAUTION, read_files, tell_problems
from wheelwork.command.printing import show, show_json
from wheelwork.command.table import write_table
from wheelwork.judge import judge
from wheelwork.judge.charge import Charge, PhaseCharge, reckon_charge
from wheelwork.judge.charge_words import say_charge, say_charge_of, say_estimate, say_often, say_span
from wheelwork.quantities.units import TIME, say_quantity

HEAD = ("phase", "runs", "lasts", "how often", "current", "charge")


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("charge", help="supply current and battery life of a plan", description=__doc__)
    parser.add_argument("plan", type=Path, metavar="PLAN.toml")
    parser.add_argument("--part", type=Path, metavar="FILE", help="the part sheet, in place of the one the plan names")
    parser.add_argument("--json", action="store_true", help="the answer of POST /api/charge instead of a table")
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Reckon the charge and print what there is to say."""
    part, plan, problems = read_files(parsed.plan, parsed.part)
    if part is None or plan is None:
        return tell_problems(problems)
    charge = reckon_charge(judge(part, plan))
    if parsed.json:
        show_json(tell_charge(charge))
    else:
        show("\n".join(describe(charge)))
    return 1 if any(finding.severity == "stop" for finding in charge.findings) else 0


def describe(charge: Charge) -> Iterable[str]:
    """The charge as lines of text: the sum, the phases, what is not stated, the findings."""
    part, plan = charge.judgement.part, charge.judgement.plan
    yield f"{plan.name or 'Plan'} on {part.name}{f', sheet revision {part.revision}' if part.revision else ''}"
    yield say_charge(charge)
    if span := say_span(charge):
        yield span
    yield f"run current, estimated: {say_estimate(charge.run)}"
    if charge.not_stated:
        yield f"not stated and not counted: {', '.join(charge.not_stated)}"
    yield CAUTION
    if charge.phases:
        yield ""
        yield from write_table(HEAD, [_row(charge, phase) for phase in charge.phases], right=(2, 4, 5))
    for finding in charge.findings:
        yield ""
        yield f"{finding.severity}: {finding.what}"
        if finding.detail:
            yield f"  {finding.detail}"


def _row(charge: Charge, phase: PhaseCharge) -> tuple[str, ...]:
    return (
        phase.name,
        phase.about,
        say_quantity(phase.lasts, TIME),
        say_often(phase, charge.round) or "each round",
        say_estimate(phase.current),
        say_charge_of(phase),
    )
