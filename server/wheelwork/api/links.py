"""The routes of links: every wanted rate of a plan judged, and one family asked without a plan."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request

from wheelwork.api.answers import exact, tell_finding
from wheelwork.api.described import ANSWER, Problems
from wheelwork.api.faults import Json, Refused
from wheelwork.api.links_described import (
    ASK_EXAMPLES,
    LINKS_EXAMPLES,
    AskBody,
    LinkAnswered,
    LinksBody,
    LinksJudged,
)
from wheelwork.api.routes import REFUSALS, library_of, read_body
from wheelwork.findings import Problem, Unreadable, name_list, nearest, quote
from wheelwork.judge import JudgedLink, judge
from wheelwork.judge.rates import findings_of_answer
from wheelwork.links import fields
from wheelwork.links.families import answer_link, families
from wheelwork.links.family import Allowance, Choice, Family, Feed, LinkAnswer, Told
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
    body: Annotated[AskBody, Body(openapi_examples=ASK_EXAMPLES)],
) -> Json:
    """Ask a family for a rate at a clock, without a plan: the best settings first, the nearest even where none fits."""
    known = families()
    if family not in known:
        like = nearest(family, known)
        offer = f"did you mean {like}?" if like else f"{name_list(list(known))} are"
        raise Refused([Problem("family", f"{quote(family)} is no family of links", offer)], 404)
    return Json(_ask(known[family], body))


def _ask(family: Family[Any, Any], body: AskBody) -> dict[str, Any]:
    excess = find_excess({"generator": body.generator, "ask": body.ask}, "body", MOST_VALUES)
    if excess is not None:
        raise Refused([excess])
    feed, problems = _read_feed(body)
    try:
        answer, _ = answer_link(family, feed, body.generator, body.ask)
    except fields.Refused as refused:
        raise Refused([*problems, *refused.problems]) from None
    if problems:
        raise Refused(problems)
    findings = findings_of_answer(family, feed, body.ask, answer)
    return {**tell_link_answer(answer), "findings": [tell_finding(None, finding) for finding in findings]}


def _read_feed(body: AskBody) -> tuple[Feed, list[Problem]]:
    """The clock; where it cannot be read, one that stands in, so that further problems are told beside."""
    problems: list[Problem] = []
    nominal, tolerance = read_frequency("1 GHz"), EXACT
    try:
        nominal = read_frequency(body.clock)
    except Unreadable as fault:
        problems.append(fault.at("clock"))
    try:
        tolerance = EXACT if body.tolerance is None else read_tolerance(body.tolerance)
    except Unreadable as fault:
        problems.append(fault.at("tolerance"))
    return Feed(nominal, tolerance), problems


def tell_links(part: Part, links: tuple[JudgedLink, ...]) -> dict[str, Any]:
    """The whole answer of `POST /api/links`."""
    findings = [finding for link in links for finding in link.findings]
    return {
        "links": [_tell_link(link) for link in links],
        "findings": [tell_finding(part, finding) for finding in findings],
    }


def _tell_link(judged: JudgedLink) -> dict[str, Any]:
    clock = judged.clock
    told = {"choices": [], "allowance": None} if judged.answer is None else tell_link_answer(judged.answer)
    return {
        "name": judged.title,
        "load": judged.link.load,
        "family": judged.link.family,
        "clock": judged.node,
        "nominal": exact(clock.nominal) if clock else None,
        "lowest": exact(clock.lowest) if clock else None,
        "highest": exact(clock.highest) if clock else None,
        **told,
        "verdict": judged.verdict,
        "chosen": None if judged.chosen is None else tell_choice(judged.chosen),
    }


def tell_link_answer(answer: LinkAnswer) -> dict[str, Any]:
    """A family's answer: its choices, the best first, the allowance with its source, the verdict."""
    return {
        "choices": [tell_choice(choice) for choice in answer.choices],
        "allowance": None if answer.allowance is None else _tell_allowance(answer.allowance),
        "verdict": answer.verdict,
    }


def _tell_allowance(allowance: Allowance) -> dict[str, str | None]:
    return {
        "lowest": exact(allowance.lowest),
        "highest": exact(allowance.highest),
        "source": allowance.source,
    }


def tell_choice(choice: Choice) -> dict[str, Any]:
    """A choice: its settings and what follows from them, then rate, error and verdict."""
    return {
        **_tell_values(choice.settings),
        **_tell_values(choice.told),
        "rate": exact(choice.rate),
        "error": exact(choice.error),
        "error_lowest": exact(choice.error_lowest),
        "error_highest": exact(choice.error_highest),
        "verdict": choice.verdict,
    }


def _tell_values(values: Mapping[str, Told]) -> dict[str, int | str | None]:
    return {key: value if isinstance(value, int | str | None) else str(value) for key, value in values.items()}
