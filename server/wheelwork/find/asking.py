"""From what a request or a form asks to a question for the search, or to all its problems at once.

The keys are those of `POST /api/find` beside plan and part; a form and the command line hand over the same shape.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from math import isfinite
from typing import Annotated, Any, get_args

from pydantic import Field, StrictBool, StrictInt, ValidationError, WithJsonSchema

from wheelwork.find.question import Preference, PreferenceKind, Question
from wheelwork.findings import Problem, Unreadable, name_list, nearest, quote
from wheelwork.part.faults import EXAMPLES, Enough, Gatherer, tell_faults, tell_most
from wheelwork.part.nodes import Node, Oscillator, Part
from wheelwork.part.schema import Reference, Table, Text, reading
from wheelwork.part.text import find_excess
from wheelwork.plan.plan import Plan, Target
from wheelwork.plan.schema import TargetTable
from wheelwork.plan.targets import hold_targets
from wheelwork.quantities.numbers import read_number

MOST_TARGETS = 64
MOST_PREFERENCES = 16
MOST_PINS = 1000
MOST_SHOWN = 200
MOST_VALUES = 6_000
USUAL_SECONDS = 30
MOST_SECONDS = 120

NODE_KINDS: tuple[PreferenceKind, ...] = ("highest", "lowest")
PLAIN_KINDS: tuple[PreferenceKind, ...] = tuple(kind for kind in get_args(PreferenceKind) if kind not in NODE_KINDS)


def read_seconds(raw: object) -> float:
    """A limit of time in seconds: a number, or its text."""
    allowed = f"write a number of seconds above 0, at most {MOST_SECONDS}"
    if isinstance(raw, bool) or not isinstance(raw, int | float | str):
        raise Unreadable(f"{quote(raw)} is no number", allowed)
    seconds = _read_plain(raw, allowed) if isinstance(raw, str) else raw
    if not isfinite(seconds) or not 0 < seconds <= MOST_SECONDS:
        raise Unreadable(f"{quote(raw)} is out of range", allowed)
    return float(seconds)


def _read_plain(text: str, allowed: str) -> float:
    try:
        return float(read_number(text))
    except (Unreadable, OverflowError):
        raise Unreadable(f"{quote(text)} is no number", allowed) from None


Seconds = Annotated[
    float,
    reading(read_seconds),
    WithJsonSchema({"type": "number", "exclusiveMinimum": 0, "maximum": MOST_SECONDS}),
]


class AskTable(Table):
    """What is asked of the search.

    `targets` left out: the plan's own. What is `pinned` stays as the plan has it, and so does what the plan has
    `held`: a node, one factor of a PLL (`main.feedback`) or `core_voltage`. `prefer` says what to put first, first
    things first. `crystal` names an oscillator whose frequency is left open: standard values are tried.
    """

    targets: list[TargetTable] | None = Field(default=None, max_length=MOST_TARGETS)
    pinned: list[Reference] = Field(default=[], max_length=MOST_PINS)
    prefer: list[Text] = Field(default=[], max_length=MOST_PREFERENCES, examples=[["highest core", "least current"]])
    top: Annotated[StrictInt, Field(ge=1, le=MOST_SHOWN)] = 10
    count: StrictBool = True
    seconds: Seconds = USUAL_SECONDS
    crystal: Reference | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was asked, read against a part; `targets` None stands for the plan's own."""

    targets: tuple[Target, ...] | None = None
    pinned: tuple[str, ...] = ()
    prefer: tuple[Preference, ...] = ()
    top: int = 10
    count: bool = True
    seconds: float = USUAL_SECONDS
    crystal: str | None = None

    def of(self, part: Part, plan: Plan) -> Question:
        """The question about a plan; what the plan holds counts as pinned besides."""
        return Question(
            part=part,
            plan=plan,
            targets=plan.targets if self.targets is None else self.targets,
            pinned=self.pinned,
            prefer=self.prefer,
            top=self.top,
            count=self.count,
        )


def read_asked(raw: Mapping[str, Any], part: Part) -> tuple[Asked | None, list[Problem]]:
    """What is asked, from the shape of the interface, held against the part; else every problem with its place."""
    excess = find_excess(raw, "body", MOST_VALUES)
    if excess is not None:
        return None, [excess]
    try:
        table = AskTable.model_validate(raw)
    except ValidationError as fault:
        return None, tell_faults(fault, AskTable, EXAMPLES)
    reader = _Reader(table, part)
    with suppress(Enough):
        asked = reader.read()
    return (None, tell_most(reader.problems, "body")) if reader.problems else (asked, [])


