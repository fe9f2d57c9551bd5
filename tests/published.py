"""The published examples of tests/reference/electrical.toml, by formula, each with its source."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

REFERENCE = tomllib.loads((Path(__file__).parent / "reference" / "electrical.toml").read_text(), parse_float=Decimal)


def examples(formula: str) -> list[Any]:
    """All examples of a formula."""
    return [example for example in REFERENCE["example"] if example["formula"] == formula]


def label(example: Any) -> str:
    """The example's id and source, for the name of its test."""
    return f"{example['id']} ({example['source'][:40]}, {example['verified']})"


def exact(value: Any) -> Fraction:
    """A number of the file as a rational; strings such as "25/36" are exact ratios."""
    return Fraction(str(value))
