"""The Rust constants: compiled without std and without a warning, and proof against a digit changed by hand."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.compilers import RUST, run_tool
from tests.handover.plans import NAMES, judged, with_titles, written
from tests.handover.test_c_header import NASTY
from wheelwork.handover import c_header, rust
from wheelwork.handover.forms import Wish, forms


def compile_modules(folder: Path, modules: dict[str, str]) -> tuple[int, str]:
    """What rustc says of a crate without std that has these modules."""
    for name, text in modules.items():
        (folder / f"{name}.rs").write_text(text)
    root = folder / "root.rs"
    root.write_text("#![no_std]\n" + "".join(f"mod {name};\n" for name in modules))
    return run_tool(*RUST, "--out-dir", str(folder), str(root))


def test_every_plan_compiles_without_std_and_without_a_warning(tmp_path: Path) -> None:
    modules = {
        f"m{place}_{'with' if reasons else 'without'}": written(name, "rust", reasons=reasons)
        for place, name in enumerate(NAMES)
        for reasons in (True, False)
    }
    modules["small"] = written("walk", "rust", "clock_")
    assert compile_modules(tmp_path, modules) == (0, "")


def test_nasty_titles_compile_without_a_warning(tmp_path: Path) -> None:
    modules = {
        f"m{place}": forms()["rust"].write(with_titles(judged("walk"), NASTY[place:] + NASTY[:place]), Wish())
        for place in range(len(NASTY))
    }
    assert compile_modules(tmp_path, modules) == (0, "")


@pytest.mark.parametrize("name", NAMES)
def test_the_values_are_those_of_the_c_header(name: str) -> None:
    assert rust.read_constants(written(name, "rust")) == c_header.read_constants(written(name, "c"))


def test_numbers_past_32_bits_are_of_64() -> None:
    """11 560 546 875 is above 2^32 - 1 = 4 294 967 295."""
    text = written("03-fog-signal-44k1", "rust", reasons=False)
    assert re.search(r"^pub const PLAN_AUDIO_HZ_NUMERATOR: +u64 = 11_560_546_875;", text, re.M)
    assert re.search(r"^pub const PLAN_CORE_HZ: +u32 = 132_000_000;", text, re.M)


def edited(text: str) -> Iterator[tuple[str, str]]:
    """The module once for each constant, with its last digit one higher."""
    for found in re.finditer(r"^pub const PLAN_(\w+): +u\d\d = ([\d_]*)(\d);", text, re.M):
        raised = str((int(found[3]) + 1) % 10)
        yield found[1], text[: found.start(3)] + raised + text[found.end(3) :]


@pytest.mark.parametrize("name", ["01-skerry-3-steady-running", "fraction"])
def test_a_digit_changed_in_a_checked_value_fails_to_compile(tmp_path: Path, name: str) -> None:
    """Each edited module is told apart by its file; wait states may be more than are needed."""
    edits = list(edited(written(name, "rust", reasons=False)))
    status, said = compile_modules(tmp_path, {f"m{number}": text for number, (_, text) in enumerate(edits)})
    refused = {int(number) for number in re.findall(r"--> \S*/m(\d+)\.rs", said)}
    assert status == 1
    assert {constant for number, (constant, _) in enumerate(edits) if number not in refused} == {"FLASH_WAIT_STATES"}
