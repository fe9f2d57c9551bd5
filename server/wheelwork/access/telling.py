"""How a refusal is told: the roof hands in who words it, as a page or as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from starlette.responses import Response
from starlette.types import Scope

from wheelwork.findings import Problem

Tell = Callable[[Scope, Iterable[Problem], int], Response]
