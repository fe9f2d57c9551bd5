"""Every module, class and function that others may call says what it gives."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.tree import PACKAGE, modules

Scope = ast.Module | ast.ClassDef
Documented = Scope | ast.FunctionDef | ast.AsyncFunctionDef


def open_to_others(scope: Scope) -> Iterator[Documented]:
    """A module with its public classes and functions, and their public methods."""
    yield scope
    for node in scope.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from open_to_others(node)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not node.name.startswith("_"):
            yield node


def silent(tree: ast.Module) -> list[str]:
    """The names of what is open to others and says nothing."""
    return [getattr(node, "name", "the module") for node in open_to_others(tree) if not ast.get_docstring(node)]


@pytest.mark.parametrize("module", modules(), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_what_is_open_to_others_says_what_it_gives(module: Path) -> None:
    assert silent(ast.parse(module.read_text())) == []


def test_silence_is_heard() -> None:
    code = "class Part:\n    def nodes(self): ...\n    def _hidden(self): ...\ndef read(): ...\ndef _look(): ..."
    assert silent(ast.parse(code)) == ["the module", "Part", "nodes", "read"]
