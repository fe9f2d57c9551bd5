"""The shelf's part sheets as plans are judged with them: each revision is read once and then kept in mind.

A revision never changes, so that a request costs one small question: which is the latest of each sheet. Where the store
does not answer, what was read last stays in use, and the store is left alone for a moment, so that reading goes on at
its usual pace.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from threading import Lock
from time import monotonic

from wheelwork.findings import Problem
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.shelf.revisions import NotKept
from wheelwork.shelf.sheets import Sheets
from wheelwork.shelf.store import ShelfFault

SECONDS_LEFT_ALONE = 1.0
MOST_IN_MIND = 600
"""Revisions in mind; a sheet of a demo's part takes 70 to 260 kB."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A revision of a sheet; one that an earlier version of this program took and this one does not has problems."""

    revision: int
    retired: bool
    part: Part | None
    problems: tuple[Problem, ...]


Read = tuple[Part | None, tuple[Problem, ...]]


@dataclass(eq=False)
class OfferedSheets:
    """The sheets of a store, kept in mind."""

    sheets: Sheets
    _standing: Mapping[str, tuple[int, bool]] = field(default_factory=dict)
    _read: dict[tuple[str, int], Read] = field(default_factory=dict)
    _fault: ShelfFault | None = None
    _ask_after: float = 0.0
    _lock: Lock = field(default_factory=Lock)

    def on_the_list(self) -> dict[str, Offer]:
        """The latest of each sheet that was not taken off the list; without those that cannot be had just now."""
        found = {id: self._latest(id, latest) for id, (latest, retired) in self._ask().items() if not retired}
        return {id: offer for id, offer in found.items() if offer is not None}

    def latest(self, id: str) -> Offer | None:
        """The latest of a sheet, also of one that was taken off the list; None where none is known.

        Raises ShelfFault for a sheet that is there and cannot be had just now.
        """
        known = self._ask().get(id)
        if known is None:
            return None
        offer = self._latest(id, *known)
        if offer is None:
            self.must_answer()
        return offer

    def revision(self, id: str, number: int) -> Offer | None:
        """A revision of a sheet; None where there is none. Raises ShelfFault where it cannot be had just now."""
        read = self._reading(id, number)
        if read is None:
            self.must_answer()
            return None
        return Offer(number, False, *read)

    def must_answer(self) -> None:
        """Raises ShelfFault where the store did not answer last, so that nobody concludes that a sheet is not there."""
        if self._fault is not None:
            raise self._fault

    def _ask(self) -> Mapping[str, tuple[int, bool]]:
        """The latest revisions; those that were known last where the store does not answer."""
        if monotonic() >= self._ask_after:
            try:
                self._standing = self.sheets.standing()
                self._fault = None
            except ShelfFault as fault:
                self._leave_alone(fault)
        return self._standing

    def _latest(self, id: str, number: int, retired: bool = False) -> Offer | None:
        """That revision; while it cannot be had, the one before it that is in mind."""
        for each in (number, *sorted((n for known, n in list(self._read) if known == id and n < number), reverse=True)):
            read = self._reading(id, each)
            if read is not None:
                return Offer(each, retired, *read)
        return None

    def _reading(self, id: str, number: int) -> Read | None:
        read = self._read.get((id, number))
        if read is not None or (self._fault is not None and monotonic() < self._ask_after):
            return read
        try:
            part, problems = read_sheet(self.sheets.opened(id, number).text)
            self._fault = None
        except NotKept:
            self._fault = None
            return None
        except ShelfFault as fault:
            self._leave_alone(fault)
            return None
        with self._lock:
            self._read[id, number] = (part, tuple(problems))
            while len(self._read) > MOST_IN_MIND:
                del self._read[next(iter(self._read))]
        return part, tuple(problems)

    def _leave_alone(self, fault: ShelfFault) -> None:
        self._fault = fault
        self._ask_after = monotonic() + SECONDS_LEFT_ALONE
