"""What would open a question again under which nothing fits, each tried and counted.

Tried are: leaving a blamed target out, moving it to the nearest frequency at which something fits, widening its allowed
error, letting a pin go, another core-voltage step where that is pinned, another crystal, a load out of use. All else
stays as it is asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import islice
from typing import Literal

from wheelwork.clocks.propagate import tolerance_of
from wheelwork.find.conflicts import find_rest_to_leave, pins_of, without
from wheelwork.find.counting import count_settings
from wheelwork.find.crystals import fit_crystal, values_for
from wheelwork.find.misses import in_sentence, say_distance
from wheelwork.find.nearest import Nearest, find_nearest, moved_to, within_reach
from wheelwork.find.question import Blame, Opening, Question, StillTime
from wheelwork.find.shares import RoundShare
from wheelwork.find.verdict import does_one_fit
from wheelwork.findings import name_list
from wheelwork.judge.judgement import Judgement
from wheelwork.part.nodes import FACTORS, Divider, Load, Node, Oscillator, Pll, Selector
from wheelwork.plan.plan import Target
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_exact
from wheelwork.quantities.spans import EXACT, say_window
from wheelwork.quantities.units import SHARE, VOLTAGE, say_frequency, write_quantity

OpeningKind = Literal["leave out", "set", "widen", "let go", "core voltage", "crystal", "load"]
MOST_WORK = 200_000
"""Pieces of work for one count: some seconds. One opening must not take the time of all the others."""
MOST_BESIDES = 500_000
"""The same for all that is tried without being to blame, pins, steps, crystals, loads; and for what has to go too."""
SOME_FIT = "some fit, not counted"
CRYSTALS_TRIED = 10
CRYSTALS_SHOWN = 3


def find_openings(
    question: Question,
    conflict: Iterable[Blame],
    still_time: StillTime,
    nearest: Sequence[Nearest] | None = None,
) -> tuple[Opening, ...]:
    """What would open the question again, in the order in which it is shown; bounded by `still_time`.

    Blamed things are always told, with a count of 0 too; pins, steps and crystals besides only where they open it.
    `nearest` is what `find_nearest` found, where that is known already.
    """
    blamed = tuple(conflict)
    near = find_nearest(question, blamed, still_time) if nearest is None else tuple(nearest)
    return tuple(_Opener(question, blamed, near, still_time).openings())


@dataclass
class _Opener:
    """Tries what might open one question."""

    question: Question
    blamed: tuple[Blame, ...]
    nearest: tuple[Nearest, ...]
    still_time: StillTime

    def openings(self) -> Iterator[Opening]:
        """All openings as they are shown; of the blamed, the one named last is given up first."""
        yield from (self._left_out(near) for near in reversed(self.nearest))
        yield from (self._given_up(blame) for blame in self.blamed if blame.target is None)
        yield from (self._put_to_use(near) for near in self.nearest if near.idle)
        movable = [near for near in self.nearest if near.opens is not False]
        yield from filter(None, (self._moved(near) for near in movable))
        yield from filter(None, (self._widened(near) for near in movable))
        self.still_time = _at_most(MOST_BESIDES, self.still_time)
        for tried in (*self._pins(), *self._steps(), *self._crystals(), *self._loads()):
            if tried.admissible or SOME_FIT in tried.detail:
                yield tried

    def _tried(self, opening: Opening) -> Opening:
        """The opening with its count; where that is too long a work, at least whether anything fits is said."""
        count = self._count(opening.question)
        if count is None and self._fits(opening.question):
            return replace(opening, detail="; ".join(filter(None, (opening.detail, SOME_FIT))))
        return replace(opening, admissible=count)

    def _count(self, question: Question) -> int | None:
        fits = self._fits(question)
        if not fits:
            return None if fits is None else 0
        still_time = _at_most(MOST_WORK, self.still_time)
        return count_settings(question.part, question.plan, still_time, question.targets, pins_of(question))

    def _fits(self, question: Question) -> bool | None:
        return does_one_fit(question.part, question.plan, self.still_time, question.targets, pins_of(question))

    def _opening(self, kind: OpeningKind, act: str, detail: str, question: Question) -> Opening:
        return self._tried(Opening(kind=kind, act=act, detail=detail, admissible=None, question=question))

    def _name(self, target: Target) -> str:
        return in_sentence(self.question.part.nodes[target.node].title)

    def _left_out(self, near: Nearest) -> Opening:
        left = without(self.question, {Blame(target=near.target)})
        act = f"Leave {self._name(near.wanted)} out"
        detail = self._still_shut() if near.opens is False else self._without_it(near)
        return self._opening("leave out", act, detail, left)

    def _still_shut(self) -> str:
        """What has to go where leaving out one of the blamed is not enough."""
        if not self.enough:
            return "the rest cannot hold together either"
        names = name_list(list(dict.fromkeys(self._name(target) for target in self.enough)))
        return f"not enough: something fits without {names}"

    @cached_property
    def enough(self) -> tuple[Target, ...]:
        """Targets without which something fits, one of the blamed among them; none where that is not known."""
        last = self.nearest[-1]
        others = without(self.question, {Blame(target=last.target)})
        besides = find_rest_to_leave(others, _at_most(MOST_BESIDES, self.still_time))
        return () if besides is None else (*(others.targets[number] for number in besides), last.wanted)

    def _without_it(self, near: Nearest) -> str:
        """What is known of a target's clock once the target is left out."""
        if near.window_aside or not near.settings or not near.is_proven:
            return "the others stay as asked"
        return f"it comes nearest with {say_frequency(near.frequency(near.settings[0]))}"

    def _given_up(self, blame: Blame) -> Opening:
        left = without(self.question, {blame})
        if blame.pinned is not None:
            return self._opening("let go", f"Let {self._pin(blame.pinned)} go", self._held_at(blame.pinned), left)
        node = self.question.part.nodes[blame.load or ""]
        window = node.window(self.question.plan.core_voltage)
        asks = "" if window is None else f"the part sheet asks {say_window(window)} of it"
        return self._opening("load", f"Take {in_sentence(node.title)} out of use", asks, left)

    def _put_to_use(self, near: Nearest) -> Opening:
        """A target's node, on which nothing hangs, in use or kept running."""
        plan, name = self.question.plan, near.wanted.node
        if isinstance(self.question.part.nodes[name], Load):
            used = replace(plan, in_use=(*plan.in_use, name))
            act = f"Put {self._name(near.wanted)} to use"
        else:
            used = replace(plan, keep_running=(*plan.keep_running, name))
            act = f"Keep {self._name(near.wanted)} running"
        return self._opening("load", act, "now nothing in use hangs on it", replace(self.question, plan=used))

    def _moved(self, near: Nearest) -> Opening | None:
        """The target at the nearest frequency at which something fits."""
        frequency = within_reach(self.question, near, self.still_time)
        if frequency is None:
            return None
        moved = moved_to(near.wanted, frequency)
        bound = "" if moved.frequency is not None else "at least " if moved.at_least == frequency else "at most "
        act = f"Set {self._name(moved)} to {bound}{say_frequency(frequency)}"
        return self._opening("set", act, say_distance(near.wanted, frequency), self._with_target(near.target, moved))

    def _widened(self, near: Nearest) -> Opening | None:
        """The target with the smallest share, to two figures, at which something fits."""
        most = min((_share_needed(near, judged) for judged in near.settings), default=None)
        if most is None or near.wanted.frequency is None or most.value >= 1:
            return None
        if near.window_aside:
            return self._past_its_window(near, most)
        share, proven = self._smallest_share(near, self._least_share(near), most)
        detail = f"±{_say_share(share.before())} would not do" if proven else ""
        return self._opening("widen", self._widen(near, share), detail, self._with_share(near, share))

    def _least_share(self, near: Nearest) -> RoundShare:
        """A share below which nothing can fit: more than is allowed now, and no less than the nearest nominal needs.

        The second holds where every source's tolerance lies to both sides of its nominal.
        """
        least = RoundShare.above(near.wanted.within or Fraction(0))
        if not near.is_proven or not self._around_nominal():
            return least
        return max(least, RoundShare.at_least(near.distance(near.settings[0])))

    def _around_nominal(self) -> bool:
        sources = (node for node in self.question.part.nodes.values() if isinstance(node, Oscillator))
        return all(Fraction(0) in (tolerance_of(source, self.question.plan) or EXACT) for source in sources)

    def _smallest_share(self, near: Nearest, least: RoundShare, most: RoundShare) -> tuple[RoundShare, bool]:
        """The smallest share at which something fits, and whether it is proven that the one before does not do."""
        while least < most:
            middle = RoundShare((least.place + most.place) // 2)
            fits = self._fits(self._with_share(near, middle))
            if fits is None:
                return most, False
            least, most = (least, middle) if fits else (middle.after(), most)
        return most, True

    def _past_its_window(self, near: Nearest, share: RoundShare) -> Opening:
        """A share that the sheet's own window forbids: nothing fits, and that is why."""
        node = self.question.part.nodes[near.wanted.node]
        window = node.window(self.question.plan.core_voltage) or node.limits
        of_what = "load" if node.kind == "load" else "clock"
        asks = "" if window is None else f"the part sheet itself asks {say_window(window)} of this {of_what}"
        return self._opening("widen", self._widen(near, share), asks, self._with_share(near, share))

    def _widen(self, near: Nearest, share: RoundShare) -> str:
        return f"Widen {self._name(near.wanted)} to ±{_say_share(share)}"

    def _with_share(self, near: Nearest, share: RoundShare) -> Question:
        return self._with_target(near.target, replace(near.wanted, within=share.value))

    def _with_target(self, number: int, target: Target) -> Question:
        targets = list(self.question.targets)
        targets[number] = target
        return replace(self.question, targets=tuple(targets))

    def _pins(self) -> Iterator[Opening]:
        """Each pin let go that is not blamed already."""
        for name in pins_of(self.question):
            if Blame(pinned=name) not in self.blamed:
                left = without(self.question, {Blame(pinned=name)})
                yield self._opening("let go", f"Let {self._pin(name)} go", self._held_at(name), left)

    def _pin(self, name: str) -> str:
        """What a pin is called in a sentence."""
        head, _, factor = name.partition(".")
        if head == "core_voltage":
            return "core voltage"
        title = self.question.part.nodes[head].title
        words = "feedback multiplier" if factor == "feedback" else factor.replace("_", " ")
        return f"the {words} of {in_sentence(title)}" if factor else in_sentence(title)

    def _held_at(self, name: str) -> str:
        part, plan = self.question.part, self.question.plan
        if name == "core_voltage":
            return f"now held at {_say_volts(part.step(plan.core_voltage).volts)}"
        settings = plan.complete(part)
        head, _, factor = name.partition(".")
        node = part.nodes[head]
        keys = [name] if factor or not isinstance(node, Pll) else [f"{head}.{each}" for each in FACTORS]
        said = [self._say_value(node, key, settings[key]) for key in keys if key in settings]
        return f"now held at {', '.join(said)}" if said else ""

    def _say_value(self, node: Node, key: str, value: Fraction | str) -> str:
        match node:
            case Selector():
                return in_sentence(self.question.part.nodes[str(value)].title)
            case Divider():
                return f"÷{write_exact(Fraction(value))}"
            case Oscillator():
                return say_frequency(Fraction(value))
        sign = {"reference_divider": "÷", "feedback": "×"}.get(key.rpartition(".")[2], "fraction ")
        return f"{sign}{write_exact(Fraction(value))}"

    def _steps(self) -> Iterator[Opening]:
        """Each other core-voltage step, where the step is pinned."""
        question = self.question
        if "core_voltage" not in pins_of(question):
            return
        own = question.plan.core_voltage
        for step in question.part.steps:
            if step.id != own:
                detail = f"core voltage, now {_say_volts(question.part.step(own).volts)}"
                moved = replace(question, plan=replace(question.plan, core_voltage=step.id))
                yield self._opening("core voltage", f"Go to {_say_volts(step.volts)}", detail, moved)

    def _loads(self) -> Iterator[Opening]:
        """Each load in use that has a window of its own and is not asked for, taken out of use."""
        wanted = {target.node for target in self.question.targets}
        for name in self.question.plan.in_use:
            node = self.question.part.nodes[name]
            if name not in wanted and Blame(load=name) not in self.blamed and (node.limits or node.limits_at):
                yield self._given_up(Blame(load=name))

    def _crystals(self) -> Iterator[Opening]:
        """For each crystal fitted, the nearest other standard values that open the question."""
        for name, fitted in self.question.plan.fitted.items():
            if fitted.frequency is not None:
                yield from islice(self._crystals_near(name, fitted.frequency), CRYSTALS_SHOWN)

    def _crystals_near(self, name: str, frequency: Fraction) -> Iterator[Opening]:
        others = [value for value in values_for(self.question, name) if value != frequency]
        near = sorted(others, key=lambda value: max(value / frequency, frequency / value))
        title = self.question.part.nodes[name].title
        for value in near[:CRYSTALS_TRIED]:
            other = replace(self.question, plan=fit_crystal(self.question.plan, name, value))
            if self._fits(other):
                detail = f"{in_sentence(title)}, now {say_frequency(frequency)}"
                yield self._opening("crystal", f"Fit {say_frequency(value)}", detail, other)


def _share_needed(near: Nearest, judged: Judgement) -> RoundShare:
    """The share that a target has to allow for a setting, its source's tolerance counted; rounded up."""
    clock, wanted = judged.clocks[near.wanted.node], near.wanted.frequency or judged.clocks[near.wanted.node].nominal
    return RoundShare.at_least(max(1 - clock.lowest / wanted, clock.highest / wanted - 1))


def _say_share(share: RoundShare) -> str:
    return write_quantity(share.value, SHARE).replace(" ", NO_BREAK_SPACE)


def _say_volts(volts: Fraction) -> str:
    return write_quantity(volts, VOLTAGE).replace(" ", NO_BREAK_SPACE)


def _at_most(most: int, still_time: StillTime) -> StillTime:
    """Time for so many pieces of work at most."""
    left = most

    def asked() -> bool:
        nonlocal left
        left -= 1
        return left >= 0 and still_time()

    return asked
