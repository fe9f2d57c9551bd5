"""This room is the only door to sympy: nobody else imports it, it opens late, no text is read beyond it."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import wheelwork

PACKAGE = Path(wheelwork.__file__).parent
READERS = {"sympify", "parse_expr", "parse_mathematica", "parse_latex", "S", "lambdify"}
"""What in sympy turns text into code."""


def sympy_users() -> set[str]:
    """The modules that import sympy anywhere."""
    return {str(path.relative_to(PACKAGE)) for path in PACKAGE.rglob("*.py") if "sympy" in imported(path)}


def imported(path: Path) -> set[str]:
    nodes = ast.walk(ast.parse(path.read_text("utf-8")))
    names = [name for node in nodes if isinstance(node, ast.Import | ast.ImportFrom) for name in names_of(node)]
    return {name.partition(".")[0] for name in names}


def names_of(node: ast.Import | ast.ImportFrom) -> list[str]:
    return [alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""]


def loads_sympy(code: str) -> bool:
    """Whether a fresh interpreter has sympy loaded after some code."""
    script = f"import sys\nsys.path.insert(0, {str(PACKAGE.parent)!r})\n{code}\nprint('sympy' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return ran.stdout.strip() == "True"


SETTING_UP = """
from fractions import Fraction
from wheelwork.formulas import Chain, Factor, Link, draw, evaluate
chain = Chain("crystal", Fraction(8), (Link("tap", (Factor("D", Fraction(3), "tap"),)),))
"""


def test_one_module_imports_sympy() -> None:
    assert sympy_users() == {"formulas/equations.py"}


def test_the_room_and_its_drawers_open_without_sympy() -> None:
    assert not loads_sympy(SETTING_UP + "draw(chain)")


def test_algebra_opens_the_door() -> None:
    assert loads_sympy(SETTING_UP + "evaluate(chain)")


def test_the_application_starts_without_sympy() -> None:
    assert not loads_sympy(
        "import wheelwork.app\nfrom wheelwork.settings import Settings\nwheelwork.app.make_app(Settings())"
    )


def test_nothing_is_given_to_a_reader_of_text() -> None:
    tree = ast.parse((PACKAGE / "formulas" / "equations.py").read_text("utf-8"))
    used = {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
    used |= {n.id for n in ast.walk(tree) if isinstance(n, ast.Name)}
    assert "Symbol" in used
    assert not used & READERS
