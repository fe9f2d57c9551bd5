"""What a choice misses besides its rate, in words: by how much a quantity is short of its least or over its most."""

from __future__ import annotations

from fractions import Fraction

from wheelwork.quantities.units import Unit, say_quantity


def say_short(what: str, value: Fraction, least: Fraction, kind: Unit) -> str:
    """By how much a quantity is below its least.

    >>> from wheelwork.quantities.units import TIME
    >>> say_short("low lasts", Fraction("1.25e-6"), Fraction("1.3e-6"), TIME).replace("\\u00a0", " ")
    'low lasts 1.25 µs, 50 ns short of 1.3 µs'
    """
    return (
        f"{what} {say_quantity(value, kind)}, {say_quantity(least - value, kind)} short of {say_quantity(least, kind)}"
    )


def say_over(what: str, value: Fraction, most: Fraction, kind: Unit) -> str:
    """By how much a quantity is above its most.

    >>> from wheelwork.quantities.units import TIME
    >>> say_over("high lasts", Fraction("60e-6"), Fraction("50e-6"), TIME).replace("\\u00a0", " ")
    'high lasts 60 µs, 10 µs over 50 µs'
    """
    return f"{what} {say_quantity(value, kind)}, {say_quantity(value - most, kind)} over {say_quantity(most, kind)}"
