"""A worker whose searches do as the plan's name says: `spin` until time is over, `hang`, `die`, `fail`, `grow`."""

from __future__ import annotations

import os
import time

from wheelwork.find.answering import FullAnswer
from wheelwork.find.question import Answer, Progress, Question, StillTime, Tell
from wheelwork.searches import worker


def answer_slowly(question: Question, still_time: StillTime, tell: Tell, crystal: str | None = None) -> FullAnswer:
    turns = 0
    match question.plan.name:
        case "die":
            os._exit(9)
        case "fail":
            raise ArithmeticError("on purpose")
        case "hang":
            time.sleep(60)
        case "grow":
            raise MemoryError
        case "spin":
            while still_time():
                turns += 1
                tell(Progress(turns, None, 12))
    cut = turns > 0
    return FullAnswer(Answer(question=question, fits=cut or None, complete=not cut, admissible=12 if cut else 0))


if __name__ == "__main__":
    worker.main(answer_slowly)
