"""The answer of a search in JSON's shape: counts and hertz as strings, currents in ampere."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wheelwork.api.answers import exact
from wheelwork.find.question import Blame, CrystalChoice, Opening, Progress, Question, Solution
from wheelwork.find.saying import say_blame
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan
from wheelwork.plan.writing import write_plan, write_settings, write_target
from wheelwork.quantities.units import FREQUENCY, write_quantity

if TYPE_CHECKING:
    from wheelwork.find.answering import FullAnswer


def tell_answer(full: FullAnswer, crystals_asked: bool = False) -> dict[str, Any]:
    """The whole answer of `POST /api/find`."""
    answer = full.answer
    question = answer.question
    told = {
        "fits": answer.fits,
        "complete": answer.complete,
        "admissible": count_of(answer.admissible),
        "searched": count_of(answer.searched),
        "solutions": [_tell_solution(solution, question.part) for solution in answer.solutions],
        "plan": {"fits": answer.plan_fits, "rank": answer.rank},
        "conflict": [_tell_blame(blame, question) for blame in answer.conflict],
        "nearest_miss": None if full.nearest is None else full.nearest.sentence,
        "openings": [_tell_opening(opening, question) for opening in full.openings],
        "remarks": list(answer.remarks),
    }
    crystals = [_tell_crystal(choice, question.part) for choice in full.crystals]
    return {**told, "crystals": crystals} if crystals_asked else told


def tell_progress(progress: Progress | None) -> dict[str, str | None] | None:
    """How far a search is; null where it has not told yet."""
    if progress is None:
        return None
    return {"covered": str(progress.covered), "of": count_of(progress.of), "fit": str(progress.fit)}


def count_of(number: int | None) -> str | None:
    """A count as a string, for it may pass what JSON's readers hold exactly."""
    return None if number is None else str(number)


def _tell_solution(solution: Solution, part: Part) -> dict[str, Any]:
    return {
        "set": write_settings(solution.settings, part),
        "core_voltage": solution.core_voltage,
        "wait_states": solution.wait_states,
        "score": {"core": exact(solution.core), "current": float(solution.current)},
        "alike": str(solution.alike),
        "changes": solution.changes,
    }


def _tell_blame(blame: Blame, question: Question) -> dict[str, Any]:
    who = {"target": blame.target, "pinned": blame.pinned, "load": blame.load}
    return {**{key: value for key, value in who.items() if value is not None}, "what": say_blame(blame, question)}


def _tell_opening(opening: Opening, asked: Question) -> dict[str, Any]:
    question = opening.question
    return {
        "kind": opening.kind,
        "act": opening.act,
        "detail": opening.detail,
        "admissible": count_of(opening.admissible),
        "targets": [write_target(target) for target in question.targets],
        "pinned": list(question.pinned),
        "plan": _changed_keys(asked.plan, question.plan, question.part),
    }


def _changed_keys(before: Plan, after: Plan, part: Part) -> dict[str, Any]:
    """What to put into the plan's table: the keys that differ; one that became empty is given as null."""
    old, new = write_plan(before, part), write_plan(after, part)
    return {key: new.get(key) for key in {**old, **new} if old.get(key) != new.get(key)}


def _tell_crystal(choice: CrystalChoice, part: Part) -> dict[str, Any]:
    return {
        "frequency": write_quantity(choice.frequency, FREQUENCY),
        "admissible": count_of(choice.admissible),
        "best": None if choice.best is None else _tell_solution(choice.best, part),
    }
