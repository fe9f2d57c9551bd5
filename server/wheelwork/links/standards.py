"""A standard known by name: what it asks, its source, one line for the page. Each family keeps a list of its own."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Unreadable, name_list, quote
from wheelwork.links.family import Allowance
from wheelwork.links.fields import Fields
from wheelwork.quantities.units import RATE, Unit, read_quantity, write_quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """A standard: its short name, the family it speaks of, the rate it fixes (None: any, or one of `rates`).

    `usual` is the rate where none is asked for, `slowest` and `fastest` the ends between which it may lie. `frame` is
    the character it fixes, such as `8N1`; `frames` are others that it knows as well. `mode` is
    the mode of a bus that it stands for.
    """

    name: str
    family: str
    title: str
    rate: Fraction | None = None
    rates: tuple[Fraction, ...] = ()
    usual: Fraction | None = None
    slowest: Fraction | None = None
    fastest: Fraction | None = None
    frame: str = ""
    frames: tuple[str, ...] = ()
    mode: str = ""
    allowance: Allowance | None = None
    line: str = ""


def take_standard(fields: Fields, known: Iterable[Standard]) -> Standard | None:
    """The standard that `standard` names among those known; None where it names none."""
    by_name = {each.name: each for each in known}
    return by_name.get(fields.word("standard", tuple(by_name)) or "")


def take_rate(fields: Fields, standard: Standard | None, key: str = "rate", kind: Unit = RATE) -> Fraction | None:
    """The rate asked for, above zero and one that the standard allows; the standard's own where none is asked for."""

    def read(raw: Any) -> Fraction:
        value = read_quantity(raw, kind)
        if value <= 0:
            raise Unreadable(f"{quote(raw)} is not above zero", f"write one above zero, such as {kind.example}")
        if standard is not None:
            _hold(standard, value, raw, kind)
        return value

    own = None if standard is None else standard.rate or standard.usual
    unknown = standard is None and "standard" in fields.raw
    if own is None and not unknown:
        return fields.need(key, read, f'a {kind.name} such as "{kind.example}"')
    return fields.take(key, read, own)


def hold_frame(standard: Standard | None, frame: str) -> None:
    """Raises Unreadable where a standard that fixes its character knows no such one, with those it knows."""
    if standard is None or not standard.frame or frame.strip().upper() in (standard.frame, *standard.frames):
        return
    known = [standard.frame, *standard.frames]
    write = f"write {'one of ' if standard.frames else ''}{name_list(known)}, or leave it out"
    raise Unreadable(f"{quote(frame)} is no frame of {standard.title}", write)


def _hold(standard: Standard, value: Fraction, raw: Any, kind: Unit) -> None:
    """Raises Unreadable where a standard does not know a rate, with those it knows."""
    fixed = standard.rates or ((standard.rate,) if standard.rate else ())
    if fixed and value not in fixed:
        allowed = name_list([write_quantity(each, kind) for each in fixed])
        raise Unreadable(
            f"{quote(raw)} is no rate of {standard.title}", f"{allowed} {'is' if len(fixed) == 1 else 'are'}"
        )
    if standard.slowest is not None and value < standard.slowest:
        raise Unreadable(
            f"{quote(raw)} is too slow for {standard.title}", f"from {write_quantity(standard.slowest, kind)} on"
        )
    if standard.fastest is not None and value > standard.fastest:
        raise Unreadable(
            f"{quote(raw)} is too fast for {standard.title}", f"up to {write_quantity(standard.fastest, kind)}"
        )
