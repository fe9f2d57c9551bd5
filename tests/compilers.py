"""The compilers that read what is handed over: found on the path or installed, never skipped in silence."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

PACKAGES = {
    "gcc": "gcc",
    "g++": "g++",
    "riscv64-unknown-elf-gcc": "gcc-riscv64-unknown-elf",
    "rustc": "rustc",
    "dtc": "device-tree-compiler",
    "sqlite3": "sqlite3",
    "ssconvert": "gnumeric",
}
"""Each program with the Debian package that has it; the last two read what is written for spreadsheets."""
WARNINGS = ("-Wall", "-Wextra", "-Wpedantic", "-Werror", "-fsyntax-only")
C = {
    "C99": ("gcc", "-x", "c", "-std=c99", *WARNINGS),
    "C11": ("gcc", "-x", "c", "-std=c11", *WARNINGS),
    "C17": ("gcc", "-x", "c", "-std=c17", *WARNINGS),
    "C++11": ("g++", "-x", "c++", "-std=c++11", *WARNINGS),
    "C++17": ("g++", "-x", "c++", "-std=c++17", *WARNINGS),
    "bare 32-bit target": (
        *("riscv64-unknown-elf-gcc", "-x", "c", "-march=rv32imac", "-mabi=ilp32", "-ffreestanding"),
        *WARNINGS,
    ),
}
"""Every way in which a header is compiled."""
RUST = ("rustc", "--edition=2018", "--crate-type=lib", "--emit=metadata", "-D", "warnings")


class NoCompiler(RuntimeError):
    """A compiler is not there and could not be installed."""


def need_compilers() -> None:
    """Sees to it that every program is on the path: those missing are installed where that can be done."""
    missing = [name for name in PACKAGES if shutil.which(name) is None]
    apt = shutil.which("apt-get")
    packages = [PACKAGES[name] for name in missing]
    if missing and apt and os.geteuid() == 0:
        print(f"tests: not found: {', '.join(missing)}; installing Debian's {', '.join(packages)}", file=sys.stderr)
        subprocess.run([apt, "update", "-qq"], check=False)
        line = [apt, "install", "-y", "-qq", "--no-install-recommends", *packages]
        subprocess.run(line, check=False, stdout=subprocess.DEVNULL)
        missing = [name for name in PACKAGES if shutil.which(name) is None]
    if missing:
        raise NoCompiler(
            f"not on the path: {', '.join(missing)}. On Debian, as root: apt-get install "
            f"{' '.join(PACKAGES[name] for name in missing)}; elsewhere put programs of these names on the path"
        )


def run_tool(*line: str, given: str | None = None) -> tuple[int, str]:
    """The exit status of a program, and all that it said."""
    done = subprocess.run(line, input=given, capture_output=True, text=True, check=False, timeout=100)
    return done.returncode, done.stdout + done.stderr
