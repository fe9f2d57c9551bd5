"""What is handed over, as values that know no language: constants, the checks between them, and blocks of both.

A constant's name stands without the prefix. A check compares two products of whole numbers: each side is a product of
terms, and a term is a constant, a plain number, or a sum of such, perhaps divided by a number that divides it exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from wheelwork.clocks.verdicts import Judged

LARGEST = 2**64 - 1
"""What a constant can be: C99, C++11 and Rust have whole numbers of 64 bits, and none have larger ones."""
Kind = Literal["frequency", "ratio", "code", "input", "voltage", "wait states", "setting", "rate"]


@dataclass(frozen=True, slots=True)
class Constant:
    """A whole number under a name. `note` is a word on it, `notice` says what stands outside."""

    name: str
    value: int
    kind: Kind
    note: str = ""
    notice: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One product of a term: a number times a constant, or the number alone (`name` empty)."""

    number: int
    name: str = ""


@dataclass(frozen=True, slots=True)
class Term:
    """A sum of products, divided by a number that divides it without rest."""

    parts: tuple[Part, ...]
    divisor: int = 1


@dataclass(frozen=True, slots=True)
class Balance:
    """That two products are equal."""

    name: str
    says: str
    left: tuple[Term, ...]
    right: tuple[Term, ...]


@dataclass(frozen=True, slots=True)
class Rounding:
    """That a constant is the quotient of two others, rounded half up."""

    name: str
    says: str
    above: str
    below: str


@dataclass(frozen=True, slots=True)
class Pinned:
    """That constants belong together: a ratio, and the code that the sheet has for it."""

    name: str
    says: str
    values: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class AtLeast:
    """That a constant is not below a number above 0."""

    name: str
    says: str
    least: int


Check = Balance | Rounding | Pinned | AtLeast


@dataclass(frozen=True, slots=True)
class Block:
    """What belongs to one clock, to the core's supply or to one link.

    `of` is the node's id, `core_voltage`, or the link's title; `reasons` are sentences, `left_out` says what could not
    be written or checked, each beginning with the constant's name, `notices` what stands outside where no constant is
    there to say it beside. `judged` is the clock of a node, `verdict` that of a link, `group` the title above several
    blocks.
    """

    of: str
    title: str
    kind: str
    group: str = ""
    reasons: tuple[str, ...] = ()
    constants: tuple[Constant, ...] = ()
    checks: tuple[Check, ...] = ()
    left_out: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    judged: Judged | None = None
    verdict: str = ""


@dataclass(frozen=True, slots=True)
class HandedOver:
    """Everything that is handed over of a plan, in order. `notices` says what stands outside, one sentence each."""

    title: str
    about: tuple[str, ...]
    notices: tuple[str, ...]
    blocks: tuple[Block, ...]

    @property
    def constants(self) -> Iterator[Constant]:
        """All constants in order."""
        return (constant for block in self.blocks for constant in block.constants)

    @property
    def checks(self) -> Iterator[Check]:
        """All checks in order."""
        return (check for block in self.blocks for check in block.checks)


@dataclass(frozen=True, slots=True)
class Written:
    """An exact value as it was written: the constants above and below the stroke (`below` empty: it is whole)."""

    value: Fraction
    above: str
    below: str = ""


@dataclass
class Draft:
    """A block while it is made; `values` has every constant of the whole hand-over by name."""

    values: dict[str, int]
    constants: list[Constant] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    def add(self, name: str, value: int, kind: Kind, note: str = "") -> bool:
        """Add a constant; False where it is past 64 bits and so is only told."""
        if value > LARGEST:
            self.left_out.append(f"{name} is {value}, past 64 bits, and left out.")
            return False
        self.constants.append(Constant(name, value, kind, note))
        self.values[name] = value
        return True

    def check(self, check: Check | None, of: str) -> None:
        """Add a check, or say of what it had to be left out."""
        if check is None:
            self.left_out.append(f"{of} is not checked: the check does not fit into 64 bits.")
        else:
            self.checks.append(check)


def value_of(term: Term, values: Mapping[str, int]) -> Fraction:
    """The value of a term."""
    total = sum(part.number * (values[part.name] if part.name else 1) for part in term.parts)
    return Fraction(total, term.divisor)
