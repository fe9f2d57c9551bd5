"""An exact value written as constants: one where it is whole, else what is above and below the stroke."""

from __future__ import annotations

from fractions import Fraction

from wheelwork.handover.checks import round_check
from wheelwork.handover.constants import Draft, Kind, Written
from wheelwork.handover.names import Names


def write_value(
    draft: Draft, names: Names, name: str, value: Fraction, kind: Kind, unit: str = "", rounded: bool = True
) -> Written | None:
    """The value under its name; `_NUMERATOR`, `_DENOMINATOR` and, rounded half up, the name itself where not whole.

    None where a constant cannot hold it exactly; the draft then says so.
    """
    if value.denominator == 1:
        whole = names.take(name)
        return Written(value, whole) if draft.add(whole, int(value), kind) else None
    above, below = names.take(f"{name}_NUMERATOR"), names.take(f"{name}_DENOMINATOR")
    fits = draft.add(above, value.numerator, kind, f"exactly, over the denominator{', in ' if unit else ''}{unit}")
    fits = draft.add(below, value.denominator, kind) and fits
    written = Written(value, above, below) if fits else None
    if rounded:
        whole = names.take(name)
        nearest = (value + Fraction(1, 2)).__floor__()
        if draft.add(whole, nearest, kind, "rounded, not exact") and written is not None:
            draft.check(round_check(written, whole, f"{whole} is not its fraction rounded", draft.values), whole)
    return written
