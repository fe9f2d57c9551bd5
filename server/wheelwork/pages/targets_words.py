"""The Targets page in words: counts with their proof, how far a search is, what is to blame, what opens it again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.find.combs import Combs
from wheelwork.find.progress import seconds_to_go, share_covered
from wheelwork.find.question import Blame, Opening, Progress, Question
from wheelwork.find.saying import say_blame as name_blame
from wheelwork.find.saying import say_count, say_seconds
from wheelwork.find.tolerances import RuledOut, find_ruled_out
from wheelwork.findings import lower_first, name_list
from wheelwork.part.nodes import Part, Pll, Value
from wheelwork.plan.plan import Target
from wheelwork.plan.targets import say_wanted
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_exact, write_figures
from wheelwork.quantities.spans import Span, say_tolerance, say_window
from wheelwork.quantities.units import say_frequency

MILLION = 10**6
UNITS = ("Hz", "kHz", "MHz", "GHz", "%", "ppm", "ppb")
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def say_progress(progress: Progress | None, seconds: float, limit: float) -> str:
    """How far a search is: `40 of 64 million tried, 12 fit so far. About 9 s to go.`"""
    to_go = None if progress is None else seconds_to_go(progress, seconds, limit)
    if to_go is None:
        rest = f"It ends after {say_seconds(limit)} at the latest."
    else:
        rest = f"About {say_seconds(max(round(to_go), 1))} to go."
    return f"{_say_so_far(progress, seconds)}. {rest}"


def _say_so_far(progress: Progress | None, seconds: float) -> str:
    begun = f"Begun {say_seconds(round(seconds, 1))} ago"
    if progress is None:
        return begun
    fit = f"{say_count(progress.fit)} {'fits' if progress.fit == 1 else 'fit'} so far" if progress.fit else ""
    return ", ".join(filter(None, (_say_tried(progress) or begun, fit)))


def _say_tried(progress: Progress) -> str:
    covered, of = progress.covered, progress.of
    if of is None:
        return f"{say_count(covered)} tried" if covered else ""
    if of < MILLION:
        return f"{say_count(covered)} of {say_count(of)} tried"
    if of < 1000 * MILLION:
        return f"{covered // MILLION} of {of // MILLION} million tried"
    share = share_covered(progress) or 0.0
    return f"{write_figures(Fraction(round(share * 1000), 10), 3)}{NO_BREAK_SPACE}% of {say_count(of)} tried"


def keep_units(text: str) -> str:
    """Text whose units do not part from their numbers at the end of a line.

    >>> keep_units("at most 31 MHz") == "at most 31\\u00a0MHz"
    True
    """
    for unit in UNITS:
        text = text.replace(f" {unit}", f"{NO_BREAK_SPACE}{unit}")
    return text


def say_wish(target: Target) -> str:
    """What a target wants, as the page lists it: `58 MHz, ±0.5 %`, `at most 31 MHz`, `48 MHz exactly`."""
    said = say_wanted(target)
    if target.frequency is not None and target.within is None and target.at_least is target.at_most is None:
        said += " exactly"
    return keep_units(said.replace(" within ", ", ±"))


@dataclass(frozen=True, slots=True)
class BlameView:
    """One of the things that cannot hold together: its letter, what it is, what is wanted of it."""

    letter: str
    title: str
    wish: str


def view_blame(question: Question, conflict: Sequence[Blame]) -> tuple[BlameView, ...]:
    """What is to blame, lettered in its order."""
    return tuple(_view_one(question, letter_of(place), blame) for place, blame in enumerate(conflict))


def letter_of(place: int) -> str:
    """A letter for each place; after Z come numbers.

    >>> letter_of(1), letter_of(26)
    ('B', '27')
    """
    return chr(ord("A") + place) if place < 26 else str(place + 1)


def _view_one(question: Question, letter: str, blame: Blame) -> BlameView:
    said = _first_capital(name_blame(blame, question))
    if blame.target is None:
        return BlameView(letter, said, "")
    title = question.part.nodes[question.targets[blame.target].node].title
    return BlameView(letter, title, said.removeprefix(f"{title}: ").replace(" within ", ", ±"))


def say_blame(question: Question, conflict: Sequence[Blame]) -> str:
    """Who is to blame, in a sentence after the proof."""
    if not conflict:
        return "What is to blame was not decided within the time."
    count = len(conflict)
    if conflict[0].target is not None:
        return _say_targets(count, len(question.targets) > count)
    if conflict[0].pinned is not None:
        innocent = "No target is to blame: " if question.targets else ""
        what = (
            "this setting, held as it is, excludes everything"
            if count == 1
            else (f"these {_number(count)} settings, held as they are, already exclude each other")
        )
        return _first_capital(f"{innocent}{what}.")
    innocent = "No target and nothing held is to blame: "
    what = "this alone cannot run" if count == 1 else f"these {_number(count)} loads cannot run together"
    return _first_capital(f"{innocent}{what}, whatever the settings.")


def _say_targets(count: int, more: bool) -> str:
    others = ", whatever the other targets ask" if more else ""
    if count == 1:
        return f"This one cannot be met{others}."
    if count == 2:
        return f"These two already exclude each other{others}."
    return f"These {_number(count)} cannot hold together{others}; any {_number(count - 1)} of them can."


def _number(count: int) -> str:
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def _first_capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def name_setting(part: Part, key: str) -> str:
    """A setting by what it is called: `Core source`, `PLL factors`, `Main PLL feedback`, `Core voltage`."""
    head, _, factor = key.partition(".")
    node = part.nodes.get(head)
    if node is None:
        return key.replace("_", " ").capitalize()
    if isinstance(node, Pll):
        return f"{name_pll(part, node)} {factor.replace('_', ' ') if factor else 'factors'}"
    return node.title


def name_pll(part: Part, node: Pll) -> str:
    """A PLL's name: the only one is `PLL`, as in the outline."""
    alone = sum(isinstance(other, Pll) for other in part.nodes.values()) == 1
    return "PLL" if alone else node.title


