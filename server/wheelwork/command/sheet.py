"""`wheelwork sheet PART.toml`: check a part sheet and show it as tables; `--schema` prints the editors' JSON Schema."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from wheelwork.command.check import tell_problems
from wheelwork.command.printing import show, show_fault, show_json
from wheelwork.command.table import write_table
from wheelwork.part.nodes import Amount, Load, Node, Oscillator, Part, Pll, Scaler, Selector, Step
from wheelwork.part.schema import json_schema
from wheelwork.plan.reading import allowed_words
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.spans import Window, say_tolerance, say_window
from wheelwork.quantities.units import CURRENT, CURRENT_SLOPE, TIME, VOLTAGE, Unit, say_frequency, say_quantity
from wheelwork.shelf.library import read_sheet_file


def add_to(commands: Any) -> None:
    """Add the command."""
    parser = commands.add_parser("sheet", help="check a part sheet and show it", description=__doc__)
    parser.add_argument("sheet", type=Path, nargs="?", metavar="PART.toml")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of part sheets")
    parser.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Check the sheet; print its tables or its problems."""
    if parsed.schema:
        show_json(json_schema())
        return 0
    if parsed.sheet is None:
        show_fault("sheet: no file is named; write wheelwork sheet PART.toml")
        return 2
    part, problems = read_sheet_file(parsed.sheet)
    if part is None:
        many = "problem" if len(problems) == 1 else "problems"
        show_fault(f"{parsed.sheet.name or parsed.sheet}: {len(problems)} {many}")
        return tell_problems(problems)
    show("\n".join(describe(part)))
    return 0


def describe(part: Part) -> Iterable[str]:
    """The sheet as tables."""
    yield f"{part.name}: {part.about}" if part.about else part.name
    source, revision, author = part.figures_from or "nowhere named", part.revision or "–", part.author or "–"
    yield f"figures from {source}; revision {revision}; by {author}"
    judged_on = "lowest and highest" if part.with_tolerance else "the nominal"
    yield f"judged on {judged_on}; core clock {part.core_clock}, flash clock {part.flash_clock}"
    yield ""
    yield from write_table(
        ("core voltage", "volts", "slope", "offset", "settle", "wait states up to"), map(_step, part.steps)
    )
    yield ""
    head = ("node", "title", "kind", "fed by", "settings", "window", *(f"at {step.id}" for step in part.steps))
    yield from write_table(head, [row for node in part.nodes.values() for row in _node_rows(part, node)])
    for rule in part.rules:
        words = f"at most {rule.at_most}" if rule.at_most is not None else f"at least {rule.at_least}"
        yield f"rule: {rule.node} {words} of {rule.of}"


def _step(step: Step) -> tuple[str, ...]:
    rows = ", ".join(f"{row.wait_states}: {say_frequency(row.up_to)}{_at_supply(row.supply)}" for row in step.flash)
    settle = "" if step.settle is None else say_quantity(step.settle, TIME)
    return (
        step.id,
        f"{write_exact(step.volts)} V",
        _amount(step.run_current, CURRENT_SLOPE),
        _amount(step.base_current, CURRENT),
        settle,
        rows or "no table",
    )


def _at_supply(window: Window | None) -> str:
    return "" if window is None else f" (supply {say_window(window, VOLTAGE)})"


def _amount(amount: Amount | None, kind: Unit) -> str:
    if amount is None:
        return "not stated"
    return say_quantity(amount.typical, kind) + (
        "" if amount.highest is None else f" to {say_quantity(amount.highest, kind)}"
    )


def _node_rows(part: Part, node: Node) -> Iterable[tuple[str, ...]]:
    fed = ", ".join(node.feeders) if not isinstance(node, Oscillator) else ""
    if isinstance(node, Pll):
        yield _row(
            part, node, f"{node.id}.reference_divider", fed, "÷ " + allowed_words(node, "reference_divider"), True
        )
        fraction = f", fraction of {node.fraction_of}" if node.fraction_of > 1 else ""
        yield _row(part, node, f"{node.id}.feedback", "", "× " + allowed_words(node, "feedback") + fraction, False)
    else:
        yield _row(part, node, node.id, fed, _settings(node), False)


def _settings(node: Node) -> str:
    if isinstance(node, Oscillator):
        tolerance = "" if node.tolerance is None else f", {say_tolerance(node.tolerance)}"
        return ("fitted " if node.fitted is not None else "") + allowed_words(node) + tolerance
    if isinstance(node, Scaler):
        return f"× {node.factor}" + (
            f" while {node.when_divider} is above {node.ratio_above}" if node.when_divider else ""
        )
    if isinstance(node, Load):
        return "also " + ", ".join(node.also) if node.also else ""
    return "one of its inputs" if isinstance(node, Selector) else "÷ " + allowed_words(node)


def _row(part: Part, node: Node, name: str, fed: str, settings: str, detector: bool) -> tuple[str, ...]:
    def window(step: str) -> Window | None:
        return node.phase_detector_window(step) if detector and isinstance(node, Pll) else node.window(step)

    plain = (
        node.phase_detector
        if detector and isinstance(node, Pll)
        else node.vco
        if isinstance(node, Pll)
        else node.limits
    )
    replaced = ["" if window(step.id) == plain else _say(window(step.id)) for step in part.steps]
    return (name, node.title, node.kind, fed, settings, _say(plain), *replaced)


def _say(window: Window | None) -> str:
    return "" if window is None else say_window(window)
