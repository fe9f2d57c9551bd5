"""Judging the links of a plan, and the two hardest families against a plain loop over the same settings.

A loop over all pairs of two 16-bit factors would take an hour, so a part of its rows is timed and scaled; that the
answer is the same is held by numpy, which tries all pairs once.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import product

import numpy as np

from tests.bench.measure import median_ms
from tests.demo import load_demo
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.judge.rates import judge_links, judge_written
from wheelwork.links.bit_timing import Timing, oscillator_tolerance
from wheelwork.links.families import answer_link, families
from wheelwork.links.family import Feed, LinkAnswer
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan
from wheelwork.quantities.ratios import read_ratios
from wheelwork.quantities.spans import EXACT

Line = tuple[str, str, str]
LARGEST = "05-pier-head-logging"
BUS = {"prescaler": "1..256", "segment_1": "1..16", "segment_2": "1..8", "jump": "1..4"}
COUNTER = {"prescaler": "1..65536", "reload": "1..65536"}
CLOCK, BIT_RATE = 80_000_000, 500_000
SELDOM = Fraction(7, 200)
"""A rate for which both factors of the timer have to be large, hertz: the hardest that it can be asked."""
LOOPED = 4
"""Rows of the timer's plain loop that are timed, of 65536."""


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
    yield from _against_loops()


def _against_loops() -> Iterator[Line]:
    """The field bus and the timer over all settings, and how much longer a plain loop takes."""
    answer, ours = _timed("can", BUS, {"rate": f"{BIT_RATE} bit/s", "sample_point": "87.5 %"})
    started = time.perf_counter()
    best = min(_bus_settings(), key=_bus_order)
    loop = (time.perf_counter() - started) * 1000
    chosen = answer.choices[0].settings
    found = Timing(*(int(str(chosen[key])) for key in BUS))
    assert _bus_order(found) == _bus_order(best), (found, best)
    yield "a field bus over 131 072 settings", f"{ours:.2f} ms", "20 ms"
    yield "  a plain loop over the same, as a multiple", f"{loop / ours:.0f} times", "100 times"
    answer, ours = _timed("timer", COUNTER, {"rate": f"{float(SELDOM)} Hz"})
    assert abs(answer.choices[0].error or Fraction(0)) == _least_error_of_pairs()
    started = time.perf_counter()
    min(abs(CLOCK / (a * b * SELDOM) - 1) for a in range(1, LOOPED + 1) for b in range(1, 65537))
    loop = (time.perf_counter() - started) * 1000 * 65536 / LOOPED
    yield "a timer over 65 536 by 65 536 factors", f"{ours:.2f} ms", "20 ms"
    yield "  a plain loop over the same (scaled), as a multiple", f"{loop / ours:.0f} times", "100 times"


def _timed(family: str, generator: dict[str, str], ask: dict[str, str]) -> tuple[LinkAnswer, float]:
    run: Callable[[], tuple[LinkAnswer, object]] = partial(
        answer_link, families()[family], Feed(Fraction(CLOCK), EXACT), generator, ask
    )
    return run()[0], median_ms(run, inner=5)


def _bus_settings() -> Iterator[Timing]:
    for values in product(*(read_ratios(offered) for offered in BUS.values())):
        timing = Timing(*(int(value) for value in values))
        if timing.jump <= min(timing.segment_1, timing.segment_2):
            yield timing


def _bus_order(timing: Timing) -> tuple[Fraction, Fraction, Fraction]:
    """Off in rate, off in sample point, then how much the setting bears, the most first."""
    off = abs(Fraction(CLOCK, timing.prescaler * timing.quanta * BIT_RATE) - 1)
    return off, abs(timing.sample_point - Fraction(7, 8)), -oscillator_tolerance(timing)


def _least_error_of_pairs() -> Fraction:
    """The least error of the seldom rate over every pair of factors, in whole numbers."""
    factors = np.arange(1, 65537, dtype=np.int64)
    products = set()
    for row in factors:  # of a row only the two products about the wanted one can be the nearest
        off = np.abs(CLOCK * SELDOM.denominator - SELDOM.numerator * row * factors)
        place = int(off.argmin())
        products |= {int(row * factors[near]) for near in (place - 1, place, place + 1) if 0 <= near < len(factors)}
    return min(abs(CLOCK / (each * SELDOM) - 1) for each in products)


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
