"""What a search takes and gives, as the OpenAPI text describes it; a test holds each answer to it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from wheelwork.api.described import Answer, Hertz, RawPlan, RawSheet, ShapeOf
from wheelwork.find.asking import AskTable

Count = Annotated[str, Field(description="A whole number, which may pass 64 bits.", pattern=r"^[0-9]+$")]


class FindBody(AskTable):
    """A plan, perhaps with a whole sheet in place of a stored part, and what is asked of the search.

    `targets` left out: the plan's own. What is `pinned` stays as the plan has it, and so does what the plan has `held`.
    `prefer` says what to put first: `least current`, `highest core` (or any node), `lowest core` (or any node),
    `least error`, `highest phase detector`, `lowest core voltage`, `fewest changes`, `most room`; first things first.
    At most `top` settings are told; `count` false leaves the number out. After `seconds` the search ends with what it
    has. `crystal` names an oscillator whose frequency is left open: standard values are tried.
    """

    plan: RawPlan = Field(examples=[{"part": "turnstone-58", "in_use": ["processor"]}])
    part: RawSheet | None = None


RawFind = Annotated[dict[str, Any], ShapeOf(FindBody)]

_ON_CRYSTAL = {"part": "turnstone-58", "board": {"crystal": {"frequency": "8 MHz", "tolerance": "±30 ppm"}}}

FIND_EXAMPLES: dict[str, Any] = {
    "best": {
        "summary": "USB, and the core as fast as it goes",
        "value": {
            "plan": {**_ON_CRYSTAL, "in_use": ["processor", "usb_link"]},
            "targets": [{"node": "usb_link", "frequency": "48 MHz", "within": "0.25 %"}],
            "prefer": ["highest core", "least current"],
            "top": 3,
        },
    },
    "none": {
        "summary": "Two wishes that cannot both be met",
        "value": {
            "plan": {**_ON_CRYSTAL, "in_use": ["processor"]},
            "targets": [{"node": "core", "frequency": "58 MHz"}, {"node": "slow_bus", "at_least": "30 MHz"}],
            "seconds": 10,
        },
    },
}


class ToldScore(Answer):
    """What a setting gives: the core clock, and the typical supply current in ampere."""

    core: Hertz
    current: float


class ToldSolution(Answer):
    """A setting that fits: every setting of the nodes that matter, to merge into a plan's `set`, and the step.

    `alike` counts the settings that differ from it only in PLL factors of equal ratio, itself included; `changes` the
    settings that differ from the plan's.
    """

    set: dict[str, Any]
    core_voltage: str
    wait_states: int
    score: ToldScore
    alike: Count
    changes: int


class ToldOwn(Answer):
    """Whether the plan's own settings fit, and their place among all; null where that is not known."""

    fits: bool
    rank: int | None


class ToldBlame(Answer):
    """One of a smallest set that cannot hold together: a target by its number from 0, or a pin, or a load in use."""

    target: int | None = Field(default=None, ge=0)
    pinned: str | None = None
    load: str | None = None
    what: str


class ToldOpening(Answer):
    """One change that would open it again, with how many settings fit then; null: not decided in time.

    `targets` and `pinned` are those to ask with, `plan` the keys of the plan to replace (null: to leave out).
    """

    kind: Literal["leave out", "set", "widen", "let go", "core voltage", "crystal", "load"]
    act: str
    detail: str
    admissible: Count | None
    targets: list[dict[str, str]]
    pinned: list[str]
    plan: dict[str, Any]


class ToldCrystal(Answer):
    """A standard crystal with how many settings fit with it (null: not decided), and the best of them."""

    frequency: str
    admissible: Count | None
    best: ToldSolution | None


class Found(Answer):
    """What a search found.

    `fits` says whether any setting does; null: not decided in time. `admissible` is the exact number where `complete`,
    else what was found so far; null: not counted. `searched` is the number of all settings; null: not counted.
    `conflict` is told only where it is proven that nothing fits.
    """

    fits: bool | None
    complete: bool
    admissible: Count | None
    searched: Count | None
    solutions: list[ToldSolution]
    plan: ToldOwn
    conflict: list[ToldBlame]
    nearest_miss: str | None
    openings: list[ToldOpening]
    remarks: list[str]
    crystals: list[ToldCrystal] = Field(default=[])


class ToldProgress(Answer):
    """Settings covered, of how many (null: not known), and how many of them fit so far."""

    covered: Count
    of: Count | None
    fit: Count


class Running(Answer):
    """A search that is not over: its address, and how many seconds it took of those it may take."""

    search: str
    state: Literal["waiting", "running"]
    seconds: float
    limit: float
    progress: ToldProgress | None
