"""The repository as the house tests read it: its visible entries, its files, its modules and what they import."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "server" / "wheelwork"


def is_ignored(name: str) -> bool:
    """True for a name that .gitignore keeps out of the repository."""
    lines = (ROOT / ".gitignore").read_text().split()
    return any(fnmatch(name, line.rstrip("/")) for line in lines)


def files(folder: Path = ROOT) -> Iterator[Path]:
    """Every file that belongs to the repository, at any depth; git's own folder is left out."""
    for entry in sorted(folder.iterdir()):
        if entry.name == ".git" or is_ignored(entry.name):
            continue
        if entry.is_dir():
            yield from files(entry)
        else:
            yield entry


def modules() -> list[Path]:
    """Every module of the package."""
    return [path for path in files(PACKAGE) if path.suffix == ".py"]


def room_of(module: Path) -> str:
    """The room a module stands in: the first name below the package, empty for the package itself."""
    name = module.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return "" if name == "__init__" else name


def imports_in(tree: ast.AST) -> set[str]:
    """The full names that a piece of code imports, wherever in it: `from a import b` gives `a.b`."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports inside the package are written in full"
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return found


def imports_of(module: Path) -> set[str]:
    """The full names that a module imports."""
    return imports_in(ast.parse(module.read_text()))
