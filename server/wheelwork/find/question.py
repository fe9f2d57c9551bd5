"""What is asked of the search over every setting, and what it answers.

Every value here is exact: frequencies in hertz, currents in ampere, shares of 1. `find.search` answers a question,
`find.conflicts` says what is to blame where nothing fits, `find.openings` what would open it again, `find.crystals`
which crystal to fit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from wheelwork.part.nodes import Part, Value
from wheelwork.plan.plan import Plan, Target

PreferenceKind = Literal[
    "least current",
    "highest",
    "lowest",
    "least error",
    "highest phase detector",
    "lowest core voltage",
    "fewest changes",
    "most room",
]

StillTime = Callable[[], bool]
"""Asked before each piece of work; False ends the search with what it has."""


@dataclass(frozen=True, slots=True)
class Preference:
    """What to put first. `node` is named by `highest` and `lowest` only.

    - `least current`: typical supply current. `highest`, `lowest`: the nominal frequency of a node; a setting under
      which the node does not run comes after all others.
    - `least error`: the largest relative error, nominal against wanted, of the targets that name a frequency.
    - `highest phase detector`: the slowest phase detector of the PLLs that run; none running is as good as the best.
    - `lowest core voltage`: the last step of the sheet's list first.
    - `fewest changes`: settings that differ from the plan's; core voltage counts, a PLL's three factors are one.
    - `most room`: the smallest room to any limit, worst case with tolerance, as a share of the limit.
    """

    kind: PreferenceKind
    node: str | None = None

    def __str__(self) -> str:
        return f"{self.kind} {self.node}" if self.node else self.kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked: targets to meet, settings that stay as they are, what to put first, how many to show.

    `plan` gives the loads in use, what is kept running, the board, and the values of what is pinned. `pinned` holds a
    node's id, one factor of a PLL (`main.feedback`) or `core_voltage`.
    """

    part: Part
    plan: Plan
    targets: tuple[Target, ...] = ()
    pinned: tuple[str, ...] = ()
    prefer: tuple[Preference, ...] = ()
    top: int = 10
    count: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """One setting that fits: every setting of the nodes that matter and no other.

    `plan` is the question's plan with these settings, wait states following the table. `core` is the core clock,
    `current` the typical supply current; `alike` counts the settings that differ from it only in PLL factors of equal
    ratio, itself included; `changes` counts the settings that differ from the question's plan.
    """

    settings: Mapping[str, Value]
    core_voltage: str
    wait_states: int
    core: Fraction
    current: Fraction
    alike: int
    changes: int
    plan: Plan


@dataclass(frozen=True, slots=True)
class Blame:
    """One of the things that cannot hold together: the number of a target, or a pin, or a load in use; one is set."""

    target: int | None = None
    pinned: str | None = None
    load: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The answer to a question.

    `admissible` is the exact number of settings that fit: None where it was not asked for; where `complete` is False,
    only a lower bound. `searched` is how many settings the part has at all with these pins, windows left aside (None:
    not counted). `solutions` are best first. `conflict` is a smallest set that cannot hold together, empty unless it
    is proven that nothing fits. `fits`: whether anything does; None: not decided. `rank` is the place of the plan's
    own settings among all that fit (1: none is better), None where they do not fit or stand below what was listed.
    """

    question: Question
    fits: bool | None
    complete: bool
    admissible: int | None = None
    searched: int | None = None
    solutions: tuple[Solution, ...] = ()
    conflict: tuple[Blame, ...] = ()
    plan_fits: bool = False
    rank: int | None = None
    ordered: bool = True
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a search has come: settings covered, of how many (None: not known), how many of them fit so far.

    `best` is the answer without its count, as soon as the best are known: the count takes longer.
    """

    covered: int
    of: int | None
    fit: int
    best: Answer | None = None


Tell = Callable[[Progress], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """One thing that would open a question under which nothing fits, tried: how many settings fit then.

    `act` names it in a button's words (`Leave USB out`), `detail` says what it costs; `question` is the question with
    it. `admissible` 0 is told too; None: not decided within the time.
    """

    kind: Literal["leave out", "set", "widen", "let go", "core voltage", "crystal", "load"]
    act: str
    detail: str
    admissible: int | None
    question: Question


@dataclass(frozen=True, slots=True)
class CrystalChoice:
    """A crystal that could be fitted: its frequency, how many settings fit with it (None: not decided), the best."""

    frequency: Fraction
    admissible: int | None
    best: Solution | None
