"""The routes of estimates: which calculators there are for an oscillator, and one of them asked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path

from wheelwork.api.described import ANSWER, Problems
from wheelwork.api.estimates_described import ESTIMATE_EXAMPLES, CalculatorEntry, Estimated, RawKeys
from wheelwork.api.faults import Json, Refused
from wheelwork.api.routes import REFUSALS
from wheelwork.estimates.asks import Ask
from wheelwork.estimates.calculator import Calculator, Figure, Outcome, base_unit
from wheelwork.estimates.calculators import calculators, estimate
from wheelwork.findings import Problem, name_list, nearest, quote
from wheelwork.formulas.expressions import Number
from wheelwork.links import fields
from wheelwork.part.text import find_excess
from wheelwork.quantities.spans import write_tolerance

router = APIRouter(prefix="/api/estimates", tags=["estimates"])
MOST_VALUES = 100
_NO_CALCULATOR: dict[int | str, dict[str, Any]] = {404: {"model": Problems, "description": "No such calculator."}}


@router.get("", response_model=list[CalculatorEntry], response_description=ANSWER)
def list_calculators() -> Json:
    """Every calculator for crystals and RC oscillators, with the keys that it asks."""
    return Json([_tell_calculator(each) for each in calculators().values()])


@router.post("/{name}", responses={**REFUSALS, **_NO_CALCULATOR}, response_model=Estimated, response_description=ANSWER)
def ask_calculator(
    name: Annotated[str, Path(description="A calculator.", examples=["load_capacitors"])],
    body: Annotated[RawKeys, Body(openapi_examples=ESTIMATE_EXAMPLES)],
) -> Json:
    """Ask a calculator: figures in SI units, the verdict where there is a limit, each formula with its values."""
    known = calculators()
    if name not in known:
        like = nearest(name, known)
        offer = f"did you mean {like}?" if like else f"{name_list(list(known))} are"
        raise Refused([Problem("name", f"{quote(name)} is no calculator", offer)], 404)
    excess = find_excess(dict(body), "body", MOST_VALUES)
    if excess is not None:
        raise Refused([excess])
    return Json(_tell(known[name], _estimate(known[name], body)))


def _estimate(calculator: Calculator, body: Mapping[str, Any]) -> Outcome:
    try:
        return estimate(calculator, body)
    except fields.Refused as refused:
        raise Refused(refused.problems) from None


def _tell_calculator(calculator: Calculator) -> dict[str, Any]:
    return {
        "name": calculator.name,
        "title": calculator.title,
        "question": calculator.question,
        "suits": list(calculator.suits),
        "formulas": list(calculator.formulas),
        "letters": calculator.named_letters(),
        "sources": list(calculator.sources),
        "cautions": list(calculator.cautions),
        "keys": [_tell_key(ask) for ask in calculator.asks],
    }


def _tell_key(ask: Ask) -> dict[str, Any]:
    return {
        "key": ask.key,
        "title": ask.title,
        "letter": ask.letter,
        "form": ask.form,
        "unit": None if ask.unit is None else ask.unit.written[0],
        "least": None if ask.least is None else ask.write(ask.least),
        "most": None if ask.most is None else ask.write(ask.most),
        "default": ask.default or None,
        "needed": ask.needed,
        "example": ask.example,
        "words": list(ask.words),
        "about": ask.about,
    }


def _tell(calculator: Calculator, outcome: Outcome) -> dict[str, Any]:
    return {
        "calculator": calculator.name,
        "estimate": True,
        "what": outcome.what,
        "verdict": outcome.verdict,
        "figures": _tell_figures(outcome.figures),
        "choices": [_tell_figures(choice.figures) for choice in outcome.choices],
        "tolerance": None if outcome.tolerance is None else write_tolerance(outcome.tolerance),
        "steps": [step.in_line() for step in outcome.steps],
        "notes": list(outcome.notes),
        "sources": list(calculator.sources),
        "cautions": list(calculator.cautions),
    }


def _tell_figures(figures: tuple[Figure, ...]) -> dict[str, Any]:
    return {
        figure.key: {
            "title": figure.title,
            "unit": base_unit(figure.unit),
            "lowest": _float(figure.lowest),
            "typical": _float(figure.value),
            "highest": _float(figure.highest),
            "said": figure.said(),
        }
        for figure in figures
    }


def _float(value: Number | None) -> float | None:
    return None if value is None else float(value)
