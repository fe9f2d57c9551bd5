"""The routes of links: every wanted rate of a plan judged, and one family asked without a plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request

from wheelwork.api.answers import exact, tell_finding
from wheelwork.api.described import ANSWER, Problems
from wheelwork.api.faults import Json, Refused
from wheelwork.api.links_described import (
    ASK_EXAMPLES,
    LINKS_EXAMPLES,
    LinkAnswered,
    LinksBody,
    LinksJudged,
    RawAsk,
)
from wheelwork.api.routes import REFUSALS, library_of, read_body
from wheelwork.findings import Problem, name_list, nearest, quote
from wheelwork.judge import JudgedLink, judge
from wheelwork.judge.rates import findings_of_answer
from wheelwork.links import fields
from wheelwork.links.families import answer_link, families
from wheelwork.links.family import Allowance, Choice, Family, Feed, LinkAnswer, Setting
from wheelwork.part.nodes import Part
from wheelwork.part.text import find_excess
from wheelwork.quantities.spans import EXACT, read_tolerance
from wheelwork.quantities.units import read_frequency

router = APIRouter(prefix="/api/links", tags=["links"])
MOST_VALUES = 2_000
_NO_FAMILY: dict[int | str, dict[str, Any]] = {404: {"model": Problems, "description": "No such family of links."}}


@router.post("", responses=REFUSALS, response_model=LinksJudged, response_description=ANSWER)
def judge_links_of(body: Annotated[LinksBody, Body(openapi_examples=LINKS_EXAMPLES)], request: Request) -> Json:
    """Judge every link of a plan: the settings that come nearest, what the plan has chosen, and the findings."""
    part, plan = read_body(body.plan, body.part, library_of(request))
    return Json(tell_links(part, judge(part, plan).links))


@router.post(
    "/{family}", responses={**REFUSALS, **_NO_FAMILY}, response_model=LinkAnswered, response_description=ANSWER
)
def ask_family(
    family: Annotated[str, Path(description="A family of links.", examples=["uart"])],
    body: Annotated[RawAsk, Body(openapi_examples=ASK_EXAMPLES)],
) -> Json:
    """Ask a family for a rate at a clock, without a plan: the best settings first, the nearest even where none fits."""
    known = families()
    if family not in known:
        like = nearest(family, known)
        offer = f"did you mean {like}?" if like else f"{name_list(list(known))} are"
        raise Refused([Problem("family", f"{quote(family)} is no family of links", offer)], 404)
    return Json(_ask(known[family], body))


def _ask(family: Family[Any, Any], body: Mapping[str, Any]) -> dict[str, Any]:
    excess = find_excess(dict(body), "body", MOST_VALUES)
    if excess is not None:
        raise Refused([excess])
    feed, problems = _read_feed(body)
    generator, ask = body.get("generator", {}), body.get("ask", {})
    try:
        answer, _ = answer_link(family, feed, generator, ask)
    except fields.Refused as refused:
        raise Refused([*problems, *refused.problems]) from None
    if problems:
        raise Refused(problems)
    findings = findings_of_answer(family, feed, ask, answer)
    return {**tell_link_answer(answer), "findings": [tell_finding(None, finding) for finding in findings]}


def _read_feed(body: Mapping[str, Any]) -> tuple[Feed, list[Problem]]:
    """The clock, and what is wrong with the body; a clock that cannot be read is stood in for, to tell the rest too."""
    reader = fields.Fields(body, "body")
    nominal = reader.need("clock", read_frequency, '"8 MHz"')
    tolerance = reader.take("tolerance", lambda raw: EXACT if raw is None else read_tolerance(raw), EXACT)
    reader.take("generator", lambda raw: raw, None)
    reader.need("ask", lambda raw: raw, '{"rate": "9600 Bd"}')
    problems: list[Problem] = []
    try:
        reader.finish()
    except fields.Refused as refused:
        problems = [replace(each, where=each.where.removeprefix("body.")) for each in refused.problems]
    return Feed(nominal or read_frequency("1 GHz"), tolerance), problems


def tell_links(part: Part, links: tuple[JudgedLink, ...]) -> dict[str, Any]:
    """The whole answer of `POST /api/links`."""
    findings = [finding for link in links for finding in link.findings]
    return {
        "links": [_tell_link(link) for link in links],
        "findings": [tell_finding(part, finding) for finding in findings],
    }


def _tell_link(judged: JudgedLink) -> dict[str, Any]:
    clock = judged.clock
    choices = () if judged.answer is None else judged.answer.choices
    return {
        "name": judged.title,
        "load": judged.link.load,
        "family": judged.link.family,
        "clock": judged.node,
        "nominal": exact(clock.nominal) if clock else None,
        "lowest": exact(clock.lowest) if clock else None,
        "highest": exact(clock.highest) if clock else None,
        "choices": [tell_choice(choice, judged.allowance) for choice in choices],
        "allowance": _tell_allowance(judged.allowance),
        "verdict": judged.verdict,
        "chosen": None if judged.chosen is None else tell_choice(judged.chosen, judged.allowance),
    }


def tell_link_answer(answer: LinkAnswer) -> dict[str, Any]:
    """A family's answer: its choices, the best first, the allowance with its source, the verdict."""
    return {
        "choices": [tell_choice(choice, answer.allowance) for choice in answer.choices],
        "allowance": _tell_allowance(answer.allowance),
        "verdict": answer.verdict,
    }


def _tell_allowance(allowance: Allowance | None) -> dict[str, str | None] | None:
    if allowance is None:
        return None
    return {
        "lowest": exact(allowance.lowest),
        "highest": exact(allowance.highest),
        "source": allowance.source,
    }


def tell_choice(choice: Choice, allowance: Allowance | None) -> dict[str, Any]:
    """A choice: its settings and what follows from them, rate, error and verdict; its allowance where it is another."""
    other = choice.allowance is not None and choice.allowance != allowance
    return {
        **_tell_values(choice.settings),
        **_tell_values(choice.told),
        "rate": exact(choice.rate),
        "error": exact(choice.error),
        "error_lowest": exact(choice.error_lowest),
        "error_highest": exact(choice.error_highest),
        "verdict": choice.verdict,
        **({"allowance": _tell_allowance(choice.allowance)} if other else {}),
    }


def _tell_values(values: Mapping[str, Setting]) -> dict[str, Any]:
    return {key: _tell_value(value) for key, value in values.items()}


def _tell_value(value: Setting) -> Any:
    if isinstance(value, Mapping):
        return _tell_values(value)
    return value if isinstance(value, int | str | None) else str(value)