@dataclass
class _Reader(Gatherer):
    """Holds what is asked against a part and gathers what the part does not have."""

    table: AskTable
    part: Part

    def read(self) -> Asked:
        """What is asked; what is wrong is in `problems` afterwards."""
        table = self.table
        targets = None if table.targets is None else hold_targets(self, table.targets, self.part, "targets")
        return Asked(
            targets=targets,
            pinned=self._pinned(),
            prefer=self._prefer(),
            top=table.top,
            count=table.count,
            seconds=table.seconds,
            crystal=self._crystal(),
        )

    def _pinned(self) -> tuple[str, ...]:
        known = settings_of(self.part)
        for place, name in enumerate(self.table.pinned):
            head, _, factor = name.partition(".")
            node = self.part.nodes.get(head)
            if name in known:
                continue
            if node is None or (factor and head in known):
                self.note_unknown(f"pinned.{place}", [name], known, f"setting of {self.part.name}")
            else:
                self.fault(f"pinned.{place}", f"{node.title} has no setting", _instead(node, known))
        return tuple(dict.fromkeys(self.table.pinned))

    def _prefer(self) -> tuple[Preference, ...]:
        read: dict[Preference, str] = {}
        for place, text in enumerate(self.table.prefer):
            try:
                preference = read_preference(text, self.part)
                _refuse_opposite(preference, text, read)
                read.setdefault(preference, text)
            except Unreadable as fault:
                self.note(fault.at(f"prefer.{place}"))
        return tuple(read)

    def _crystal(self) -> str | None:
        name = self.table.crystal
        node = None if name is None else self.part.nodes.get(name)
        if name is None or (isinstance(node, Oscillator) and node.fitted is not None):
            return name
        open_ones = [n.id for n in self.part.nodes.values() if isinstance(n, Oscillator) and n.fitted is not None]
        if node is None:
            self.note_unknown("crystal", [name], open_ones, f"oscillator that a board fits on {self.part.name}")
        else:
            offer = f"{name_list(open_ones)} {'are' if len(open_ones) > 1 else 'is'}" if open_ones else "leave it out"
            self.fault("crystal", f"{node.title} is nothing that a board fits", offer)
        return None


def settings_of(part: Part) -> dict[str, None]:
    """Every name that can be pinned, in the sheet's order: settings, PLLs as a whole, the core voltage."""
    return dict.fromkeys([*(key for full in part.resets for key in (full.partition(".")[0], full)), "core_voltage"])


def _instead(node: Node, known: Mapping[str, None]) -> str:
    if isinstance(node, Oscillator) and node.fitted is not None:
        return "leave it out; what the board has stays as it is"
    above = [feeder for feeder in node.feeders if feeder in known]
    return f"pin {above[0]} above it, or leave it out" if above else "leave it out"


def read_preference(text: str, part: Part) -> Preference:
    """What to put first, in words: `least current`, `highest core`, `lowest slow_bus`; `core` is the core clock."""
    words = " ".join(text.lower().split())
    first, _, rest = words.partition(" ")
    plain = next((kind for kind in PLAIN_KINDS if kind == words), None)
    if plain is not None:
        return Preference(plain)
    node = _node_named(rest, part)
    kind = next((kind for kind in NODE_KINDS if kind == first), None)
    if kind is not None and node is not None:
        return Preference(kind, node)
    raise Unreadable(f"{quote(text)} is no preference", _offer_preference(words, part))


def _node_named(words: str, part: Part) -> str | None:
    name = words.replace(" ", "_")
    if name not in part.nodes:
        return part.core_clock if name == "core" else None
    return name


def _offer_preference(words: str, part: Part) -> str:
    like = nearest(words, [*PLAIN_KINDS, *_with_nodes(words, part)])
    return f"did you mean {like}?" if like else f"{name_list([*PLAIN_KINDS, 'highest core', 'lowest core'])} are"


def _with_nodes(words: str, part: Part) -> Iterator[str]:
    first, _, rest = words.partition(" ")
    kind = nearest(first, NODE_KINDS)
    name = nearest(rest.replace(" ", "_"), [*part.nodes, "core"])
    if kind is not None and name is not None:
        yield f"{kind} {name}"


def _refuse_opposite(preference: Preference, text: str, read: Mapping[Preference, str]) -> None:
    """Raises Unreadable where an earlier preference is turned round, which would decide nothing."""
    if preference.node is None:
        return
    opposite = Preference("lowest" if preference.kind == "highest" else "highest", preference.node)
    if opposite in read:
        raise Unreadable(f"{quote(text)} turns {quote(read[opposite])} round", "keep one of them")
