"""Templates: one environment, rows kept once drawn, the answer with or without the frame around it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache
from typing import Any

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup
from starlette.responses import HTMLResponse

from wheelwork.charts.axis import Axis
from wheelwork.charts.lanes import ROOM_TICKS, rule_ticks
from wheelwork.folders import find_folder
from wheelwork.judge.charge_words import say_coulombs
from wheelwork.judge.link_words import say_mixed, say_part, say_time
from wheelwork.pages.links_rows import SettingsView
from wheelwork.pages.names import page_names
from wheelwork.pages.rows import HeadView, RowView, SettingView
from wheelwork.pages.standing import Standing
from wheelwork.pages.words import say_clock

MOST_KEPT = 4000


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
    made.globals |= {
        "pages": page_names(),
        "draw_rule": draw_rule,
        "draw_axis": draw_axis,
        "draw_head": draw_head,
        "draw_row": draw_row,
        "draw_setting": draw_setting,
        "draw_standing": draw_standing,
        "draw_key": draw_key,
        "draw_settings": draw_settings,
        "say_mixed": say_mixed,
        "say_part": say_part,
        "say_time": say_time,
        "say_coulombs": say_coulombs,
        "say_clock": say_clock,
    }
    return made


@cache
def template(name: str) -> Template:
    """A template by name, compiled once."""
    return environment().get_template(name)


@cache
def macro(name: str, which: str) -> Callable[..., Markup]:
    """A macro of a template: called from here it costs a third of a template of its own."""
    found: Callable[..., Markup] = getattr(template(name).module, which)
    return found


@cache
def draw_rule() -> Markup:
    """The logarithmic rule under the page names."""
    return macro("_parts.html", "rule")(rule_ticks())


@cache
def draw_key() -> Markup:
    """The key to the marks."""
    return macro("plan/_frame.html", "key_to_marks")()


@lru_cache(maxsize=200)
def draw_axis(axis: Axis) -> Markup:
    """The head of the rows with the axes of the lanes and of the room."""
    return macro("plan/_frame.html", "axis_head")(axis.ticks(), ROOM_TICKS)


@lru_cache(maxsize=MOST_KEPT)
def draw_head(head: HeadView) -> Markup:
    """The head of a group."""
    return macro("plan/_frame.html", "group_head")(head)


def draw_row(row: RowView) -> Markup:
    """A row; one below which nothing opens is drawn once."""
    for_once = row.opens or row.setting.typed
    return macro("plan/_row.html", "whole_row")(row) if for_once else _draw_plain_row(row)


@lru_cache(maxsize=MOST_KEPT)
def _draw_plain_row(row: RowView) -> Markup:
    return macro("plan/_row.html", "whole_row")(row)


def draw_setting(setting: SettingView) -> Markup:
    """A row's name and controls; the same setting is drawn once."""
    return macro("plan/_setting.html", "setting")(setting) if setting.typed else _draw_plain_setting(setting)


@lru_cache(maxsize=MOST_KEPT)
def _draw_plain_setting(setting: SettingView) -> Markup:
    return macro("plan/_setting.html", "setting")(setting)


@lru_cache(maxsize=MOST_KEPT)
def draw_standing(standing: Standing) -> Markup:
    """A row's figure, lane, room and verdict; the same standing is drawn once."""
    return macro("plan/_standing.html", "standing")(standing)


@cache
def _family_macros(family: str) -> Any:
    """The macros for a family of links: its own template where it has one, else the plain one."""
    return environment().select_template([f"links/{family}.html", "links/_plain.html"]).module


def draw_settings(which: str, shown: SettingsView) -> Markup:
    """A link's settings in its family's words: `chosen` with their signs, `beside` what follows from them."""
    found: Markup = getattr(_family_macros(shown.family), which)(shown.settings, shown.told, shown.offers)
    return found


def wants_fragment(request: Request) -> bool:
    """Whether the request comes from htmx and wants only the part that changed."""
    return request.headers.get("hx-request") == "true"


def render(
    page_template: str, /, status: int = 200, headers: dict[str, str] | None = None, **context: Any
) -> HTMLResponse:
    """A page or a fragment; what UTF-8 cannot write becomes a question mark."""
    text = template(page_template).render(**context)
    return HTMLResponse(text.encode("utf-8", "replace"), status, headers)
