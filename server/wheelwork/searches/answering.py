"""The whole answer to a question, until `find.answering` gives it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wheelwork.find.question import Answer, CrystalChoice, Opening, Question, StillTime, Tell


@dataclass(frozen=True, slots=True)
class FullAnswer:
    """The answer with what is to blame and what would open it, and crystals where they were asked for."""

    answer: Answer
    nearest: Any = None
    openings: tuple[Opening, ...] = ()
    combs: Any = None
    crystals: tuple[CrystalChoice, ...] = ()


def answer_fully(question: Question, still_time: StillTime, tell: Tell, crystal: str | None = None) -> FullAnswer:
    """The whole answer."""
    from wheelwork.find.search import find_settings

    return FullAnswer(find_settings(question, still_time, tell))
