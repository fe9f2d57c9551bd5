"""The calculators: the `CALCULATOR` of every module in this folder, so that a new one registers nowhere."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from fractions import Fraction
from functools import cache

from wheelwork import estimates
from wheelwork.estimates.asks import read_values
from wheelwork.estimates.calculator import Calculator, Outcome


@cache
def calculators() -> Mapping[str, Calculator]:
    """Every calculator by its name, in the order in which an oscillator is laid out: by `place`."""
    found = {}
    for module in sorted(pkgutil.iter_modules(estimates.__path__), key=lambda module: module.name):
        calculator = getattr(importlib.import_module(f"{estimates.__name__}.{module.name}"), "CALCULATOR", None)
        if isinstance(calculator, Calculator):
            found[calculator.name] = calculator
    return dict(sorted(found.items(), key=lambda each: (each[1].place, each[0])))


def calculators_for(kind: str, frequency: Fraction) -> tuple[Calculator, ...]:
    """The calculators that speak of an oscillator of a kind (`crystal`, `resonator`, `rc`, `external`) at hertz."""
    return tuple(
        each
        for each in calculators().values()
        if kind in each.suits and (each.up_to is None or frequency <= each.up_to)
    )


def estimate(calculator: Calculator, raw: object) -> Outcome:
    """A calculator's answer to raw values. Raises links.fields.Refused with every problem, its key as the place."""
    return calculator.reckon(read_values(calculator.asks, raw, calculator.check))
