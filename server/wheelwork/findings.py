"""Problems, findings and mends: what the program says when something is wrong or worth knowing.

A *problem* is input that cannot be read or is not offered: a place, what stands there, what is allowed. A *finding* is
something about a plan that was read well: one thing wrong or worth knowing, in words, with the mends that were tried
and make the whole plan right. Both are data; the faces word them the same on the page, in JSON and on the terminal.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

Severity = Literal["stop", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "caution", "note")


@dataclass(frozen=True, slots=True)
class Problem:
    """Input that cannot be taken: its place, what stands there, what is allowed or what to write instead."""

    where: str
    what: str
    allowed: str
    line: int | None = None

    def sentence(self) -> str:
        """The problem in one line.

        >>> Problem("set.main.feedback", "80 is not offered", "10 to 72 are").sentence()
        'set.main.feedback: 80 is not offered; 10 to 72 are'
        """
        place = f"line {self.line}, {self.where}" if self.line is not None else self.where
        return f"{place}: {self.what}; {self.allowed}"

    def as_json(self) -> dict[str, str | int]:
        """The problem as the interface gives it; `line` only where a text was read."""
        told: dict[str, str | int] = {"where": self.where, "what": self.what, "allowed": self.allowed}
        return told if self.line is None else {**told, "line": self.line}


@dataclass(frozen=True, slots=True)
class Mend:
    """A change of one or two settings that was tried and makes the whole plan legal.

    `set` names settings with their new values (a ratio, an input's id, a frequency in hertz); `what` says the act.
    """

    set: Mapping[str, Fraction | str] = field(default_factory=dict)
    core_voltage: str | None = None
    wait_states: int | None = None
    what: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong (`stop`) or worth knowing (`caution`, `note`) about a plan.

    `node` is the id of the node it stands on, or `core_voltage`, `wait_states`, `supply`; `what` is a whole sentence
    with the amount, `detail` the quiet line behind it (value, allowed, source).
    """

    node: str
    severity: Severity
    what: str
    detail: str = ""
    mend: tuple[Mend, ...] = ()
    also: tuple[str, ...] = ()
    """Further nodes of which the same sentence speaks."""
    tried: str = ""
    """Where it stops and no mend is offered: what was tried, and whether any other setting of the part would do."""
    detector: bool = False
    """Whether it speaks of a PLL's phase detector and not of its VCO."""
    link: str = ""
    """The name of the link it speaks of; such a finding leaves the plan legal, and no mend is sought for it."""


class Unreadable(ValueError):
    """A text that is no value of its kind: `what` is wrong with it and what is `allowed` there."""

    def __init__(self, what: str, allowed: str) -> None:
        super().__init__(f"{what}; {allowed}")
        self.what = what
        self.allowed = allowed

    def at(self, where: str, line: int | None = None) -> Problem:
        """The same as a problem at a place."""
        return Problem(where, self.what, self.allowed, line)


LONGEST_QUOTE = 60


def quote(text: object) -> str:
    """A value as it was written, in quotes, cut where it is long, so that a message stays a sentence.

    >>> quote("8")
    "'8'"
    """
    written = str(text).encode("utf-8", "replace").decode()
    if len(written) > LONGEST_QUOTE:
        return f"'{written[:LONGEST_QUOTE]}…' ({len(written)} characters)"
    return f"'{written}'"


LIKE = 0.65
"""From this likeness on a name is offered in place of another: `cristal` for `crystal` is 0.86 like it."""


def nearest(name: str, offered: Iterable[str]) -> str | None:
    """The offered name most like this one, or none that is like it.

    >>> nearest("feedbak", ["feedback", "fraction_of"])
    'feedback'
    """
    asked = name[:LONGEST_QUOTE]
    places: dict[str, int] = {}
    for place, sign in enumerate(asked):
        places[sign] = places.get(sign, 0) | 1 << place
    measured = [(_likeness(len(asked), places, other), other) for other in offered]
    likeness, found = max(measured, key=lambda each: each[0], default=(0.0, None))
    return found if likeness >= LIKE else None


def _likeness(length: int, places: Mapping[str, int], other: str) -> float:
    """How much of two names stands in both in the same order: twice their longest common subsequence, per sign.

    Reckoned on whole rows of bits (Hyyrö, Bit-parallel LCS-length computation revisited, 2004), so that hundreds of
    long names are held against one in milliseconds. `places` has the bits at which each sign of the first name stands.
    """
    both = length + len(other)
    if 2 * min(length, len(other)) < LIKE * both or both == 0:
        return 0.0
    row = everywhere = (1 << length) - 1
    for sign in other:
        met = row & places.get(sign, 0)
        row = ((row + met) | (row - met)) & everywhere
    return 2 * (length - row.bit_count()) / both


def name_list(names: Sequence[str], most: int = 12) -> str:
    """Names in a sentence, the rest counted.

    >>> name_list(["a", "b", "c"])
    'a, b and c'
    """
    shown = list(names[:most])
    if len(names) > most:
        return ", ".join(shown) + f" and {len(names) - most} more"
    return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1] if shown else "none"


def lower_first(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it begins with an abbreviation.

    >>> lower_first("Core clock"), lower_first("PLL core tap")
    ('core clock', 'PLL core tap')
    """
    return title[:1].lower() + title[1:] if title[1:2].islower() else title