def name_clock(part: Part, node: str) -> str:
    """A node by the clock it is: a PLL by its VCO."""
    named = part.nodes[node]
    if isinstance(named, Pll):
        return "VCO" if name_pll(part, named) == "PLL" else f"{named.title} VCO"
    return named.title


def label_opening(question: Question, conflict: Sequence[Blame], opening: Opening) -> str:
    """The words of an opening's button: `Leave B out`, `Set A to 48 MHz`, `Widen B`; else what it does."""
    letter = _letter_changed(question, conflict, opening)
    match opening.kind:
        case "leave out" if letter:
            return f"Leave {letter} out"
        case "widen" if letter:
            return f"Widen {letter}"
        case "let go" if letter:
            return f"Let {letter} go"
        case "set" if letter and (frequency := _new_frequency(question, opening)) is not None:
            return f"Set {letter} to {say_frequency(frequency)}"
        case "load" if letter:
            return f"Leave {letter} unused"
    return opening.act


def _letter_changed(question: Question, conflict: Sequence[Blame], opening: Opening) -> str:
    """The letter of what an opening changes: the blamed target, pin or load that is not asked any more as it was."""
    after = opening.question
    for place, blame in enumerate(conflict):
        gone = (
            (blame.target is not None and question.targets[blame.target] not in after.targets)
            or (blame.pinned is not None and blame.pinned not in (*after.pinned, *after.plan.held))
            or (blame.load is not None and blame.load not in after.plan.in_use)
        )
        if gone:
            return letter_of(place)
    return ""


def _new_frequency(question: Question, opening: Opening) -> Fraction | None:
    """The frequency of the one target that an opening asks anew."""
    new = [target for target in opening.question.targets if target not in question.targets]
    return new[0].frequency if len(new) == 1 else None


def say_ruled_out(question: Question) -> tuple[str, ...]:
    """What an oscillator's tolerance alone rules out, a sentence for each oscillator."""
    ruled = find_ruled_out(question.part, question.plan, question.targets)
    return tuple(_say_one_out(question, each) for each in ruled)


def _say_one_out(question: Question, ruled: RuledOut) -> str:
    target, nodes = question.targets[ruled.target], question.part.nodes
    clock, oscillator = lower_first(nodes[target.node].title), lower_first(nodes[ruled.oscillator].title)
    within = target.within or Fraction(0)
    allowed, brought = say_tolerance(Span(-within, within)), say_tolerance(ruled.tolerance)
    return f"The {clock} cannot come from the {oscillator}: its {brought} alone is more than {allowed}."


def say_teeth(letter: str, teeth: Sequence[Fraction]) -> str:
    """Where one of the blamed could be met, for those who hear the page."""
    return f"{letter}: {name_list([say_frequency(tooth) for tooth in teeth], 60) if teeth else 'nowhere'}"


def say_combs(question: Question, combs: Combs) -> str:
    """The caption of two combs: which clock they stand along, and what of the plan is taken as it is."""
    part = question.part
    inside = "" if combs.window is None else f", inside its window of {say_window(combs.window)}"
    where = f"Where the {lower_first(name_clock(part, combs.clock))} would have to stand{inside}"
    return f"{where}: above the line for A, below it for B. The two never meet.{_say_taken(question, combs)}"


def _say_taken(question: Question, combs: Combs) -> str:
    """The choices for which combs are told though nothing holds them."""
    part, values = question.part, question.plan.complete(question.part)
    taken = [f"{lower_first(part.nodes[name].title)}: {_say_choice(part, values[name])}" for name in combs.selectors]
    if "core_voltage" not in (*question.pinned, *question.plan.held):
        taken.insert(0, f"{write_exact(part.step(combs.core_voltage).volts)}{NO_BREAK_SPACE}V")
    return f" Drawn for {name_list(taken)}." if taken else ""


def _say_choice(part: Part, value: Value) -> str:
    return lower_first(part.nodes[value].title) if isinstance(value, str) else write_exact(value)
