"""What is to blame in words: a target with what it wants, a pin with the value that stays, a load in use."""

from __future__ import annotations

from wheelwork.find.mends import say_value
from wheelwork.find.question import Blame, Question
from wheelwork.part.nodes import Load, Part, Pll
from wheelwork.plan.plan import Plan, Target
from wheelwork.plan.targets import say_target
from wheelwork.quantities.numbers import write_exact


def say_blame(blame: Blame, question: Question) -> str:
    """One of the things that cannot hold together: `Core source stays PLL core tap`."""
    part, plan = question.part, question.plan
    if blame.target is not None:
        target = question.targets[blame.target]
        return say_target(target, part) + _unused(target, part, plan)
    if blame.pinned is not None:
        return _say_pin(blame.pinned, part, plan)
    node = part.nodes[blame.load or part.core_clock]
    return f"{node.title} {'is in use' if isinstance(node, Load) else 'always runs'}"


def _unused(target: Target, part: Part, plan: Plan) -> str:
    """A hint at what is easily overlooked: a load that is not in use has no clock, and meets no target."""
    unused = isinstance(part.nodes[target.node], Load) and target.node not in (*plan.in_use, *plan.keep_running)
    return ", and it is not in use" if unused else ""


def _say_pin(name: str, part: Part, plan: Plan) -> str:
    if name == "core_voltage":
        return f"core voltage stays {write_exact(part.step(plan.core_voltage).volts)}\u00a0V"
    values, (head, _, factor) = plan.complete(part), name.partition(".")
    node = part.nodes[head]
    if isinstance(node, Pll) and not factor:
        said = [say_value(part, f"{head}.{key}", values[f"{head}.{key}"]) for key in _factors(node)]
        return f"{node.title} stays {', '.join(said)}"
    value = values.get(name)
    kept = "as it is" if value is None else say_value(part, name, value)
    return f"{node.title}{' ' + factor.replace('_', ' ') if factor else ''} stays {kept}"


def _factors(node: Pll) -> tuple[str, ...]:
    return ("reference_divider", "feedback", "fraction") if node.fraction_of > 1 else ("reference_divider", "feedback")
