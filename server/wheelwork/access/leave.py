"""Leave to keep: settled at the gate, asked for where the shelf is written, so that no way to it can forget to ask.

It goes with the request into the thread that answers it. Where there is no gate, at the command line, everything may be
kept: whoever runs commands on the shelf's machine has the shelf.
"""

from __future__ import annotations

from contextvars import ContextVar

from wheelwork.findings import Problem


class NoLeave(Exception):
    """Whoever asks may not keep; `problem` says what is wanting, `status` is 401 where a passphrase would do."""

    def __init__(self, problem: Problem, status: int) -> None:
        super().__init__(problem.sentence())
        self.problem = problem
        self.status = status


WANTING: ContextVar[tuple[Problem, int] | None] = ContextVar("wanting", default=None)
"""What is wanting to keep, and the status that tells it; None where one may."""


def need_leave() -> None:
    """Raises NoLeave where whoever asks may not keep."""
    wanting = WANTING.get()
    if wanting is not None:
        raise NoLeave(*wanting)
