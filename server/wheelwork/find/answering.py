"""The whole answer to a question in one call: the search, and where nothing fits what is to blame and what opens it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from wheelwork.find.combs import Combs, find_combs
from wheelwork.find.conflicts import find_conflict, is_hopeless
from wheelwork.find.crystals import choose_crystals
from wheelwork.find.misses import NearestMiss, nearest_miss
from wheelwork.find.nearest import find_in_the_way, find_nearest
from wheelwork.find.openings import find_openings
from wheelwork.find.question import Answer, Blame, CrystalChoice, Opening, Progress, Question, StillTime
from wheelwork.find.search import find_settings

HOPELESS = "Nothing fits even without target, pin and load: board, supply or part sheet leave no setting at all."
NOT_BLAMED = "Nothing fits; what is to blame was not decided in time."


@dataclass(frozen=True, slots=True)
class FullAnswer:
    """The answer, its conflict filled in, and what belongs to it where nothing fits; crystals where they were asked.

    `combs` are those of the blamed targets. Where one target is blamed alone and the window of a load in use stands in
    its way, `combs_beside` are those of the two.
    """

    answer: Answer
    nearest: NearestMiss | None = None
    openings: tuple[Opening, ...] = ()
    combs: Combs | None = None
    combs_beside: Combs | None = None
    crystals: tuple[CrystalChoice, ...] = ()


def _tell_nobody(progress: Progress) -> None:
    pass


def answer_fully(
    question: Question,
    still_time: StillTime,
    tell: Callable[[Progress], None] = _tell_nobody,
    crystal: str | None = None,
) -> FullAnswer:
    """The answer with all that belongs to it. `crystal` names an oscillator for which standard values are tried."""
    answer = find_settings(question, still_time, tell)
    full = FullAnswer(answer) if answer.fits is not False else _explained(answer, still_time)
    if crystal is None:
        return full
    return replace(full, crystals=choose_crystals(question, crystal, still_time))


def _explained(answer: Answer, still_time: StillTime) -> FullAnswer:
    """What is to blame, how near it was and what would open it."""
    question = answer.question
    conflict = find_conflict(question, still_time)
    if conflict is None:
        return FullAnswer(replace(answer, complete=False, remarks=(*answer.remarks, NOT_BLAMED)))
    near, beside = find_nearest(question, conflict, still_time), find_in_the_way(question, conflict, still_time)
    return FullAnswer(
        answer=replace(
            answer, conflict=conflict, remarks=(*answer.remarks, *_said_hopeless(answer, conflict, still_time))
        ),
        nearest=nearest_miss(question, conflict, still_time, near, beside),
        openings=find_openings(question, conflict, still_time, near),
        combs=find_combs(question, conflict),
        combs_beside=None if beside is None else find_combs(question, conflict, beside),
    )


def _said_hopeless(answer: Answer, conflict: tuple[Blame, ...], still_time: StillTime) -> tuple[str, ...]:
    if all(blame.load is None for blame in conflict):
        return ()
    return (HOPELESS,) if is_hopeless(answer.question, still_time) else ()
