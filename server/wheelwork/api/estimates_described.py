"""What the routes of estimates take and give, as the OpenAPI text describes it; a test holds each answer to it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from wheelwork.api.described import Answer, ShapeOf
from wheelwork.estimates.calculators import calculators

Si = Annotated[float | None, Field(description="A number in SI units; a share of 1 ppm is 0.000001.")]


class ToldKey(Answer):
    """A key that a calculator asks. `least` and `most` as one would write them, null where the unit alone bounds it.

    `needed`: there is no default and no other key in its place. Quantities are strings with their unit.
    """

    key: str
    title: str
    letter: str
    form: Literal["quantity", "number", "whole", "tolerance", "temperatures", "word"]
    unit: str | None
    least: str | None
    most: str | None
    default: str | None
    needed: bool
    example: str
    words: list[str]
    about: str


class CalculatorEntry(Answer):
    """A calculator: what it answers, its formulas with their letters, sources, cautions, and the keys that it asks."""

    name: str
    title: str
    question: str
    suits: list[Literal["crystal", "resonator", "rc", "external"]]
    formulas: list[str]
    letters: dict[str, str]
    sources: list[str]
    cautions: list[str]
    keys: list[ToldKey]


class ToldFigure(Answer):
    """A figure: `typical` is its value, `lowest` and `highest` its ends where a span is known; `said` for reading."""

    title: str
    unit: str
    lowest: Si
    typical: Si
    highest: Si
    said: str


class Estimated(Answer):
    """An estimate: never measured, and no guarantee. The verdict is null where nothing bounds the figure."""

    calculator: str
    estimate: Literal[True]
    what: str
    verdict: Literal["inside", "over", "under", "unsuitable"] | None
    figures: dict[str, ToldFigure]
    choices: list[dict[str, ToldFigure]]
    tolerance: Annotated[
        str | None, Field(description="The span of shares that a plan may take as the oscillator's tolerance.")
    ]
    steps: list[str]
    notes: list[str]
    sources: list[str]
    cautions: list[str]


class AskedKeys(BaseModel):
    """The keys of the calculator; `GET /api/estimates` lists them."""

    model_config = {"extra": "allow"}
    __pydantic_extra__: dict[str, str | int] = Field(init=False)


RawKeys = Annotated[dict[str, Any], ShapeOf(AskedKeys)]

INSTEAD = {"motional_resistance", "critical_most", "resistance_most", "current"}
"""Keys that stand in place of others, and so are not in the examples."""

ESTIMATE_EXAMPLES: dict[str, Any] = {
    name: {
        "summary": f"{name}: {calculator.question[:1].lower()}{calculator.question[1:]}",
        "value": {ask.key: ask.example for ask in calculator.asks if ask.needed or ask.key not in INSTEAD},
    }
    for name, calculator in calculators().items()
}
