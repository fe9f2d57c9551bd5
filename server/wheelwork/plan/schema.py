"""The mouth of a plan: which keys it may have and how each value is read, before it meets a part sheet."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field, StrictInt, WithJsonSchema

from wheelwork.findings import Unreadable, quote
from wheelwork.part.schema import Free, Frequency, Reference, Table, Temperatures, Text, Voltage, reading
from wheelwork.quantities.spans import Span, read_tolerance
from wheelwork.quantities.units import SHARE, read_quantity

LARGEST_EXTRA = 64
_KEPT = re.compile(r"[a-z0-9-]{1,80}/[1-9][0-9]{0,8}")


def _read_share(raw: Any) -> Fraction:
    share = read_quantity(raw, SHARE)
    if not 0 <= share < 1:
        raise Unreadable(f"{quote(raw)} is no share", "write one from 0 % to below 100 %")
    return share


Share = Annotated[Fraction, reading(_read_share), WithJsonSchema({"type": "string", "examples": ["0.25 %", "10 ppm"]})]
BoardTolerance = Annotated[
    Span, reading(read_tolerance), WithJsonSchema({"type": "string", "examples": ["±30 ppm", "-1 % .. +1.5 %"]})
]


def _read_kept(raw: Any) -> str:
    if not isinstance(raw, str) or (raw and _KEPT.fullmatch(raw) is None):
        example = "write its id and revision, such as skerry-3/7, or leave it out"
        raise Unreadable(f"{quote(raw)} is no revision of a kept plan", example)
    return raw


class FittedTable(Table):
    """What the board has for an oscillator."""

    frequency: Frequency | None = None
    tolerance: BoardTolerance | None = None


class TargetTable(Table):
    """A wanted frequency on a node."""

    node: Reference
    frequency: Frequency | None = None
    within: Share | None = None
    at_least: Frequency | None = None
    at_most: Frequency | None = None


class PlanTable(Table):
    """A plan: the settings chosen for one board with one part."""

    format: Literal["wheelwork-plan/1"] = "wheelwork-plan/1"
    name: Text = ""
    part: Text = ""
    kept: Annotated[str, reading(_read_kept), WithJsonSchema({"type": "string", "examples": ["skerry-3/7"]})] = ""
    core_voltage: Reference | None = None
    wait_states: Annotated[StrictInt, Field(ge=0, le=255)] | None = None
    supply: Voltage | None = None
    temperature: Temperatures | None = None
    in_use: list[Reference] = Field(default=[], max_length=1000)
    keep_running: list[Reference] = Field(default=[], max_length=1000)
    owner: Text = ""
    board_name: Text = ""
    board_revision: Text = ""
    held: list[Reference] = Field(default=[], max_length=1000)
    board: dict[str, FittedTable] = Field(default={}, max_length=256)
    set: dict[str, Any] = Field(default={}, max_length=2000)
    target: list[TargetTable] = Field(default=[], max_length=64)
    link: list[Free] = Field(default=[], max_length=LARGEST_EXTRA)
    phase: list[Free] = Field(default=[], max_length=LARGEST_EXTRA)
    battery: Free = Field(default={})
