"""The calculators: the `CALCULATOR` of every module in this folder, so that a new one registers nowhere."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache

from wheelwork import estimates
from wheelwork.estimates.asks import read_values
from wheelwork.estimates.calculator import Calculator, Outcome


@cache
def calculators() -> Mapping[str, Calculator]:
    """Every calculator by its name, in the order in which an oscillator is laid out."""
    found = {}
    for module in sorted(pkgutil.iter_modules(estimates.__path__), key=lambda module: module.name):
        calculator = getattr(importlib.import_module(f"{estimates.__name__}.{module.name}"), "CALCULATOR", None)
        if isinstance(calculator, Calculator):
            found[calculator.name] = calculator
    return found


def estimate(calculator: Calculator, raw: object) -> Outcome:
    """A calculator's answer to raw values. Raises links.fields.Refused with every problem, its key as the place."""
    return calculator.reckon(read_values(calculator.asks, raw, calculator.check))
