"""How forms for compilers lay out what is handed over: comments, constants in columns, checks; the signs are theirs.

A `Dialect` says how a language writes a constant, a comment and a condition. Reasons may be left out; what stands
outside its window, what is rounded and what could not be written or checked is told in any case.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator

from wheelwork.handover.constants import AtLeast, Balance, Block, Check, Constant, HandedOver, Pinned, Rounding, Term
from wheelwork.handover.safe import cut, in_comment, wrapped

ALWAYS = ("rounded, not exact",)
"""Notes that are no reasons."""
MADE = "Made by Wheelwork from the plan; a frequency or ratio changed by hand no longer compiles."


class Dialect(ABC):
    """A language's way to write what is handed over; `prefix` stands before every name."""

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix

    @abstractmethod
    def comment(self, lines: list[str]) -> Iterable[str]:
        """A comment of some lines, each safe already."""

    @abstractmethod
    def remark(self, text: str) -> str:
        """A comment at the end of a line."""

    @abstractmethod
    def constant(self, constant: Constant, width: int) -> str:
        """A constant; names take `width` columns."""

    @abstractmethod
    def check(self, check: Check, conditions: list[str]) -> Iterable[str]:
        """A check of conditions that must all hold."""

    @abstractmethod
    def number(self, value: int, wide: bool = False) -> str:
        """A whole number; wide: of 64 bits, whatever its size."""

    @abstractmethod
    def wide(self, name: str, first: bool = True) -> str:
        """A constant as a number of 64 bits; one that is not the first of a product may leave that to the first."""

    def name(self, name: str) -> str:
        """A constant's whole name."""
        return self.prefix + name


def list_head(handed: HandedOver, dialect: Dialect) -> Iterator[str]:
    """The comment at the top: the plan, its part and board, and what stands outside."""
    told = [cut(handed.title), *handed.about, *(f"NOTICE: {notice}" for notice in handed.notices), MADE]
    yield from dialect.comment([line for text in told for line in wrapped(cut(text, 400))])


def list_blocks(handed: HandedOver, dialect: Dialect, reasons: bool) -> Iterator[str]:
    """All constants, block by block."""
    width = max((len(dialect.name(constant.name)) for constant in handed.constants), default=0)
    group = ""
    for block in handed.blocks:
        if reasons and block.group != group:
            yield from ("", *dialect.comment([in_comment(f"{block.group}:")]))
        group = block.group
        comment = list(_block_lines(block, dialect, reasons))
        if reasons:
            yield ""
        if comment:
            yield from dialect.comment(comment)
        for constant in block.constants:
            yield dialect.constant(constant, width) + _remark(constant, dialect, reasons)


def _block_lines(block: Block, dialect: Dialect, reasons: bool) -> Iterator[str]:
    told = [f"{cut(block.title, 100)}: {' '.join(block.reasons)}".strip(": ")] if reasons else []
    outside = [f"{cut(block.title, 100)}: {notice}" for notice in block.notices]
    left_out = [dialect.name(text) for text in block.left_out]
    for text in (*told, *outside, *left_out):
        yield from wrapped(cut(text, 1000))


def _remark(constant: Constant, dialect: Dialect, reasons: bool) -> str:
    note = constant.note if reasons or constant.note in ALWAYS else ""
    said = "; ".join(each for each in (constant.notice, note) if each)
    return f"  {dialect.remark(in_comment(cut(said, 200)))}" if said else ""


def list_checks(handed: HandedOver, dialect: Dialect) -> Iterator[str]:
    """All checks."""
    for check in handed.checks:
        yield from dialect.check(check, list(_conditions(check, dialect)))


def _conditions(check: Check, dialect: Dialect) -> Iterator[str]:
    match check:
        case Balance(_, _, left, right):
            yield f"{_side(left, dialect)} == {_side(right, dialect)}"
            for term in (each for each in (*left, *right) if each.divisor != 1):
                divisor = dialect.number(term.divisor, wide=True)
                yield f"{_bare(term, dialect, first=False)} % {divisor} == {dialect.number(0)}"
        case Rounding(name, _, above, below):
            half = f"{dialect.wide(below, first=False)} / {dialect.number(2)}"
            rounded = f"({dialect.wide(above)} + {half}) / {dialect.wide(below, first=False)}"
            yield f"{rounded} == {dialect.wide(name, first=False)}"
        case Pinned(_, _, values):
            for name, value in values:
                yield f"{dialect.name(name)} == {dialect.number(value)}"
        case AtLeast(name, _, least):
            yield f"{dialect.name(name)} >= {dialect.number(least)}"


def _side(terms: tuple[Term, ...], dialect: Dialect) -> str:
    """A product of terms in 64 bits."""
    factors = [_factor(term, dialect, first=place == 0) for place, term in enumerate(terms)]
    return " * ".join(factors) or dialect.number(1, wide=True)


def _factor(term: Term, dialect: Dialect, first: bool) -> str:
    if term.divisor == 1:
        return _bare(term, dialect, first)
    return f"({_bare(term, dialect, first=False)} / {dialect.number(term.divisor, wide=True)})"


def _bare(term: Term, dialect: Dialect, first: bool) -> str:
    """A term without its divisor."""
    products = []
    for place, part in enumerate(term.parts):
        number = dialect.number(part.number, wide=True)
        times = f"{number} * " if part.name and part.number != 1 else ""
        opens = (first or len(term.parts) > 1) and place == 0 and not times
        products.append(f"{times}{dialect.wide(part.name, first=opens)}" if part.name else number)
    return products[0] if len(products) == 1 else f"({' + '.join(products)})"


def joined(conditions: list[str], width: int, indent: str = "    ") -> str:
    """Conditions that must all hold, on one line where they fit, else each on its own and a long one broken in two."""
    line = " && ".join(conditions)
    if len(line) <= width:
        return line
    broken = f"\n{indent}    == "
    short = [each if len(each) <= width else each.replace(" == ", broken) for each in conditions]
    return f"\n{indent}" + f"\n{indent}&& ".join(short)


def list_all(*parts: Iterable[str]) -> str:
    """The text of some parts, a line each, with the end of the last line."""
    text = "\n".join(line for part in parts for line in part)
    return "\n".join(line.rstrip() for line in text.split("\n")) + "\n"
