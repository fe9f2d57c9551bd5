"""Core voltage and flash: what is set, what the clock needs, and what each other step would do."""

from __future__ import annotations

from wheelwork.handover.report import Chapter, Facts, Table
from wheelwork.judge import Judgement
from wheelwork.judge.remarks import say_step
from wheelwork.part.nodes import Step
from wheelwork.power.wait_states import needed_wait_states
from wheelwork.quantities.units import CURRENT, say_frequency, say_quantity

ORDER = 50
HEAD = ("Step", "Core voltage", "Wait states needed", "Code", "Sheet")


def write_chapter(judgement: Judgement) -> Chapter:
    """The step that is set and the others beside it."""
    part, plan = judgement.part, judgement.plan
    lowest, flash = judgement.lowest_that_does, judgement.clocks[part.flash_clock].nominal
    facts = Facts(
        (
            (
                "Core voltage",
                f"{say_step(part.step(plan.core_voltage))}, step {plan.core_voltage}",
            ),
            ("Lowest step that would do", "none as the plan stands" if lowest is None else lowest),
            ("Flash wait states", _say(judgement.wait_states_chosen)),
            ("Needed at this step", f"{_say(judgement.wait_states_needed)}, flash clock {say_frequency(flash)}"),
            ("Supply current, estimated", _say_current(judgement)),
        )
    )
    rows = tuple(_row(judgement, step) for step in part.steps)
    return Chapter("Core voltage and flash", (facts, Table(HEAD, rows, right=(1, 2, 3))))


def _say(wait_states: int | None) -> str:
    return "none suffices" if wait_states is None else str(wait_states)


def _say_current(judgement: Judgement) -> str:
    current = judgement.current
    highest = "" if current.highest is None else f", up to {say_quantity(current.highest, CURRENT)}"
    titles = [judgement.part.nodes[name].title if name in judgement.part.nodes else name for name in current.not_stated]
    missing = f"; not stated and not counted: {', '.join(each.replace('_', ' ') for each in titles)}" if titles else ""
    return f"typical {say_quantity(current.typical, CURRENT)}{highest}{missing}"


def _row(judgement: Judgement, step: Step) -> tuple[str, ...]:
    part, plan = judgement.part, judgement.plan
    needed = needed_wait_states(step, judgement.clocks[part.flash_clock], plan.supply, part.with_tolerance)
    title = f"{step.id}, set" if step.id == plan.core_voltage else step.id
    code = "–" if step.code is None else str(step.code)
    return title, say_step(step), _say(needed), code, step.see or "–"
