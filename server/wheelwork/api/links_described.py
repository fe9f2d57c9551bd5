"""What the routes of links take and give, as the OpenAPI text describes it; a test holds each answer to it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from wheelwork.api.described import Answer, CheckBody, Hertz, ShapeOf, ToldFinding

Exact = Annotated[
    str,
    Field(description="An exact number: an integer, or p/q in lowest terms.", pattern=r"^-?[0-9]+(/[0-9]+)?$"),
]
LinkVerdict = Literal["inside", "tight", "over", "under", "none fits"]


class LinksBody(CheckBody):
    """A plan with its links in the shape of its file, and perhaps a whole sheet in place of a stored part."""


class AskBody(BaseModel):
    """A clock with its tolerance (left out: exact), what the generator offers, and what is asked of it."""

    model_config = ConfigDict(extra="forbid")

    clock: str = Field(examples=["1.8432 MHz"])
    tolerance: str | None = Field(default=None, examples=["±50 ppm", "-1 % .. +1.5 %"])
    generator: dict[str, Any] = Field(default={}, examples=[{"oversampling": [16], "divisor": "1..65535"}])
    ask: dict[str, Any] = Field(examples=[{"rate": "9600 Bd"}])


RawAsk = Annotated[dict[str, Any], ShapeOf(AskBody)]

_SERIAL_PORT = {"oversampling": [8, 16], "divisor": "1..65535", "fraction_of": 16}

LINKS_EXAMPLES: dict[str, Any] = {
    "console": {
        "summary": "A console on a stored sheet",
        "value": {
            "plan": {
                "part": "turnstone-58",
                "in_use": ["processor", "serial_port"],
                "link": [{"name": "Console", "load": "serial_port", "family": "uart", "rate": "115200 Bd"}],
            }
        },
    },
    "chosen": {
        "summary": "The same with its divisor chosen",
        "value": {
            "plan": {
                "part": "turnstone-58",
                "in_use": ["processor", "serial_port"],
                "link": [
                    {
                        "name": "Console",
                        "load": "serial_port",
                        "family": "uart",
                        "rate": "115200 Bd",
                        "allowance": "±2 %",
                        "chosen": {"oversampling": 16, "divisor": 6},
                    }
                ],
            }
        },
    },
}
ASK_EXAMPLES: dict[str, Any] = {
    "exact": {
        "summary": "uart: a rate that comes out exactly",
        "value": {
            "clock": "1.8432 MHz",
            "tolerance": "±50 ppm",
            "generator": {"oversampling": [16], "divisor": "1..65535"},
            "ask": {"rate": "9600 Bd"},
        },
    },
    "fraction": {
        "summary": "uart: divisors in sixteenths",
        "value": {"clock": "29 MHz", "generator": _SERIAL_PORT, "ask": {"rate": "921600 Bd", "frame": "8N1"}},
    },
    "none": {
        "summary": "uart: none fits, the nearest is told",
        "value": {"clock": "1 MHz", "generator": {"divisor": "1..255"}, "ask": {"rate": "115200 Bd"}},
    },
}


class ToldAllowance(Answer):
    """How far the rate may be off, as shares of the rate asked for (null: no limit on that side), and who says so."""

    lowest: Exact | None
    highest: Exact | None
    source: str


class ToldChoice(BaseModel):
    """A way to set the generator: the family's settings by name, exact ratios as strings, counts as whole numbers;
    those of a field bus's data phase are a table of their own, `data`.

    `error` is the nominal rate's share off the one asked for, `error_lowest` and `error_highest` with the clock at the
    ends of its tolerance; null where no rate was asked for. `allowance` stands here only where it is not the answer's.
    """

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, int | str | dict[str, int | str | None] | None] = Field(init=False)

    rate: Exact | None
    error: Exact | None
    error_lowest: Exact | None
    error_highest: Exact | None
    verdict: LinkVerdict
    allowance: ToldAllowance | None = None


class LinkAnswered(Answer):
    """The choices, the best first, the nearest even where none fits; the verdict is the best one's."""

    choices: list[ToldChoice]
    allowance: ToldAllowance | None
    verdict: LinkVerdict
    findings: list[ToldFinding]


class ToldLink(Answer):
    """A link of the plan: `clock` is the node that feeds its load, with its hertz; nulls where it does not run.

    `chosen` is the plan's own choice, judged; null where it leaves the best. The verdict counts it before the best.
    """

    name: str
    load: str
    family: str
    clock: str
    nominal: Hertz | None
    lowest: Hertz | None
    highest: Hertz | None
    choices: list[ToldChoice]
    allowance: ToldAllowance | None
    verdict: Literal["inside", "tight", "over", "under", "none fits", "stopped"]
    chosen: ToldChoice | None


class LinksJudged(Answer):
    """All links of a plan, in its order, and their findings, which are also among the plan's."""

    links: list[ToldLink]
    findings: list[ToldFinding]
