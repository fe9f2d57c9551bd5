"""Flash wait states: how many a core-voltage step asks for at a flash clock.

Rule: the first row of the step's table that covers the flash clock counts, its edge included; a row with a supply
counts only at such a supply. A published table of limits overrides any formula from an access time
(common practice, no source).
"""

from __future__ import annotations

from fractions import Fraction

from wheelwork.clocks.propagate import Clock
from wheelwork.part.nodes import FlashRow, Step


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
