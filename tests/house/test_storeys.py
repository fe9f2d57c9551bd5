"""The storeys: a room imports only from rooms below it, and the lower ones know nothing of the world."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.tree import PACKAGE, imports_in, imports_of, modules, room_of
from wheelwork import STOREYS

HEIGHT = {room: height for height, storey in enumerate(STOREYS) for room in storey}
DOOR = "__main__"  # `python -m wheelwork` stands before the house, not in it
PURE = frozenset(room for room, height in HEIGHT.items() if height < HEIGHT["folders"])
WORLD = frozenset(
    {
        "asyncio",
        "datetime",
        "fastapi",
        "http",
        "io",
        "jinja2",
        "os",
        "pathlib",
        "random",
        "secrets",
        "shutil",
        "socket",
        "sqlalchemy",
        "sqlite3",
        "starlette",
        "subprocess",
        "sys",
        "tempfile",
        "threading",
        "time",
        "urllib",
        "uuid",
        "uvicorn",
    }
)
WORLDLY_CALLS = frozenset({"eval", "exec", "input", "open", "print"})


def rooms_in(imported: set[str]) -> set[str]:
    """The rooms among imported names: `wheelwork.clocks.propagate.Clock` lies in `clocks`."""
    names = {name.split(".")[1] for name in imported if name.startswith("wheelwork.")}
    return {name for name in names if (PACKAGE / name).is_dir() or (PACKAGE / f"{name}.py").is_file()}


def not_below(room: str, imported: set[str]) -> set[str]:
    """The rooms among imported names that a room must not import: those not below it, itself excepted."""
    return {other for other in rooms_in(imported) - {room} if HEIGHT[other] >= HEIGHT[room]}


def worldly(tree: ast.AST) -> set[str]:
    """What a piece of code has of the world: modules for files, clock, chance and net, and calls that reach out."""
    called = {node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    return {name.split(".")[0] for name in imports_in(tree)} & WORLD | called & WORLDLY_CALLS


def imports_at_the_top(tree: ast.Module) -> set[str]:
    """The names imported as soon as a module is."""
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    waiting = {node for function in functions for node in ast.walk(function)}
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    return set().union(*(imports_in(node) for node in imports if node not in waiting))


def of(paths: list[Path]) -> pytest.MarkDecorator:
    """A test for each of some modules, named after it."""
    return pytest.mark.parametrize("module", paths, ids=lambda path: path.relative_to(PACKAGE).as_posix())


def test_every_room_stands_on_a_storey() -> None:
    entries = [entry for entry in PACKAGE.iterdir() if entry.suffix == ".py" or (entry / "__init__.py").is_file()]
    assert {room_of(entry) for entry in entries} - {"", DOOR} <= set(HEIGHT)


def test_no_storey_names_a_room_twice() -> None:
    assert len(HEIGHT) == sum(len(storey) for storey in STOREYS)


@of([path for path in modules() if room_of(path) not in ("", DOOR)])
def test_a_room_imports_only_from_rooms_below_it(module: Path) -> None:
    assert not_below(room_of(module), imports_of(module)) == set()


def test_the_package_itself_imports_no_room() -> None:
    assert rooms_in(imports_of(PACKAGE / "__init__.py")) == set()


@of([path for path in modules() if room_of(path) in PURE])
def test_below_the_papers_there_is_no_web_file_clock_or_chance(module: Path) -> None:
    assert worldly(ast.parse(module.read_text())) == set()


@of(modules())
def test_sympy_is_behind_one_door_and_opened_only_when_asked(module: Path) -> None:
    tree = ast.parse(module.read_text())
    assert room_of(module) == "formulas" or not any(name.split(".")[0] == "sympy" for name in imports_in(tree))
    assert not {name.split(".")[0] for name in imports_at_the_top(tree)} & {"sympy", "numpy"}


def test_starting_the_application_loads_neither_sympy_nor_numpy() -> None:
    look = "print(*{'sympy', 'numpy', 'wheelwork.judge'} & set(sys.modules))"
    code = f"import sys, wheelwork.app; wheelwork.app.make_app(); {look}"
    asked = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert asked.stdout.split() == ["wheelwork.judge"]


class TestTheRulesBite:
    """Each rule refuses an example made to break it."""

    @pytest.mark.parametrize(
        ("room", "code", "refused"),
        [
            ("clocks", "from wheelwork.pages import plan", {"pages"}),
            ("clocks", "from wheelwork import judge", {"judge"}),
            ("clocks", "def late():\n    import wheelwork.app", {"app"}),
            ("formulas", "from wheelwork.charts.axis import Axis", {"charts"}),
            ("clocks", "from wheelwork.part.nodes import Part\nfrom wheelwork.clocks import verdicts", set()),
        ],
    )
    def test_an_import_upwards_or_sideways_is_refused(self, room: str, code: str, refused: set[str]) -> None:
        assert not_below(room, imports_in(ast.parse(code))) == refused

    @pytest.mark.parametrize(
        ("code", "has"),
        [
            ("from pathlib import Path", {"pathlib"}),
            ("from time import monotonic", {"time"}),
            ("import jinja2.sandbox", {"jinja2"}),
            ("text = open('part.toml').read()", {"open"}),
            ("import tomllib, math", set()),
        ],
    )
    def test_a_look_at_the_world_is_seen(self, code: str, has: set[str]) -> None:
        assert worldly(ast.parse(code)) == has

    def test_an_import_at_the_top_is_told_from_one_that_waits(self) -> None:
        code = "import sympy\nif sympy:\n    import numpy\ndef late():\n    import math"
        assert imports_at_the_top(ast.parse(code)) == {"sympy", "numpy"}
