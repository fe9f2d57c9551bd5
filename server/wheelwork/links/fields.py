"""Reading what a generator offers and what is asked of it: key by key, every problem gathered with its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Any, TypeVar

from wheelwork.findings import Problem, Unreadable, name_list, nearest, quote
from wheelwork.quantities.ratios import RatioSet, read_ratios
from wheelwork.quantities.units import RATE, SHARE, Unit, read_quantity

T = TypeVar("T")
LONGEST = 60


class Refused(ValueError):
    """What was given cannot be taken; all problems together."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(problem.sentence() for problem in problems))
        self.problems = problems


class Fields:
    """A table of raw values at a place. Read keys with `take` and its like, then call `finish`."""

    def __init__(self, raw: object, where: str) -> None:
        self.where = where
        self.problems: list[Problem] = []
        self.raw: Mapping[str, Any] = {}
        if isinstance(raw, Mapping):
            self.raw = raw
        else:
            self.problems.append(Problem(where, f"{quote(raw)} is no table", "write keys with their values"))
        self.known: list[str] = []
        self.offered: dict[str, tuple[str, ...]] = {}
        """The words that may stand at a key where only some may, for a form that offers them."""

    def take(self, key: str, read: Callable[[Any], T], default: T) -> T:
        """A value read by `read` (which raises Unreadable), the default where the key is left out or unreadable."""
        self.known.append(key)
        if key not in self.raw:
            return default
        try:
            return read(self.raw[key])
        except Unreadable as fault:
            self.problems.append(fault.at(f"{self.where}.{key}"))
            return default

    def need(self, key: str, read: Callable[[Any], T], example: str) -> T | None:
        """A value that must be given."""
        if key not in self.raw:
            self.known.append(key)
            self.problems.append(Problem(f"{self.where}.{key}", "is missing", f"write {example}"))
            return None
        return self.take(key, read, None)

    def pick(self, key: str, offered: RatioSet, example: str) -> int | None:
        """A whole number that a plan has chosen among those offered; it must be given."""
        return self.need(key, lambda raw: read_offered(raw, offered), example)

    def ratios(self, key: str, default: RatioSet | None = None) -> RatioSet | None:
        """A ratio set: `1..65535`, `[8, 16]`; must be given where there is no default."""
        if default is None:
            return self.need(key, read_ratios, '"1..65535" or [8, 16]')
        return self.take(key, read_ratios, default)

    def counts(self, key: str, default: RatioSet | None = None, most: int | None = None) -> RatioSet | None:
        """A ratio set of whole numbers, at most so many where each is tried."""

        def read(raw: Any) -> RatioSet:
            offered = read_ratios(raw)
            if any(run.first.denominator != 1 for run in offered.runs):
                raise Unreadable(f"{quote(raw)} holds a fraction", 'write whole numbers: "1..65535" or [8, 16]')
            if most is not None and offered.size > most:
                raise Unreadable(f"{quote(raw)} offers {offered.size} numbers", f"at most {most} may be offered here")
            return offered

        if default is None:
            return self.need(key, read, '"1..65535" or [8, 16]')
        return self.take(key, read, default)

    def quantity(self, key: str, kind: Unit, default: Fraction | None = None) -> Fraction | None:
        """A quantity of a kind, above zero."""
        return self.take(key, lambda raw: _positive(raw, kind), default)

    def rate(self, key: str = "rate", default: Fraction | None = None) -> Fraction | None:
        """A rate in Bd or bit/s, above zero."""
        return self.quantity(key, RATE, default)

    def share(self, key: str, default: Fraction | None = None) -> Fraction | None:
        """A share above 0 % and below 100 %."""

        def read(raw: Any) -> Fraction:
            value = read_quantity(raw, SHARE)
            if not 0 < value < 1:
                raise Unreadable(f"{quote(raw)} is no share in between", "write one above 0 % and below 100 %")
            return value

        return self.take(key, read, default)

    def whole(self, key: str, least: int, most: int, default: int | None = None) -> int | None:
        """A whole number in a range."""

        def read(raw: Any) -> int:
            if isinstance(raw, bool) or not isinstance(raw, int) or not least <= raw <= most:
                raise Unreadable(f"{quote(raw)} is not allowed here", f"a whole number from {least} to {most} is")
            return raw

        return self.take(key, read, default)

    def word(self, key: str, offered: tuple[str, ...], default: str | None = None) -> str | None:
        """One of some words; the nearest is offered where it is another."""
        self.offered[key] = offered

        def read(raw: Any) -> str:
            if not isinstance(raw, str) or raw not in offered:
                like = nearest(raw, offered) if isinstance(raw, str) else None
                offer = f"did you mean {like}? " if like else ""
                raise Unreadable(f"{quote(raw)} is not known here", f"{offer}{_allowed(offered)}")
            return raw

        return self.take(key, read, default)

    def finish(self) -> None:
        """Complain of keys that nobody asked for. Raises Refused with all problems."""
        for key in self.raw:
            if key not in self.known:
                known = list(dict.fromkeys(self.known))
                like = nearest(str(key), known)
                offer = f"did you mean {like}? " if like else ""
                allowed = f"{offer}{_allowed(known)}"
                self.problems.append(Problem(f"{self.where}.{key}", f"{quote(key)} is no key here", allowed))
        if self.problems:
            raise Refused(self.problems)


def _allowed(names: Sequence[str]) -> str:
    return f"{name_list(names)} {'is' if len(names) == 1 else 'are'}"


def _positive(raw: Any, kind: Unit) -> Fraction:
    value = read_quantity(raw, kind)
    if value <= 0:
        raise Unreadable(f"{quote(raw)} is not above zero", f"write one above zero, such as {kind.example}")
    return value


def read_number_of(raw: object) -> Fraction:
    """A setting's value: a whole number, or a ratio written as `"139/8"`. Raises Unreadable."""
    if isinstance(raw, int | Fraction) and not isinstance(raw, bool):
        return Fraction(raw)
    if isinstance(raw, str) and len(raw) <= LONGEST:
        try:
            return Fraction(raw)
        except (ValueError, ZeroDivisionError):
            pass
    raise Unreadable(f"{quote(raw)} is no number", 'write one such as 16 or "139/8"')


def read_offered(raw: object, offered: RatioSet) -> int:
    """A whole number that a plan has chosen. Raises Unreadable where it is not among those offered."""
    value = read_number_of(raw)
    if value not in offered:
        raise Unreadable(f"{quote(raw)} is not offered", f"{offered.words()} are")
    return int(value)
