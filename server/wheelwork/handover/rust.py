"""The Rust constants: a module without `std`, for rustc 1.57 and later, where `assert!` may stand in a constant.

Put the file beside the crate's root and write `mod` with its name. Source: The Rust Reference, chapter Constant
evaluation; a sum past 64 bits in a constant is an error of its own there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from wheelwork.handover.constants import Check, Constant
from wheelwork.handover.forms import Form, Wish
from wheelwork.handover.listing import Dialect, joined, list_all, list_blocks, list_checks, list_head
from wheelwork.handover.safe import WIDTH
from wheelwork.handover.values import take_values
from wheelwork.judge import Judgement

LARGEST_U32 = 2**32 - 1
_DEFINED = re.compile(r"^pub const (\w+): +u(?:32|64) = ([\d_]+);", re.M | re.ASCII)


class Rust(Dialect):
    """Rust."""

    def __init__(self, prefix: str, values: dict[str, int]) -> None:
        super().__init__(prefix)
        self.values = values

    def comment(self, lines: list[str]) -> Iterable[str]:
        """A comment of some lines."""
        return [f"// {line}" for line in lines]

    def remark(self, text: str) -> str:
        """A comment at the end of a line."""
        return f"// {text}"

    def constant(self, constant: Constant, width: int) -> str:
        """A constant of 32 bits, or of 64 where it needs them."""
        kind = "u32" if constant.value <= LARGEST_U32 else "u64"
        return f"pub const {self.name(constant.name) + ':':<{width + 1}} {kind} = {self.number(constant.value)};"

    def check(self, check: Check, conditions: list[str]) -> Iterable[str]:
        """A constant that cannot be worked out where a condition does not hold."""
        says = check.says.replace(check.name, self.name(check.name), 1)
        holds = joined(conditions, WIDTH).removeprefix("\n    ")
        return ["const _: () = assert!(", f"    {holds},", f'    "{says}"', ");"]

    def number(self, value: int, wide: bool = False) -> str:
        """A number in groups of three."""
        return f"{value:_}"

    def wide(self, name: str, first: bool = True) -> str:
        """A constant in 64 bits."""
        return self.name(name) if self.values[name] > LARGEST_U32 else f"{self.name(name)} as u64"


def _write(judgement: Judgement, wish: Wish) -> str:
    handed = take_values(judgement)
    dialect = Rust(wish.prefix, {constant.name: constant.value for constant in handed.constants})
    allowed = "dead_code" if wish.prefix.isupper() else "dead_code, non_upper_case_globals"
    return list_all(
        list_head(handed, dialect),
        [f"#![allow({allowed})]"],
        list_blocks(handed, dialect, wish.reasons),
        ["", *dialect.comment(["Checked when compiled: each frequency again from what feeds it, in whole numbers."])],
        list_checks(handed, dialect),
    )


def read_constants(text: str) -> dict[str, str]:
    """The constants of a module by their names."""
    return {name: value.replace("_", "") for name, value in _DEFINED.findall(text)}


FORM = Form(
    name="rust",
    title="Rust constants",
    about="the same constants and checks for Rust without std",
    media_type="text/x-rust; charset=utf-8",
    ending="rs",
    place=20,
    write=_write,
    named=True,
    reasoned=True,
    read_constants=read_constants,
)
