"""Templates and scripts keep to the content security policy: no script and no style inside the markup."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.house.tree import ROOT, files

TEMPLATES = [path for path in files(ROOT / "templates") if path.suffix == ".html"]
REFUSED = {
    "a script inside the page": re.compile(r"<script(?![^>]*\bsrc=)", re.I),
    "a style element": re.compile(r"<style\b", re.I),
    "a style attribute": re.compile(r"\sstyle\s*=", re.I),
    "a handler in an attribute": re.compile(r"\son[a-z]+\s*=", re.I),
    "hx-on": re.compile(r"\bhx-on\b", re.I),
    "a value that htmx would run": re.compile(r"\bjs:|\bjavascript:", re.I),
    "a filter in a trigger": re.compile(r"""\bhx-trigger(?::\w+)?\s*=\s*(["'])(?:(?!\1).)*\["""),
    "an address elsewhere": re.compile(r"""\b(?:src|href|action)\s*=\s*["']?(?:https?:)?//""", re.I),
    "markup taken on trust": re.compile(r"\|\s*safe\b|\bautoescape\s+false\b"),
}


def faults(text: str) -> list[str]:
    """What in a template the policy would stop."""
    return [what for what, pattern in REFUSED.items() if pattern.search(text)]


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_template_holds_nothing_that_the_policy_stops(template: Path) -> None:
    assert faults(template.read_text()) == []


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("<script>go()</script>", "a script inside the page"),
        ('<script type="module">', "a script inside the page"),
        ("<style>", "a style element"),
        ('<p class="a" style="color:red">', "a style attribute"),
        ('<a href="#" onclick="go()">', "a handler in an attribute"),
        ('<p hx-on:click="go()">', "hx-on"),
        ("<p hx-vals='js:{a: 1}'>", "a value that htmx would run"),
        ('<p hx-trigger="click[event.ctrlKey]">', "a filter in a trigger"),
        ('<link href="//elsewhere.example/a.css">', "an address elsewhere"),
        ("{{ name | safe }}", "markup taken on trust"),
    ],
)
def test_each_refusal_bites(text: str, fault: str) -> None:
    assert faults(text) == [fault]


def test_what_is_allowed_is_let_through() -> None:
    text = '<script src="/static/a.js" defer></script><form hx-trigger="input delay:200ms"><a href="/plan">one</a>'
    assert faults(text) == []


def test_every_static_file_that_a_template_names_is_there() -> None:
    named = {name for path in TEMPLATES for name in re.findall(r"/(static/[\w./-]+)", path.read_text())}
    assert named
    assert [name for name in sorted(named) if not (ROOT / name).is_file()] == []
