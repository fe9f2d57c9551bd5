"""Flash wait states: how many a core-voltage step asks for at a flash clock.

Rule: the first row of the step's table that covers the flash clock counts, its edge included; a row with a supply
counts only at such a supply. A published table of limits overrides any formula from an access time
(common practice, no source).
"""

from __future__ import annotations

from fractions import Fraction

from wheelwork.clocks.propagate import Clock
from wheelwork.part.nodes import FlashRow, Step
from wheelwork.quantities.spans import Span

ANY_SHARE = Span(Fraction(0), Fraction(1))
"""The share of clock cycles that wait, where nothing is known of a program: none of them to all."""


def needed_wait_states(step: Step, flash: Clock, supply: Fraction | None, with_tolerance: bool = False) -> int | None:
    """The wait states needed; 0 without a table, None where the clock is past the last row that counts."""
    if not step.flash:
        return 0
    frequency = flash.highest if with_tolerance else flash.nominal
    rows = (row for row in step.flash if _counts(row, supply) and frequency <= row.up_to)
    row = next(rows, None)
    return None if row is None else row.wait_states


def _counts(row: FlashRow, supply: Fraction | None) -> bool:
    return row.supply is None or (supply is not None and supply in row.supply)


def last_row(step: Step, supply: Fraction | None) -> FlashRow | None:
    """The row that reaches furthest at this supply; None where none counts."""
    rows = [row for row in step.flash if _counts(row, supply)]
    return max(rows, key=lambda row: row.up_to, default=None)


def effective_speed(core: Fraction, wait_states: int, waiting: Span = ANY_SHARE) -> Span:
    """Clock cycles that get on with the work, per second, where a share of all cycles waits: f / (1 + W * m).

    A span, since the share hangs on the program (common practice, no source). 64 MHz with two wait states, a quarter of
    the cycles waiting, gets 42.67 million done:

    >>> quarter = Span(Fraction(1, 4), Fraction(1, 4))
    >>> round(float(effective_speed(Fraction(64_000_000), 2, quarter).lowest))
    42666667
    """
    return Span(core / (1 + wait_states * waiting.highest), core / (1 + wait_states * waiting.lowest))
