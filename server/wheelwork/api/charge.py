"""The route of charge: supply current, one round of phases, the mean, battery life, operating points."""

from __future__ import annotations

from fractions import Fraction
from time import monotonic
from typing import Annotated, Any

from fastapi import APIRouter, Body, Request
from pydantic import Field

from wheelwork.api.answers import exact, tell_finding
from wheelwork.api.described import ANSWER, EXAMPLES, Answer, CheckBody, Hertz, ToldFinding
from wheelwork.api.faults import Json
from wheelwork.api.routes import REFUSALS, library_of, read_body
from wheelwork.find.operating import Point, Work, find_operating_points
from wheelwork.judge import judge
from wheelwork.judge.charge import Charge, Estimate, PhaseCharge, reckon_charge, work_of
from wheelwork.part.nodes import Part
from wheelwork.plan.writing import write_settings

router = APIRouter(prefix="/api/charge", tags=["charge"])
SECONDS_FOR_POINTS = 1.0


class ToldEstimate(Answer):
    """An estimate in SI units: typical, and the highest where a span is known."""

    typical: float
    highest: float | None


class ToldShare(Answer):
    """One part of the run current, in ampere: whose it is."""

    of: str
    current: ToldEstimate


class ToldPhase(Answer):
    """A phase: seconds once in `every` seconds, ampere, the coulombs of one time; waking is told with the others."""

    name: str
    about: str
    lasts: float
    every: float
    current: ToldEstimate
    charge: ToldEstimate
    derived: bool


class ToldLife(Answer):
    """Seconds that the battery lasts, and what ends it."""

    lowest: float
    typical: float
    highest: float
    ended_by: str


class ToldPoint(Answer):
    """An operating point: the step, its core clock, coulombs and seconds for the work, the settings that have it."""

    core_voltage: str
    core: Hertz
    wait_states: int
    current: float
    charge_for_the_work: float
    seconds: float
    set: dict[str, Any]


class Charged(Answer):
    """The charge of a plan; a mean and a life are null where the plan has no phases, no battery."""

    run_current: ToldEstimate
    parts_of_it: list[ToldShare]
    not_stated: list[str]
    phases: list[ToldPhase]
    round: float | None
    mean_current: ToldEstimate
    life: ToldLife | None
    operating_points: list[ToldPoint] = Field(
        description="For each core-voltage step the core clock at which the first phase's work costs least."
    )
    counted: bool = Field(description="Whether every legal setting was counted, so that none costs less.")
    findings: list[ToldFinding]


@router.post("", responses=REFUSALS, response_model=Charged, response_description=ANSWER)
def charge(body: Annotated[CheckBody, Body(openapi_examples=EXAMPLES)], request: Request) -> Json:
    """The supply current of a plan with its parts, one round of its phases, the mean, how long the battery lasts."""
    part, plan = read_body(body.plan, body.part, library_of(request))
    return Json(tell_charge(reckon_charge(judge(part, plan))))


def tell_charge(charge: Charge) -> dict[str, Any]:
    """The whole answer; without phases the plan is taken to run all the time."""
    current = charge.judgement.current
    return {
        "run_current": tell_estimate(charge.run),
        "parts_of_it": [
            {"of": share.of, "current": tell_estimate(Estimate(share.typical, share.highest))}
            for share in current.parts
        ],
        "not_stated": list(charge.not_stated),
        "phases": [_tell_phase(phase) for phase in charge.phases],
        "round": None if charge.round is None else float(charge.round),
        "mean_current": tell_estimate(charge.mean or charge.run),
        "life": None
        if charge.life is None
        else {
            "lowest": charge.life.lowest,
            "typical": charge.life.typical,
            "highest": charge.life.highest,
            "ended_by": charge.life.ended_by,
        },
        **tell_points(charge),
        "findings": [tell_finding(charge.judgement.part, finding) for finding in charge.findings],
    }


def tell_points(charge: Charge) -> dict[str, Any]:
    """The least operating point of each step for the work of the first phase, over all legal settings."""
    judgement, (_, clocks, within) = charge.judgement, work_of(charge)
    ends = monotonic() + SECONDS_FOR_POINTS
    points = find_operating_points(
        judgement.part, judgement.plan, Work(clocks, within=within), lambda: monotonic() < ends
    )
    told = [_tell_point(judgement.part, curve.best) for curve in points.steps if curve.best is not None]
    return {"operating_points": told, "counted": points.proven}


def _tell_point(part: Part, point: Point) -> dict[str, Any]:
    return {
        "core_voltage": point.step,
        "core": exact(point.core),
        "wait_states": point.wait_states,
        "current": float(point.current),
        "charge_for_the_work": float(point.charge),
        "seconds": float(point.seconds),
        "set": write_settings(point.settings, part),
    }


def tell_estimate(estimate: Estimate) -> dict[str, float | None]:
    """An estimate as JSON numbers."""
    return {
        "typical": _number(estimate.typical),
        "highest": None if estimate.highest is None else _number(estimate.highest),
    }


def _number(value: Fraction) -> float:
    return float(value)


def _tell_phase(phase: PhaseCharge) -> dict[str, Any]:
    return {
        "name": phase.name,
        "about": phase.about,
        "lasts": float(phase.lasts),
        "every": float(phase.every),
        "current": tell_estimate(phase.current),
        "charge": tell_estimate(phase.charge),
        "derived": phase.derived,
    }
