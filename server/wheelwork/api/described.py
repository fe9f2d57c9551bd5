"""What the interface takes and gives, as its OpenAPI text describes it.

Plans and sheets are read by `plan` and `part`, whose faults are in our words; here they only lend their shape. Answers
are written by `answers`; a test holds each to its description.
"""

from __future__ import annotations

import json
import re
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, GetJsonSchemaHandler
from pydantic_core import CoreSchema

from wheelwork.part.schema import SheetTable
from wheelwork.plan.schema import PlanTable

Hertz = Annotated[
    str,
    Field(description="Exact hertz: an integer, or p/q in lowest terms.", pattern=r"^-?[0-9]+(/[0-9]+)?$"),
]
ANSWER = "The answer."
Verdict = Literal["inside", "tight", "over", "under", "stopped"]


class ShapeOf:
    """Describes a value as a model would that reads it later."""

    def __init__(self, model: type[BaseModel]) -> None:
        self.model = model

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """The shape of the model."""
        return handler(self.model.__pydantic_core_schema__)


RawPlan = Annotated[dict[str, Any], ShapeOf(PlanTable)]
RawSheet = Annotated[dict[str, Any], ShapeOf(SheetTable)]


class CheckBody(BaseModel):
    """A plan in the shape of its file, and perhaps a whole sheet in place of a stored part."""

    model_config = ConfigDict(extra="forbid")

    plan: RawPlan = Field(examples=[{"part": "turnstone-58", "in_use": ["processor"], "set": {"core": 2}}])
    part: RawSheet | None = None


EXAMPLES: dict[str, Any] = {
    "stored": {
        "summary": "A plan on a stored sheet",
        "value": {"plan": {"part": "turnstone-58", "in_use": ["processor"], "set": {"core": 2}}},
    },
    "mended": {
        "summary": "A plan that is outside and can be mended",
        "value": {
            "plan": {
                "part": "turnstone-58",
                "board": {"crystal": {"frequency": "24 MHz", "tolerance": "±30 ppm"}},
                "set": {"core_source": "crystal", "slow_bus": 1},
                "core_voltage": "low",
            }
        },
    },
    "inline": {
        "summary": "A plan with its sheet",
        "value": {
            "plan": {"set": {"core": 4}},
            "part": {
                "format": "wheelwork-part/1",
                "name": "Smallest",
                "core": {"clock": "core"},
                "core_voltage": {"only": {"volts": "1.2 V"}},
                "oscillator": {"rc": {"frequency": "8 MHz", "tolerance": "±1 %"}},
                "divider": {"core": {"input": "rc", "ratios": "1..4", "limits": "up to 4 MHz"}},
            },
        },
    },
}


class Answer(BaseModel):
    """An answer: nothing stands in it but what is described."""

    model_config = ConfigDict(extra="forbid")


class ToldProblem(Answer):
    """Input that cannot be taken: its place, what stands there, what is allowed; the line where a text was read."""

    where: str
    what: str
    allowed: str
    line: int | None = Field(default=None, ge=1)


class Problems(Answer):
    """Why something was refused."""

    problems: list[ToldProblem] = Field(min_length=1)


class PartEntry(Answer):
    """A part sheet that is offered."""

    id: str
    name: str
    about: str


class ToldWindow(Answer):
    """Lowest and highest frequency allowed; null: no limit on that side. Edges belong to it."""

    lowest: Hertz | None
    highest: Hertz | None


class ToldClock(Answer):
    """Where a clock stands. All is null where it does not run; window and margin where the sheet states no window."""

    verdict: Verdict
    nominal: Hertz | None
    lowest: Hertz | None
    highest: Hertz | None
    window: ToldWindow | None
    margin: Hertz | None


class ToldNode(ToldClock):
    """A node with its clock; a PLL that runs also has its phase detector's."""

    title: str
    kind: Literal["oscillator", "selector", "pll", "divider", "scaler", "load"]
    phase_detector: ToldClock | None = None


class ToldStep(Answer):
    """The core-voltage step chosen, and the lowest under which these settings are legal; null where none is."""

    chosen: str
    lowest_that_does: str | None


class ToldWaits(Answer):
    """Flash wait states: chosen (or what is needed), and needed; null past the last row of the table."""

    chosen: int | None
    needed: int | None


class ToldCurrent(Answer):
    """Supply current, estimated, in ampere; the highest where the sheet states any, and what it leaves out."""

    typical: float
    highest: float | None
    not_stated: list[str]


class ToldMend(Answer):
    """A change that makes the whole plan legal: settings to merge into `set`, a step, wait states; and its words."""

    set: dict[str, Any]
    core_voltage: str | None
    wait_states: int | None
    what: str


class ToldFinding(Answer):
    """One thing wrong or worth knowing, with the mends that were tried; where there is none, what was tried.

    `link` is the link it speaks of, left out where it speaks of none.
    """

    node: str
    severity: Literal["stop", "caution", "note"]
    what: str
    detail: str
    also: list[str]
    mend: list[ToldMend]
    tried: str = ""
    link: str = ""


class Checked(Answer):
    """The judgement of a plan."""

    legal: bool
    nodes: dict[str, ToldNode]
    core_voltage: ToldStep
    wait_states: ToldWaits
    current: ToldCurrent
    findings: list[ToldFinding]


def keep_what_is_meant(openapi: dict[str, Any]) -> dict[str, Any]:
    """The OpenAPI text without shapes to which nothing leads: those of values that are described by their text."""
    shapes: dict[str, Any] = openapi["components"]["schemas"]
    led_to = _led_to_from(openapi["paths"])
    waiting = list(led_to)
    while waiting:
        found = _led_to_from(shapes[waiting.pop()]) - led_to
        led_to |= found
        waiting += found
    kept = {name: shape for name, shape in shapes.items() if name in led_to}
    return {**openapi, "components": {**openapi["components"], "schemas": kept}}


def _led_to_from(part: Any) -> set[str]:
    return set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(part)))
