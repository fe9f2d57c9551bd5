"""How far a rate may be off: typed in for one link, from a standard known by name, or common practice."""

from __future__ import annotations

from fractions import Fraction

from wheelwork.links.family import Allowance
from wheelwork.links.fields import Fields
from wheelwork.quantities.spans import Span, read_tolerance


def read_allowance(fields: Fields) -> Allowance | None:
    """The link's own allowance, `±2 %` or `-1 % .. +1.5 %`; None where it has none of its own."""
    span = fields.take("allowance", _read_span, None)
    return None if span is None else Allowance(span.lowest, span.highest, "the link's own")


def _read_span(raw: object) -> Span | None:
    return read_tolerance(raw)


def within(percent: str, source: str) -> Allowance:
    """An allowance to both sides, in percent.

    >>> str(within("0.25", "a standard").highest)
    '1/400'
    """
    share = Fraction(percent) / 100
    return Allowance(-share, share, source)
