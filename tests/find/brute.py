"""Every setting of a small part, judged one by one: what the search has to agree with.

Nothing here is shared with the search. The judgement says what is legal; what a target, a pin, a preference, settings
that are alike and a smallest conflict are is said once more, in a few plain lines.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from wheelwork.find.question import Preference
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.part.nodes import FACTORS, Divider, Load, Oscillator, Part, Pll, Selector, Value
from wheelwork.plan.plan import Plan, Target

Settings = Mapping[str, Value]
Name = tuple[str, tuple[tuple[str, Value], ...]]
"""What a setting is known by: its core-voltage step and every setting of the nodes that matter."""


def name_of(step: str, settings: Settings) -> Name:
    """A setting as something that can be looked up."""
    return step, tuple(sorted(settings.items()))


@dataclass(frozen=True, slots=True)
class Setting:
    """One legal setting with its judgement."""

    step: str
    settings: Settings
    judged: Judgement

    @property
    def name(self) -> Name:
        return name_of(self.step, self.settings)


def is_fitted(part: Part, plan: Plan, name: str) -> bool:
    """Whether a node is anything but an oscillator that the board leaves out."""
    node = part.nodes[name]
    if not isinstance(node, Oscillator) or node.fitted is None:
        return True
    fitted = plan.fitted.get(name)
    return fitted is not None and fitted.frequency is not None


def roots_of(part: Part, plan: Plan) -> list[str]:
    """What must run."""
    roots = [part.core_clock, part.flash_clock, *part.always, *plan.keep_running, *plan.in_use]
    roots += [other for load in plan.in_use if isinstance(node := part.nodes[load], Load) for other in node.also]
    always_on = [node.id for node in part.nodes.values() if isinstance(node, Oscillator) and node.always_on]
    return [*roots, *(name for name in always_on if is_fitted(part, plan, name))]


def choices_of(part: Part, name: str) -> dict[str, list[Value]]:
    """The settings of a node, each with all its values."""
    match node := part.nodes[name]:
        case Selector():
            return {name: list(dict.fromkeys(node.inputs))}
        case Divider():
            return {name: list(node.ratios)}
        case Pll():
            fractions = [Fraction(k) for k in range(node.fraction_of)]
            factors = (list(node.reference_divider), list(node.feedback), fractions)
            return {f"{name}.{key}": [*values] for key, values in zip(FACTORS, factors, strict=True)}
        case Oscillator() if len(node.choices) > 1:
            return {name: list(node.choices)}
    return {}


def what_runs(part: Part, roots: Iterable[str], chosen: Settings) -> tuple[list[str], str | None]:
    """The nodes that matter as far as they are known, and a selector above them that has not chosen yet."""
    on: list[str] = []
    for root in roots:
        name = root
        while name not in on:
            node = part.nodes[name]
            on.append(name)
            if isinstance(node, Oscillator):
                break
            if isinstance(node, Selector) and name not in chosen:
                return on, name
            name = str(chosen[name]) if isinstance(node, Selector) else node.feeders[0]
    return on, None


def all_settings(part: Part, plan: Plan) -> Iterator[dict[str, Value]]:
    """Every choice of every setting of the nodes that matter; those with an oscillator left out do not count."""
    roots = roots_of(part, plan)
    for selected in _all_selections(part, roots, {}):
        on, _ = what_runs(part, roots, selected)
        if all(is_fitted(part, plan, name) for name in on):
            open_ = {
                key: values for name in on for key, values in choices_of(part, name).items() if key not in selected
            }
            for values in itertools.product(*open_.values()):
                yield {**selected, **dict(zip(open_, values, strict=True))}


def _all_selections(part: Part, roots: list[str], chosen: dict[str, Value]) -> Iterator[dict[str, Value]]:
    _, selector = what_runs(part, roots, chosen)
    if selector is None:
        yield chosen
        return
    for value in choices_of(part, selector)[selector]:
        yield from _all_selections(part, roots, {**chosen, selector: value})


def list_legal(part: Part, plan: Plan) -> list[Setting]:
    """Every legal setting at every step."""
    found = []
    for settings in all_settings(part, plan):
        for step in part.steps:
            judged = reckon(part, replace(plan.with_settings(settings), core_voltage=step.id, wait_states=None))
            if judged.legal:
                found.append(Setting(step.id, settings, judged))
    return found


def is_met(target: Target, judged: Judgement) -> bool:
    """Whether a setting meets a target."""
    clock = judged.clocks.get(target.node)
    if clock is None:
        return False
    if target.at_least is not None and clock.nominal < target.at_least:
        return False
    if target.at_most is not None and clock.nominal > target.at_most:
        return False
    if target.frequency is None:
        return True
    if target.within is None:
        return clock.nominal == target.frequency
    room = target.frequency * target.within
    return clock.lowest >= target.frequency - room and clock.highest <= target.frequency + room


def is_kept(pin: str, step: str, settings: Settings, part: Part, plan: Plan) -> bool:
    """Whether a setting leaves a pin where the plan has it; a pin on a node that is stopped binds nothing."""
    if pin == "core_voltage":
        return step == plan.core_voltage
    before = plan.complete(part)
    return all(value == before[key] for key, value in settings.items() if key == pin or key.startswith(f"{pin}."))


def count_all(part: Part, plan: Plan, pinned: Iterable[str]) -> int:
    """How many settings keep every pin, legal or not."""
    pins = [*pinned, *plan.held]
    return sum(
        all(is_kept(pin, step.id, settings, part, plan) for pin in pins)
        for settings in all_settings(part, plan)
        for step in part.steps
    )


def fitting(legal: Iterable[Setting], plan: Plan, targets: Sequence[Target], pinned: Iterable[str]) -> list[Setting]:
    """The settings that meet every target and keep every pin."""
    pins = [*pinned, *plan.held]
    return [
        setting
        for setting in legal
        if all(is_met(target, setting.judged) for target in targets)
        and all(is_kept(pin, setting.step, setting.settings, setting.judged.part, plan) for pin in pins)
    ]


def changes_of(setting: Setting, plan: Plan) -> int:
    """How many settings differ from the plan's; core voltage is one of them, a PLL's factors are one together."""
    before = plan.complete(setting.judged.part)
    differ = {key.partition(".")[0] for key, value in setting.settings.items() if before[key] != value}
    return len(differ) + (setting.step != plan.core_voltage)


def error_of(setting: Setting, targets: Iterable[Target]) -> Fraction:
    """The largest relative error of the targets that name a frequency."""
    errors = [
        abs(setting.judged.clocks[target.node].nominal / target.frequency - 1)
        for target in targets
        if target.frequency is not None
    ]
    return max(errors, default=Fraction(0))


def room_of(setting: Setting) -> Fraction | None:
    """The smallest room to any limit, as a share of the limit; None without limits."""
    rooms = []
    for judged in setting.judged.windows:
        clock, window = judged.clock, judged.window
        assert clock is not None
        assert window is not None
        if window.highest:
            rooms.append(1 - clock.highest / window.highest)
        if window.lowest:
            rooms.append(clock.lowest / window.lowest - 1)
    return min(rooms, default=None)


def detector_of(setting: Setting) -> Fraction | None:
    """The slowest phase detector of the PLLs that run; None where none does."""
    clocks = (judged.clock for judged in setting.judged.phase_detectors.values())
    return min((clock.nominal for clock in clocks if clock is not None), default=None)


Rank = tuple[int, Fraction | int]
"""What a preference says of a setting; the lowest is the best."""


def ranker(prefer: Preference, plan: Plan, targets: Sequence[Target]) -> Callable[[Setting], Rank]:
    """How a preference ranks settings."""

    def rank(setting: Setting) -> Rank:
        judged = setting.judged
        match prefer.kind:
            case "least current":
                return 0, judged.current.typical
            case "highest" | "lowest":
                assert prefer.node is not None
                clock = judged.clocks.get(prefer.node)
                if clock is None:
                    return 1, 0
                return 0, -clock.nominal if prefer.kind == "highest" else clock.nominal
            case "least error":
                return 0, error_of(setting, targets)
            case "highest phase detector":
                detector = detector_of(setting)
                return (0, -detector) if detector is not None else (-1, 0)
            case "lowest core voltage":
                return 0, -[step.id for step in judged.part.steps].index(setting.step)
            case "fewest changes":
                return 0, changes_of(setting, plan)
            case "most room":
                room = room_of(setting)
                return (0, -room) if room is not None else (-1, 0)

    return rank


def ratios_of(setting: Setting) -> Name:
    """A setting with each PLL's three factors as the one ratio that they make."""
    settings: dict[str, Value] = {}
    for key, value in setting.settings.items():
        name, _, factor = key.partition(".")
        if not factor:
            settings[name] = value
    for name in {key.partition(".")[0] for key in setting.settings if "." in key}:
        pll = setting.judged.part.nodes[name]
        assert isinstance(pll, Pll)
        divider, feedback, fraction = (Fraction(setting.settings[f"{name}.{key}"]) for key in FACTORS)
        settings[name] = (feedback + fraction / pll.fraction_of) / divider
    return name_of(setting.step, settings)


