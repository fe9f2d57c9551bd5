"""Templates: one environment, rows kept once drawn, the answer with or without the frame around it."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup
from starlette.responses import HTMLResponse

from wheelwork.charts.lanes import rule_ticks
from wheelwork.folders import find_folder
from wheelwork.pages.rows import RowView

PAGES: tuple[tuple[str, str], ...] = (("Plan", "/"), ("Plans and sheets", "/plans"))
MOST_ROWS_KEPT = 20_000


@cache
def environment() -> Environment:
    """The template environment: autoescape, nothing undefined in silence."""
    made = Environment(
        loader=FileSystemLoader(find_folder("templates")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=False,
    )
    made.globals |= {"pages": PAGES, "rule_ticks": rule_ticks(), "draw_row": draw_row}
    return made


@cache
def template(name: str) -> Template:
    """A template by name, compiled once."""
    return environment().get_template(name)


@lru_cache(maxsize=MOST_ROWS_KEPT)
def draw_row(row: RowView) -> Markup:
    """A row's markup; the same row is drawn once."""
    return Markup(template("plan/_row.html").render(row=row))


def wants_fragment(request: Request) -> bool:
    """Whether the request comes from htmx and wants only the part that changed."""
    return request.headers.get("hx-request") == "true"


def render(page_template: str, /, status: int = 200, headers: dict[str, str] | None = None, **context: Any) -> HTMLResponse:
    """A page or a fragment; what UTF-8 cannot write becomes a question mark."""
    text = template(page_template).render(**context)
    return HTMLResponse(text.encode("utf-8", "replace"), status, headers)
