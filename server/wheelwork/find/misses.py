"""By how much a question was missed under which nothing fits: one true sentence for people, or two."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.find.combs import Combs, find_combs, nearest_pair
from wheelwork.find.nearest import Nearest, edges_of, find_nearest
from wheelwork.find.question import Blame, Question, StillTime
from wheelwork.plan.plan import Target
from wheelwork.quantities.numbers import NO_BREAK_SPACE
from wheelwork.quantities.spans import say_tolerance, say_window
from wheelwork.quantities.units import FREQUENCY, SHARE, pick_unit, say_frequency, say_quantity


@dataclass(frozen=True, slots=True)
class NearestMiss:
    """By how much everything was missed, in one sentence, or two."""

    sentence: str


def nearest_miss(
    question: Question,
    conflict: Iterable[Blame],
    still_time: StillTime,
    nearest: Sequence[Nearest] | None = None,
    beside: str | None = None,
) -> NearestMiss | None:
    """By how much the blamed targets miss each other; None where no target is blamed or it is not known in time.

    `beside`: the load in use that keeps a target blamed alone from being met (`find_in_the_way`), where it is known.
    """
    blamed = tuple(conflict)
    combs = find_combs(question, blamed)
    if combs is not None and len(blamed) == 2:
        return _miss_of_combs(question, blamed, combs)
    near = find_nearest(question, blamed, still_time) if nearest is None else nearest
    idle = next((each for each in near if each.idle), None)
    if idle is not None:
        return NearestMiss(f"{question.part.nodes[idle.wanted.node].title} does not run: nothing in use hangs on it.")
    known = [each for each in near if each.is_proven and each.settings and not each.window_aside]
    closest = min(known, key=lambda each: each.distance(each.settings[0]), default=None)
    if closest is None:
        return None
    said = [_said_miss(question, closest, len(blamed)), *([] if beside is None else [_said_beside(question, beside)])]
    return NearestMiss(" ".join(said))


def _said_beside(question: Question, load: str) -> str:
    """Whose window stands in the way."""
    node = question.part.nodes[load]
    window = node.window(question.plan.core_voltage) or node.limits
    asks = "" if window is None else f", of which the part sheet asks {say_window(window)}"
    return f"What stands in the way is {in_sentence(node.title)}{asks}."


def _miss_of_combs(question: Question, blamed: tuple[Blame, ...], combs: Combs) -> NearestMiss | None:
    pair = nearest_pair(combs)
    if pair is None:
        return None
    apart = pair[1] / pair[0] - 1
    sentence = f"The nearest pair, {_say_pair(*pair)}, is {say_quantity(apart, SHARE, 2)} apart."
    targets = [question.targets[blame.target] for blame in blamed if blame.target is not None]
    allowed = [target.within or Fraction(0) for target in targets if target.frequency is not None]
    if len(allowed) < len(targets):
        return NearestMiss(sentence)
    return NearestMiss(f"{sentence} {_said_bridge(apart, sum(allowed, Fraction(0)))}")


def _said_bridge(apart: Fraction, allowed: Fraction) -> str:
    if not allowed:
        return "Neither allows any error."
    bridge = f"Together the two allowances bridge {say_quantity(allowed, SHARE, 3)}"
    return f"{bridge}." if allowed < apart else f"{bridge}, but no setting puts the clock where both are met."


def _say_pair(low: Fraction, high: Fraction) -> str:
    """Two frequencies with their unit once, where it suits both."""
    unit = pick_unit(high, FREQUENCY)
    if pick_unit(low, FREQUENCY) != unit:
        return f"{say_frequency(low)} and {say_frequency(high)}"
    return f"{say_frequency(low).removesuffix(NO_BREAK_SPACE + unit)} and {say_frequency(high)}"


def _said_miss(question: Question, near: Nearest, blamed: int) -> str:
    judged, title = near.settings[0], question.part.nodes[near.wanted.node].title
    frequency = near.frequency(judged)
    held = "" if blamed == 1 else "While the others hold, " if near.opens else "While the others named here hold, "
    name = in_sentence(title) if held else title
    if near.distance(judged) == 0:
        clock = judged.clocks[near.wanted.node]
        source = in_sentence(question.part.nodes[clock.source].title)
        off = say_tolerance(clock.tolerance)
        return f"{held}{name} can stand at {say_frequency(frequency)}, but {source}, {off}, is off by too much."
    return f"{held}{name} comes nearest with {say_frequency(frequency)}, {say_distance(near.wanted, frequency)}."


def say_distance(wanted: Target, frequency: Fraction) -> str:
    """How far a frequency is from what is wanted: `1.04 % below 48 MHz`."""
    low, high = edges_of(wanted)
    if low is not None and frequency < low:
        return f"{say_quantity(1 - frequency / low, SHARE, 3)} below {say_frequency(low)}"
    if high is not None and frequency > high:
        return f"{say_quantity(frequency / high - 1, SHARE, 3)} above {say_frequency(high)}"
    return "as asked"


def in_sentence(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it begins with an abbreviation.

    >>> in_sentence("Core clock"), in_sentence("PLL core tap")
    ('core clock', 'PLL core tap')
    """
    return title[:1].lower() + title[1:] if title[1:2].islower() else title
