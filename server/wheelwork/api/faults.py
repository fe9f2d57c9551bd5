"""Faults in JSON: every refusal is `{"problems": [{"where", "what", "allowed"}]}` with a status saying whose."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from starlette.responses import Response

from wheelwork.findings import Problem


class Refused(Exception):
    """Input that cannot be taken, with its problems and the HTTP status."""

    def __init__(self, problems: Iterable[Problem], status: int = 422) -> None:
        super().__init__("refused")
        self.problems = tuple(problems)
        self.status = status


class Json(Response):
    """A JSON answer that any text fits in: half characters, which UTF-8 cannot write, become question marks."""

    media_type = "application/json"

    def __init__(self, content: Any, status: int = 200) -> None:
        super().__init__(content, status)

    def render(self, content: Any) -> bytes:
        """The answer's bytes."""
        return json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "replace")


def refuse(problems: Iterable[Problem], status: int = 422) -> Json:
    """The answer that tells problems."""
    return Json({"problems": [problem.as_json() for problem in problems]}, status)
