"""The search over every setting: the best that fit, their number, and the proof when none does."""

from __future__ import annotations

from wheelwork.find.counting import count_settings
from wheelwork.find.question import Answer, Progress, Question, StillTime, Tell


def _tell_nobody(progress: Progress) -> None:
    pass


def find_settings(question: Question, still_time: StillTime, tell: Tell = _tell_nobody) -> Answer:
    """Search every setting. `tell` is told from time to time how far the search has come."""
    counted = count_settings(
        question.part, question.plan, still_time, question.targets, (*question.pinned, *question.plan.held)
    )
    fits = None if counted is None else counted > 0
    return Answer(question=question, fits=fits, complete=counted is not None, admissible=counted)
