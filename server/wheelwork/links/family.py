"""What every family of rates has: how it reads its generator and what is asked, and its choices, the best first.

A family is one module in this folder with a `FAMILY`. It knows a clock by its nominal frequency and tolerance only.
Adding one touches nothing else (DEVELOPERS.md).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, ClassVar, Generic, Literal, TypeVar

from wheelwork.findings import Severity
from wheelwork.links.fields import Fields
from wheelwork.quantities.spans import Span

Verdict = Literal["inside", "tight", "over", "under", "none fits"]
Told = Fraction | int | str | None
"""A value in an answer: exact numbers as Fraction, counts and settings as int, words as str."""
Setting = Told | Mapping[str, Told]
"""What firmware sets: a value, or a table of them where one part of the hardware is set like another."""


@dataclass(frozen=True, slots=True)
class Feed:
    """The clock that feeds a generator: hertz, and its tolerance as shares."""

    nominal: Fraction
    tolerance: Span


@dataclass(frozen=True, slots=True)
class Allowance:
    """How far a rate may be off, as shares of the rate wanted (None: no limit on that side), and who says so."""

    lowest: Fraction | None
    highest: Fraction | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One way to set a generator. `settings` are what firmware sets, `told` what follows besides the rate.

    `rate` is in the family's unit (its docstring says which). `error` is the nominal rate's share off the wanted one,
    `error_lowest` and `error_highest` with the clock at the ends of its tolerance; None where nothing was wanted
    exactly. `allowance` is the choice's own where it is judged on another than the answer's: fewer samples a bit bear
    less. `missed` says what it misses besides the rate, each by how much (`low lasts 1.25 µs, 50 ns short of 1.3 µs`);
    of a tight one what the tolerance of the clock makes it miss.
    """

    settings: Mapping[str, Setting]
    rate: Fraction | None
    error: Fraction | None = None
    error_lowest: Fraction | None = None
    error_highest: Fraction | None = None
    verdict: Verdict = "inside"
    allowance: Allowance | None = None
    missed: tuple[str, ...] = ()
    told: Mapping[str, Told] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Remark:
    """A sentence worth knowing about a link (a caution, a note), with its source in `detail` where it has one."""

    severity: Severity
    what: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class LinkAnswer:
    """A family's answer: choices, the best first, the nearest even where none fits; the verdict is the best one's."""

    choices: tuple[Choice, ...]
    allowance: Allowance | None
    verdict: Verdict
    remarks: tuple[Remark, ...] = ()


G = TypeVar("G")
A = TypeVar("A")
MOST_CHOICES = 8


class Family(ABC, Generic[G, A]):
    """A family of rates. `title` is what people call it, `rule` the one formula, `rate_unit` the unit of its rate.

    `unit` is `Bd`, `bit/s`, `Hz`, `s` or the like. `standards` are names that `ask.standard` may have. `measured` tells
    how to see the rate on a board, of which an instrument then reads the share `shown` (common practice, no source).
    """

    name: ClassVar[str]
    title: ClassVar[str]
    rule: ClassVar[str]
    sources: ClassVar[tuple[str, ...]]
    rate_unit: ClassVar[str]
    standards: ClassVar[tuple[str, ...]] = ()
    measured: ClassVar[str] = ""
    shown: ClassVar[Fraction] = Fraction(1)

    @abstractmethod
    def read_generator(self, fields: Fields) -> G:
        """What the hardware offers; problems are gathered in `fields`."""

    @abstractmethod
    def read_ask(self, fields: Fields) -> A:
        """What is asked of it; problems are gathered in `fields`."""

    @abstractmethod
    def answer(self, feed: Feed, generator: G, ask: A) -> LinkAnswer:
        """The choices at a clock: complete, so that the nearest is provably the nearest; at most MOST_CHOICES."""

    def rule_of(self, choice: Choice) -> str:
        """The rule by which one choice comes to its rate, with names that are its settings'; most have one for all."""
        return self.rule

    def settle(self, feed: Feed, generator: G, ask: A, chosen: Mapping[str, Any], where: str) -> Choice:
        """The choice that a plan has made, judged as the family judges its own. Raises Refused where it is not offered.

        The default looks among all choices of `every`; a family with too many of them reckons the one.
        """
        raise NotImplementedError


def errors_of(rate: Fraction, wanted: Fraction, tolerance: Span) -> tuple[Fraction, Fraction, Fraction]:
    """Error of a rate as shares of the wanted one: nominal, with the clock lowest, with the clock highest.

    >>> [str(each) for each in errors_of(Fraction(9600), Fraction(9600), Span(Fraction(-1, 100), Fraction(1, 50)))]
    ['0', '-1/100', '1/50']
    """
    share = rate / wanted
    return share - 1, share * (1 + tolerance.lowest) - 1, share * (1 + tolerance.highest) - 1


def verdict_of(error: Fraction, lowest: Fraction, highest: Fraction, allowance: Allowance | None) -> Verdict:
    """The verdict on an error with its span: inside, past an edge on nominal, or tight: only the tolerance passes."""
    if allowance is None:
        return "inside"
    low, high = allowance.lowest, allowance.highest
    if high is not None and error > high:
        return "over"
    if low is not None and error < low:
        return "under"
    past = (high is not None and highest > high) or (low is not None and lowest < low)
    return "tight" if past else "inside"


def past_ends(lowest: Fraction, highest: Fraction, allowance: Allowance | None) -> tuple[Fraction, ...]:
    """Of the errors at both ends of a clock's tolerance those that are past the allowance, the lower one first.

    >>> [str(end) for end in past_ends(Fraction(-1, 10), Fraction(1, 20), Allowance(None, Fraction(1, 50), ""))]
    ['1/20']
    """
    ends = dict.fromkeys((lowest, highest))
    return tuple(end for end in ends if verdict_of(end, end, end, allowance) != "inside")


def used_share(error: Fraction, allowance: Allowance) -> Fraction | None:
    """How much of its allowance an error uses, with its sign; 1 is the wall. None where its side has no limit.

    Where a rate may be anything up to a most (no lower limit, the upper 0) it is the share of that most.

    >>> str(used_share(Fraction(-1, 100), Allowance(Fraction(-1, 50), Fraction(1, 50), "")))
    '-1/2'
    >>> str(used_share(Fraction(-1, 4), Allowance(None, Fraction(0), "")))
    '3/4'
    """
    if allowance.lowest is None and allowance.highest == 0:
        return 1 + error
    side = allowance.highest if error > 0 else allowance.lowest
    if side is None:
        return None
    if side == 0:
        return Fraction(0) if error == 0 else Fraction(2) * (1 if error > 0 else -1)
    return error / abs(side)


def best_verdict(choices: Sequence[Choice]) -> Verdict:
    """A link's verdict where nothing is chosen: that of the first choice, `none fits` where it is outside."""
    if not choices or choices[0].verdict in ("over", "under"):
        return "none fits"
    return choices[0].verdict
