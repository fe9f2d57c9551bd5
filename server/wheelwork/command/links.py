"""`wheelwork links PLAN.toml [--part FILE]`: judge every wanted rate of a plan on the clock that feeds it.

Exit 0 when all keep their rate, 1 when some do not, 2 when the input cannot be read.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from wheelwork.api.links import tell_links
from wheelwork.command.check import CAUTION, read_files, tell_problems
from wheelwork.command.printing import show, show_json
from wheelwork.command.table import write_table
from wheelwork.judge import JudgedLink, Judgement, judge
from wheelwork.judge.rate_words import say_allowance, say_off, say_rate, say_settings
from wheelwork.quantities.spans import say_tolerance
from wheelwork.quantities.units import say_frequency

HEAD = ("link", "load", "clock", "wanted", "settings", "rate", "error", "allowed", "verdict")


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("links", help="judge the wanted rates of a plan", description=__doc__)
    parser.add_argument("plan", type=Path, metavar="PLAN.toml")
    parser.add_argument("--part", type=Path, metavar="FILE", help="the part sheet, in place of the one the plan names")
    parser.add_argument("--json", action="store_true", help="the answer of POST /api/links instead of a table")
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Judge the links and print what there is to say."""
    part, plan, problems = read_files(parsed.plan, parsed.part)
    if part is None or plan is None:
        return tell_problems(problems)
    judgement = judge(part, plan)
    if parsed.json:
        show_json(tell_links(part, judgement.links))
    else:
        show("\n".join(describe(judgement)))
    return 0 if all(link.keeps for link in judgement.links) else 1


def describe(judgement: Judgement) -> Iterable[str]:
    """The links as lines of text: the sum, one table, the findings."""
    part, plan, links = judgement.part, judgement.plan, judgement.links
    yield f"{plan.name or 'Plan'} on {part.name}{f', sheet revision {part.revision}' if part.revision else ''}"
    yield say_sum(links)
    if not links:
        return
    yield CAUTION
    yield ""
    yield from write_table(HEAD, [_row(judgement, link) for link in links], right=(5,))
    for finding in (finding for link in links for finding in link.findings):
        yield ""
        yield f"{finding.severity}: {finding.what}"
        if finding.detail:
            yield f"  {finding.detail}"


def say_sum(links: tuple[JudgedLink, ...]) -> str:
    """How many of the links keep their rate: `7 of 8 links keep their rate, 1 not judged`."""
    if not links:
        return "the plan has no links"
    judged = [link for link in links if link.verdict != "stopped"]
    kept, stopped = sum(link.keeps for link in judged), len(links) - len(judged)
    noun, verb = ("link", "keeps its rate") if len(judged) == 1 else ("links", "keep their rate")
    return f"{kept} of {len(judged)} {noun} {verb}" + (f", {stopped} not judged" if stopped else "")


def _row(judgement: Judgement, link: JudgedLink) -> tuple[str, ...]:
    choice, clock = link.choice, link.clock
    feed = judgement.part.nodes[link.node].title
    if clock is not None:
        tolerance = (
            "" if clock.tolerance.lowest == clock.tolerance.highest == 0 else f" {say_tolerance(clock.tolerance)}"
        )
        feed = f"{feed} {say_frequency(clock.nominal)}{tolerance}"
    allowed = "" if link.allowance is None else say_allowance(link.allowance)
    settings = "" if choice is None else f"{say_settings(choice)}{'' if link.chosen is None else ' (chosen)'}"
    rate = "" if choice is None or choice.rate is None else say_rate(choice.rate, link.family, link.link.ask)
    error = "" if choice is None or choice.error is None else say_off(choice.error, link.link.ask)
    verdict = "not running" if link.verdict == "stopped" else link.verdict
    return (link.title, link.load.title, feed, link.wanted, settings, rate, error, allowed, verdict)
