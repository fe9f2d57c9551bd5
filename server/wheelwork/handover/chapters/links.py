"""The links: what is wanted, what is set, how the rate and its error come about, and whose allowance counts."""

from __future__ import annotations

from collections.abc import Iterator

from wheelwork.formulas.rules import write_rule
from wheelwork.handover.report import Block, Bullets, Chapter, Table
from wheelwork.judge import Judgement
from wheelwork.judge.link_sums import sums_of
from wheelwork.judge.link_words import say_allowed, say_errors, say_kind, say_run, say_wanted
from wheelwork.judge.rate_words import say_settings
from wheelwork.judge.rates import JudgedLink

ORDER = 60
HEAD = ("Link", "From", "Wanted", "Set", "Runs at", "Error", "At worst", "Allowed", "Verdict")


def write_chapter(judgement: Judgement) -> Chapter | None:
    """A table of the links, then the sums of each; nothing where the plan has none."""
    if not judgement.links:
        return None
    links = judgement.links
    loud = frozenset(number for number, link in enumerate(links) if not link.keeps)
    table = Table(HEAD, tuple(_row(judgement, link) for link in links), right=(2, 4, 5, 6), loud=loud)
    sums = tuple(block for link in links for block in _sums(link))
    return Chapter("Links", (table, *sums))


def _row(judgement: Judgement, link: JudgedLink) -> tuple[str, ...]:
    words = say_errors(link, link.choice)
    return (
        f"{link.title}: {say_kind(link)}",
        judgement.part.nodes[link.node].title,
        say_wanted(link),
        "–" if link.choice is None else say_settings(link.choice) or "nothing to set",
        say_run(link, link.choice),
        words.error or "–",
        words.with_tolerance.removesuffix(" with tolerance") or words.error or "–",
        say_allowed(link).removeprefix("allowed ") or "–",
        words.words,
    )


def _sums(link: JudgedLink) -> Iterator[Block]:
    """How a link's rate and error come about, each step in a line, and the source of what is allowed."""
    lines = [f"{line.label}: {write_rule(line.rule, line.values, line.result)}" for line in sums_of(link)]
    if link.allowance is not None and link.allowance.source:
        lines.append(f"Allowance by: {link.allowance.source}")
    lines += [finding.what for finding in link.findings]
    if lines:
        yield f"{link.title}:"
        yield Bullets(tuple(lines))
