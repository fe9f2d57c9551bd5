"""Judging the links of a plan: all of the largest plan asked anew, and again with nothing of them changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from tests.bench.measure import median_ms
from tests.demo import load_demo
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.judge.rates import judge_links, judge_written
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan

Line = tuple[str, str, str]
LARGEST = "05-pier-head-logging"


def measure() -> Iterator[Line]:
    """The lines of this part of the table."""
    part, plan = load_demo(LARGEST)
    judgement = reckon(part, plan)
    took = median_ms(lambda: judge_anew(judgement))
    yield f"judging {len(plan.links)} links, {part.name}, each asked anew", f"{took:.2f} ms", "30 ms"
    slowest = max(_each(judgement).items(), key=lambda each: each[1])
    yield f"  the slowest family among them: {slowest[0]}", f"{slowest[1]:.2f} ms", "20 ms"
    took = median_ms(lambda: judge_links(judgement))
    yield "  again, as when a setting is changed that feeds none of them", f"{took:.2f} ms", "1 ms"
    written = write_plan(plan, part)
    with_links = median_ms(lambda: read_plan(written, part))
    without = median_ms(lambda: read_plan({**written, "link": []}, part))
    yield "  reading them, as part of reading the plan", f"{with_links - without:.2f} ms", ""
    sheet = dict(part.written)
    took = median_ms(lambda: read_sheet_json(sheet), rounds=5, inner=1)
    yield f"reading the sheet of {part.name} with its generators", f"{took:.1f} ms", ""


def judge_anew(judgement: Judgement) -> None:
    """Judge all links with nothing kept from the call before."""
    judge_written.cache_clear()
    judge_links(judgement)


def _each(judgement: Judgement) -> dict[str, float]:
    """Milliseconds of the slowest link of each family."""
    slowest: dict[str, float] = {}
    for link in judgement.plan.links:
        alone = replace(judgement, plan=replace(judgement.plan, links=(link,)))
        took = median_ms(partial(judge_anew, alone), rounds=3, inner=5)
        slowest[link.family] = max(took, slowest.get(link.family, 0.0))
    return slowest
