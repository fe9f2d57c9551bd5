"""What a setting is worth in the sense of each preference, exact; the larger value is the better one."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import inf

from wheelwork.clocks.verdicts import Judged
from wheelwork.find.question import Preference, Question
from wheelwork.judge.judgement import Judgement
from wheelwork.part.nodes import FACTORS, Pll, Value
from wheelwork.plan.plan import Plan

Score = Fraction | float
"""A rational, or an infinity where a setting has nothing to measure."""


def value_of(preference: Preference, question: Question, judgement: Judgement) -> Score:
    """What a judged setting is worth by a preference; of two settings the one with the larger value comes first."""
    match preference.kind:
        case "least current":
            return -judgement.current.typical
        case "highest" | "lowest":
            clock = judgement.clocks.get(preference.node or "")
            if clock is None:
                return -inf
            return clock.nominal if preference.kind == "highest" else -clock.nominal
        case "least error":
            return -max(_errors(question, judgement), default=Fraction(0))
        case "highest phase detector":
            return min(
                (judged.clock.nominal for judged in judgement.phase_detectors.values() if judged.clock), default=inf
            )
        case "lowest core voltage":
            part = judgement.part
            return Fraction(part.steps.index(part.step(judgement.plan.core_voltage)))
        case "fewest changes":
            return Fraction(-len(changes_from(question.plan, judgement)))
        case "most room":
            return min((room for judged in judgement.windows for room in _rooms(judged)), default=inf)


def changes_from(plan: Plan, judgement: Judgement) -> tuple[str, ...]:
    """The settings of the nodes that matter that differ from a plan's; a PLL's factors are one, named by its id."""
    before, changed = plan.complete(judgement.part), dict[str, None]()
    for key, value in settings_that_matter(judgement).items():
        if before.get(key) != value:
            changed[key.partition(".")[0]] = None
    if judgement.plan.core_voltage != plan.core_voltage:
        changed["core_voltage"] = None
    return tuple(changed)


def settings_that_matter(judgement: Judgement) -> dict[str, Value]:
    """Every setting of the nodes that matter, in the sheet's order."""
    on = set(judgement.way.order)
    return {key: value for key, value in judgement.settings.items() if key.partition(".")[0] in on}


def shape_of(judgement: Judgement) -> tuple[tuple[str, object], ...]:
    """What settings that differ only in PLL factors of equal ratio have in common, step included."""
    told: list[tuple[str, object]] = [("core_voltage", judgement.plan.core_voltage)]
    for key, value in settings_that_matter(judgement).items():
        name, _, factor = key.partition(".")
        if not factor:
            told.append((key, value))
        elif factor == FACTORS[0]:
            told.append((name, _ratio(judgement, name)))
    return tuple(told)


def _ratio(judgement: Judgement, name: str) -> Fraction:
    node = judgement.part.nodes[name]
    assert isinstance(node, Pll)
    divider, feedback, fraction = (Fraction(judgement.settings[f"{name}.{factor}"]) for factor in FACTORS)
    return (feedback + fraction / node.fraction_of) / divider


def _errors(question: Question, judgement: Judgement) -> Iterator[Fraction]:
    for target in question.targets:
        clock = judgement.clocks.get(target.node)
        if target.frequency is not None and clock is not None:
            yield abs(clock.nominal - target.frequency) / target.frequency


def _rooms(judged: Judged) -> Iterator[Fraction]:
    """The room to each limit of a window in the worst case, as a share of the limit."""
    clock, window = judged.clock, judged.window
    if clock is None or window is None:
        return
    if window.lowest:
        yield clock.lowest / window.lowest - 1
    if window.highest:
        yield 1 - clock.highest / window.highest