@dataclass(frozen=True, slots=True)
class Group:
    """Settings that differ only in PLL factors of equal ratio: the one to show, and all."""

    shown: Setting
    members: tuple[Setting, ...]


def groups_of(found: Iterable[Setting], plan: Plan) -> list[Group]:
    """The settings that fit, alike ones together.

    Shown is the one with the smallest reference dividers; of a PLL whose own factors in the plan are among them, those.
    """
    alike: dict[Name, list[Setting]] = {}
    for setting in found:
        alike.setdefault(ratios_of(setting), []).append(setting)
    return [Group(min(members, key=lambda each: _dividers(each, plan)), tuple(members)) for members in alike.values()]


def _dividers(setting: Setting, plan: Plan) -> list[tuple[bool, Value]]:
    before = plan.complete(setting.judged.part)
    plls = sorted({key.partition(".")[0] for key in setting.settings if "." in key})
    keys = {name: [f"{name}.{factor}" for factor in FACTORS] for name in plls}
    return [
        (any(setting.settings[key] != before[key] for key in keys[name]), setting.settings[keys[name][0]])
        for name in plls
    ]


def smallest_conflicts(
    legal: Iterable[Setting], plan: Plan, targets: Sequence[Target], pinned: Iterable[str]
) -> list[frozenset[int]]:
    """All smallest sets of targets that cannot hold together, every subset tried; none where all hold.

    The one empty set: nothing fits even without any target.
    """
    kept = fitting(legal, plan, (), pinned)
    met = {frozenset(n for n, target in enumerate(targets) if is_met(target, each.judged)) for each in kept}
    for size in range(len(targets) + 1):
        tried = map(frozenset, itertools.combinations(range(len(targets)), size))
        found = [each for each in tried if not any(fits >= each for fits in met)]
        if found:
            return found
    return []
