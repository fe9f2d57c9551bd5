"""Targets: frequencies wanted on a plan's nodes, held against its part, read from and told in words.

>>> split_target("usb_link 48 MHz within 0.25 %")
{'node': 'usb_link', 'frequency': '48 MHz', 'within': '0.25 %'}
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from wheelwork.part.faults import Gatherer
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Target
from wheelwork.plan.schema import TargetTable
from wheelwork.quantities.numbers import NO_BREAK_SPACE
from wheelwork.quantities.units import FREQUENCY, SHARE, write_quantity

LONGEST_TARGET = 300

_SIGN = r"(?:±|\+-|\+/-)"
_BOTH = re.compile(r"at\s+least\s+(.+?)(?:\s*,\s*|\s+and\s+|\s+)at\s+most\s+(.+)", re.I)
_ONE_SIDED = re.compile(r"(at\s+least|from|at\s+most|up\s+to)\s+(.+)", re.I)
_BETWEEN = re.compile(r"(.+?)\s*(?:\.\.|…)\s*(.+)")
_WITHIN = re.compile(rf"(.+?)\s*(?:\bwithin\b\s*{_SIGN}?|{_SIGN})\s*(.+)", re.I)
_EXACTLY = re.compile(r"(?:exactly|at(?!\s+(?:least|most)\b))\s+", re.I)
_LOW = ("at least", "from")


def split_wanted(text: str) -> dict[str, str]:
    """What is wanted of a node, as the keys of a target with their texts; the texts are not read yet.

    >>> split_wanted("at most 31 MHz"), split_wanted("exactly 48 MHz")
    ({'at_most': '31 MHz'}, {'frequency': '48 MHz'})
    >>> split_wanted("48 MHz ± 0.25 %"), split_wanted("4 MHz .. 8 MHz")
    ({'frequency': '48 MHz', 'within': '0.25 %'}, {'at_least': '4 MHz', 'at_most': '8 MHz'})
    """
    plain = text.strip()[:LONGEST_TARGET]
    if both := _BOTH.fullmatch(plain) or _BETWEEN.fullmatch(plain):
        return {"at_least": both[1], "at_most": both[2]}
    if side := _ONE_SIDED.fullmatch(plain):
        return {"at_least" if " ".join(side[1].lower().split()) in _LOW else "at_most": side[2]}
    plain = _EXACTLY.sub("", plain, count=1) if _EXACTLY.match(plain) else plain
    if share := _WITHIN.fullmatch(plain):
        return {"frequency": share[1], "within": share[2]}
    return {"frequency": plain} if plain else {}


def split_target(text: str) -> dict[str, str]:
    """A target as one writes it in a line, as the table it stands for: the node's id, then what is wanted."""
    node, _, wanted = text.strip().partition(" ")
    return {"node": node, **split_wanted(wanted)}


def hold_targets(gatherer: Gatherer, tables: Iterable[TargetTable], part: Part, where: str) -> tuple[Target, ...]:
    """The targets; what the part has not, and what asks for nothing or against itself, is noted in the gatherer."""
    return tuple(_hold_target(gatherer, table, part, f"{where}.{place}") for place, table in enumerate(tables))


def _hold_target(gatherer: Gatherer, table: TargetTable, part: Part, where: str) -> Target:
    gatherer.note_unknown(f"{where}.node", [table.node], part.nodes, f"node of {part.name}")
    if (table.frequency, table.at_least, table.at_most) == (None, None, None):
        gatherer.fault(where, "nothing is asked for", "write frequency, at_least or at_most")
    if table.within is not None and table.frequency is None:
        gatherer.fault(f"{where}.within", "a share needs a frequency", "write frequency beside within")
    target = Target(table.node, table.frequency, table.within, table.at_least, table.at_most)
    for key, bound, other in _contradictions(target):
        gatherer.fault(f"{where}.{key}", f"{bound} cannot be beside {other}", "leave one of them out, or move it")
    return target


def _contradictions(target: Target) -> Iterable[tuple[str, str, str]]:
    """What cannot hold beside each other in one target: the key, what it says, what stands against it."""
    least, most, wanted, share = target.at_least, target.at_most, target.frequency, target.within or 0
    if least is not None and most is not None and least > most:
        yield "at_most", _bound("at most", most), _bound("at least", least)
    if wanted is not None and least is not None and wanted * (1 + share) < least:
        yield "at_least", _bound("at least", least), write_quantity(wanted, FREQUENCY)
    if wanted is not None and most is not None and wanted * (1 - share) > most:
        yield "at_most", _bound("at most", most), write_quantity(wanted, FREQUENCY)


def _bound(word: str, frequency: Fraction) -> str:
    return f"{word} {write_quantity(frequency, FREQUENCY)}"


def say_wanted(target: Target) -> str:
    """What a target wants, in words that `split_wanted` reads: `48 MHz within 0.25 %`, `at most 31 MHz`."""
    said = []
    if target.frequency is not None:
        share = f" within {write_quantity(target.within, SHARE)}" if target.within is not None else ""
        said.append(write_quantity(target.frequency, FREQUENCY) + share)
    if target.at_least is not None:
        said.append(f"at least {write_quantity(target.at_least, FREQUENCY)}")
    if target.at_most is not None:
        said.append(f"at most {write_quantity(target.at_most, FREQUENCY)}")
    return " and ".join(said)


def say_target(target: Target, part: Part) -> str:
    """A target with its node's title: `USB, full speed: 48 MHz within 0.25 %`; units do not part from their numbers."""
    wanted = re.sub(r"(?<=\d) (?=[^\W\d]|%)", NO_BREAK_SPACE, say_wanted(target))
    return f"{part.nodes[target.node].title}: {wanted}"
