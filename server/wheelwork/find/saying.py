"""An answer in words: how many settings fit and what that rests on; what is to blame where none does."""

from __future__ import annotations

from fractions import Fraction

from wheelwork.find.mends import say_value
from wheelwork.find.question import Answer, Blame, Question
from wheelwork.part.nodes import Load, Part, Pll
from wheelwork.plan.plan import Plan, Target
from wheelwork.plan.targets import say_target
from wheelwork.quantities.numbers import NO_BREAK_SPACE, group, write_exact, write_figures
from wheelwork.quantities.units import TIME, say_quantity

LARGEST_WRITTEN_OUT = 10**15
RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")


def say_count(count: int) -> str:
    """A count in groups of three; one that nobody would read out, in four figures, cut, and a power of ten.

    >>> say_count(7983360) == "7\\u2009983\\u2009360", say_count(23_676_387_523_136_000) == "2.367\\u00a0×\\u00a010¹⁶"
    (True, True)
    """
    if count < LARGEST_WRITTEN_OUT:
        return group(str(count))
    digits = str(count)
    power = str(len(digits) - 1).translate(RAISED)
    return f"{digits[0]}.{digits[1:4]}{NO_BREAK_SPACE}×{NO_BREAK_SPACE}10{power}"


def say_settings(count: int) -> str:
    """So many settings: `1 setting`, `10 settings`."""
    return f"{say_count(count)} {'setting' if count == 1 else 'settings'}"


def say_seconds(seconds: float) -> str:
    """A time that was taken, to two figures; below a tenth of a second in milliseconds.

    >>> say_seconds(0.41) == "0.41\\u00a0s", say_seconds(31.4) == "31\\u00a0s", say_seconds(0.0041) == "4.1\\u00a0ms"
    (True, True, True)
    """
    taken = Fraction(round(seconds * 10_000), 10_000)
    if 0 < taken < Fraction(1, 10):
        return say_quantity(taken, TIME, 2)
    return f"{write_figures(taken, 2)}{NO_BREAK_SPACE}s"


def head_count(answer: Answer) -> str:
    """How many settings fit; `at least` unless every one was counted."""
    if answer.fits is None:
        return "Not decided"
    if answer.fits is False:
        return "Nothing fits"
    if answer.complete and answer.admissible:
        return f"{say_settings(answer.admissible)} fit{'s' if answer.admissible == 1 else ''}"
    least = max(answer.admissible or 0, len(answer.solutions), 1)
    return f"At least {say_settings(least)} fit{'s' if least == 1 else ''}"


def say_proof(answer: Answer, seconds: float, stopped: bool = False) -> str:
    """What the count rests on: that every setting was searched, or that it was not; nothing more than is so."""
    taken = say_seconds(seconds)
    ended = f"Stopped after {taken}" if stopped else f"Not decided within {taken}"
    if answer.fits is None:
        return f"{'Stopped' if stopped else 'Time ended'} after {taken}: whether any setting fits is open."
    if answer.fits and not answer.complete:
        if answer.ordered and answer.solutions:
            return f"{ended}: how many fit in all. None is better than those listed."
        return f"{ended}: there may be more, and better ones."
    if answer.fits and answer.admissible is None:
        return f"The best were searched out in {taken}; how many fit was not asked."
    many = (answer.searched or 0) > 1
    every = (
        f"All {say_count(answer.searched or 0)}{'' if answer.fits else ' settings'} were"
        if many
        else "Every setting was"
    )
    return f"{every} searched in {taken}{', so there are no others' if answer.fits else ''}."


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
