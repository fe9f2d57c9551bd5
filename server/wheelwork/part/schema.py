"""The mouth of a part sheet: which tables and keys it may have and how each value is read.

The same models give the JSON Schema for editors. They only read; what values must have to do with each other stands in
`reading.py`. Every value is a text with its unit, a whole number, a truth, or a list of those: never a float.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from keyword import iskeyword
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, StrictBool, StrictInt, WithJsonSchema, create_model
from pydantic_core import PydanticCustomError

from wheelwork.findings import Unreadable, quote
from wheelwork.links.families import families
from wheelwork.part.codes import Codes, read_code_list, read_codes
from wheelwork.part.nodes import Amount, ToleranceOver
from wheelwork.quantities.ratios import RatioSet, read_ratio, read_ratios
from wheelwork.quantities.spans import (
    SUPPLY_WINDOW,
    Span,
    Window,
    is_window,
    read_temperatures,
    read_tolerance,
    read_window,
)
from wheelwork.quantities.units import CURRENT, CURRENT_SLOPE, FREQUENCY, SHARE, TEMPERATURE, TIME, VOLTAGE, Unit
from wheelwork.quantities.units import read_quantity as _read_quantity

FORMAT = "wheelwork-part/1"
LONGEST_TEXT = 2000
LONGEST_ID = 60
RESERVED = ("core_voltage", "wait_states", "supply", "temperature")

_ID = re.compile(r"[a-z][a-z0-9]*(?:_[a-z0-9]+)*", re.ASCII)


def reading(read: Callable[[Any], Any]) -> PlainValidator:
    """A validator that reads a raw value and hands a fault on with what stands there and what is allowed."""

    def validate(raw: Any) -> Any:
        try:
            return read(raw)
        except Unreadable as fault:
            raise PydanticCustomError("unreadable", "{what}", {"what": fault.what, "allowed": fault.allowed}) from None

    return PlainValidator(validate)


def _quantity(kind: Unit) -> PlainValidator:
    return reading(lambda raw: _read_quantity(raw, kind))


def _text_schema(*examples: str, **more: Any) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": list(examples), **more})


def read_text(raw: Any) -> str:
    """A text of a bearable length without control signs."""
    if not isinstance(raw, str):
        raise Unreadable(f"{quote(raw)} is no text", "write a text in quotes")
    if len(raw) > LONGEST_TEXT:
        raise Unreadable(f"{quote(raw)} is too long", f"at most {LONGEST_TEXT} characters")
    if any((ord(sign) < 32 and sign not in "\n\t") or 0xD800 <= ord(sign) < 0xE000 for sign in raw):
        raise Unreadable(f"{quote(raw)} holds a control character", "write plain text")
    return raw


def read_free(raw: Any) -> dict[str, Any]:
    """A table whose keys are another page's to read: texts, whole numbers and truths, in lists and tables.

    Numbers with a point and dates are refused: neither has a way through JSON and TOML and back that keeps it exact.
    """
    if not isinstance(raw, dict):
        raise Unreadable(f"{quote(raw)} is no table", "write keys with their values")
    waiting: list[Any] = [raw]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting += [*value, *value.values()]
        elif isinstance(value, list):
            waiting += value
        elif isinstance(value, str):
            read_text(value)
        elif not isinstance(value, int):
            raise Unreadable(f"{quote(value)} is neither text nor a whole number", "write it in quotes, with its unit")
        elif abs(value) >= 2**64:
            raise Unreadable(f"{quote(value)} is too large", "write it in quotes, with its unit")
    return raw


def read_id(raw: Any) -> str:
    """An id: lower-case words joined by `_`, no word that a programming language keeps for itself."""
    if not isinstance(raw, str) or len(raw) > LONGEST_ID or _ID.fullmatch(raw) is None:
        raise Unreadable(
            f"{quote(raw)} is no id", f"lower-case words joined by _, at most {LONGEST_ID} characters, such as slow_bus"
        )
    if iskeyword(raw) or raw in RESERVED:
        raise Unreadable(f"{quote(raw)} means something else already", f"write a longer name, such as {raw}_clock")
    return raw


def _read_efficiency(raw: Any) -> Fraction:
    share = _read_quantity(raw, SHARE)
    if not 0 < share <= 1:
        raise Unreadable(f"{quote(raw)} is no efficiency", "it lies above 0 % and at most at 100 %")
    return share


def _read_frequencies(raw: Any) -> Any:
    """An oscillator's frequency: one, a list of choices, or a window."""
    if isinstance(raw, list):
        if not 1 <= len(raw) <= 256:
            raise Unreadable(f"a list of {len(raw)} choices", "name 1 to 256 frequencies")
        choices = tuple(_read_quantity(item, FREQUENCY) for item in raw)
        if len(set(choices)) != len(choices):
            raise Unreadable("a frequency stands twice among the choices", "name each once")
        return choices
    if is_window(raw):
        return read_window(raw)
    return (_read_quantity(raw, FREQUENCY),)


def _read_fits(raw: Any) -> tuple[Fraction, ...]:
    if not isinstance(raw, list) or not 1 <= len(raw) <= 1024:
        raise Unreadable(f"{quote(raw)} is no list of frequencies", 'write them like ["8 MHz", "12 MHz"]')
    return tuple(_read_quantity(item, FREQUENCY) for item in raw)


def _read_tolerance(raw: Any) -> Any:
    if not isinstance(raw, list):
        return read_tolerance(raw)
    rows = tuple(_tolerance_row(row) for row in raw[:64])
    if not rows or len(raw) > 64:
        raise Unreadable(f"a list of {len(raw)} rows", "1 to 64 rows are read")
    return rows


def _tolerance_row(row: Any) -> ToleranceOver:
    if not isinstance(row, dict) or set(row) != {"over", "is"}:
        raise Unreadable(f"{quote(row)} is no row", 'write { over = "0 °C .. 85 °C", is = "±1 %" }')
    return ToleranceOver(read_temperatures(row["over"]), read_tolerance(row["is"]))


def _amount(kind: Unit) -> PlainValidator:
    def read(raw: Any) -> Amount:
        if not isinstance(raw, dict):
            return Amount(_read_quantity(raw, kind))
        allowed = 'write one value, or { typical = "…", highest = "…", highest_at = "85 °C" }'
        if "typical" not in raw or not set(raw) <= {"typical", "highest", "highest_at"}:
            raise Unreadable(f"{quote(', '.join(map(str, raw)))} are the keys here", allowed)
        highest = _read_quantity(raw["highest"], kind) if "highest" in raw else None
        at = _read_quantity(raw["highest_at"], TEMPERATURE) if "highest_at" in raw else None
        return Amount(_read_quantity(raw["typical"], kind), highest, at)

    return reading(read)


def _amount_schema(example: str) -> WithJsonSchema:
    value = {"type": "string", "examples": [example]}
    spread = {"type": "object", "properties": {key: {"type": "string"} for key in ("typical", "highest", "highest_at")}}
    return WithJsonSchema({"anyOf": [value, spread]})


_RATIOS_SCHEMA = WithJsonSchema(
    {
        "anyOf": [
            {"type": "string", "examples": ["1..8", "2..512 step 2"]},
            {"type": "integer", "minimum": 1},
            {"type": "array", "items": {"type": ["integer", "string"]}, "minItems": 1},
        ]
    }
)
_RATIO_SCHEMA = WithJsonSchema({"type": ["integer", "string"], "examples": [2, "3/2"]})
_WINDOW_EXAMPLES = ("up to 64 MHz", "from 4 MHz", "4 MHz .. 48 MHz", "48 MHz ± 0.25 %")

Text = Annotated[str, reading(read_text), _text_schema(maxLength=LONGEST_TEXT)]
Free = Annotated[dict[str, Any], reading(read_free), WithJsonSchema({"type": "object", "additionalProperties": True})]
Id = Annotated[str, reading(read_id), _text_schema("slow_bus", pattern=f"^{_ID.pattern}$", maxLength=LONGEST_ID)]
Reference = Annotated[str, reading(read_text), _text_schema("core", maxLength=LONGEST_ID)]
Frequency = Annotated[Fraction, _quantity(FREQUENCY), _text_schema("8 MHz", "32.768 kHz")]
Frequencies = Annotated[
    Any,
    reading(_read_frequencies),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "examples": ["11 MHz", "3 MHz .. 38 MHz"]},
                {"type": "array", "items": {"type": "string"}, "examples": [["5 MHz", "10 MHz"]]},
            ]
        }
    ),
]
FrequencyList = Annotated[
    tuple[Fraction, ...],
    reading(_read_fits),
    WithJsonSchema({"type": "array", "items": {"type": "string"}, "examples": [["8 MHz", "12 MHz"]]}),
]
Voltage = Annotated[Fraction, _quantity(VOLTAGE), _text_schema("1.15 V")]
Time = Annotated[Fraction, _quantity(TIME), _text_schema("25 µs")]
Efficiency = Annotated[Fraction, reading(_read_efficiency), _text_schema("86 %")]
FrequencyWindow = Annotated[Window, reading(read_window), _text_schema(*_WINDOW_EXAMPLES)]
SupplyWindow = Annotated[Window, reading(lambda raw: read_window(raw, SUPPLY_WINDOW)), _text_schema("1.8 V .. 3.6 V")]
Current = Annotated[Amount, _amount(CURRENT), _amount_schema("95 µA")]
CurrentSlope = Annotated[Amount, _amount(CURRENT_SLOPE), _amount_schema("100 µA/MHz")]
Tolerance = Annotated[
    Any,
    reading(_read_tolerance),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "examples": ["±20 ppm", "-1.5 % .. +1.2 %"]},
                {
                    "type": "array",
                    "items": {"type": "object", "properties": {"over": {"type": "string"}, "is": {"type": "string"}}},
                    "examples": [[{"over": "0 °C .. 85 °C", "is": "±1 %"}]],
                },
            ]
        }
    ),
]
Ratios = Annotated[RatioSet, reading(read_ratios), _RATIOS_SCHEMA]
Ratio = Annotated[Fraction, reading(read_ratio), _RATIO_SCHEMA]
RatioCodes = Annotated[
    Codes,
    reading(read_codes),
    WithJsonSchema(
        {"anyOf": [{"type": "array", "items": {"type": "integer"}}, {"type": "string", "examples": ["ratio - 1"]}]}
    ),
]
CodeList = Annotated[
    tuple[int, ...], reading(read_code_list), WithJsonSchema({"type": "array", "items": {"type": "integer"}})
]
Count = Annotated[StrictInt, Field(ge=0, le=10**6)]
Code = Annotated[StrictInt, Field(ge=0, lt=2**64)]
Factor = Annotated[StrictInt, Field(ge=1, le=10**10)]
Temperatures = Annotated[Span, reading(read_temperatures), _text_schema("-20 °C .. 50 °C")]


class Table(BaseModel):
    """A table of a sheet: frozen, and no key but those named."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class SupplyTable(Table):
    """The supply a part takes, the regulator of its core, the supply at which its currents were measured."""

    lowest: Voltage | None = None
    highest: Voltage | None = None
    regulator: Literal["linear", "buck"] = "linear"
    efficiency: Efficiency | None = None
    currents_at: Voltage | None = None
    see: Text | None = None


class CoreTable(Table):
    """Which node is the core clock, which the flash clock, and what runs whenever the core does."""

    clock: Reference
    flash_clock: Reference | None = None
    always: list[Reference] = Field(default=[], max_length=500)
    see: Text | None = None


class FlashRowTable(Table):
    """Up to this flash clock, so many wait states; perhaps only at a supply."""

    up_to: Frequency
    wait_states: Count
    supply: SupplyWindow | None = None
    see: Text | None = None


class StepTable(Table):
    """A core-voltage step."""

    volts: Voltage
    supply: SupplyWindow | None = None
    code: Code | None = None
    run_current: CurrentSlope | None = None
    base_current: Current | None = None
    settle: Time | None = None
    flash: list[FlashRowTable] = Field(default=[], max_length=256)
    see: Text | None = None


class ResetTable(Table):
    """The core-voltage step and wait states after reset."""

    core_voltage: Reference | None = None
    wait_states: Count | None = None
    see: Text | None = None


class NodeTable(Table):
    """What any node may state."""

    title: Text | None = None
    group: Text | None = None
    see: Text | None = None
    current: Current | None = None
    current_at: dict[str, Current] = {}
    current_per_mhz: CurrentSlope | None = None
    current_per_mhz_at: dict[str, CurrentSlope] = {}


class LimitedTable(NodeTable):
    """A node that may have a window, replaced at a step."""

    limits: FrequencyWindow | None = None
    limits_at: dict[str, FrequencyWindow] = {}


class OscillatorTable(LimitedTable):
    """A source of a clock."""

    kind: Literal["rc", "crystal", "resonator", "external"] = "rc"
    frequency: Frequencies
    fits: FrequencyList | None = None
    tolerance: Tolerance | None = None
    start_up: Time | None = None
    always_on: StrictBool = False
    reset: Frequency | None = None


class SelectorTable(LimitedTable):
    """A choice of one clock among several."""

    inputs: list[Reference] = Field(min_length=1, max_length=256)
    codes: CodeList | None = None
    reset: Reference | None = None
    glitch_free: StrictBool = False


class CodedSpanTable(Table):
    """A span of frequencies with the code firmware writes for it."""

    span: FrequencyWindow
    code: Code
    see: Text | None = None


class FactorsTable(Table):
    """A PLL's factors after reset."""

    reference_divider: Ratio | None = None
    feedback: Ratio | None = None
    fraction: Ratio | None = None
    see: Text | None = None


class PllCodesTable(Table):
    """Codes of a PLL's factors."""

    reference_divider: RatioCodes | None = None
    feedback: RatioCodes | None = None
    fraction: RatioCodes | None = None
    see: Text | None = None


class PllTable(NodeTable):
    """A phase-locked loop: reference divider, feedback, perhaps a fraction; windows of phase detector and VCO."""

    input: Reference
    reference_divider: Ratios
    feedback: Ratios
    fraction_of: Annotated[StrictInt, Field(ge=1, le=2**40)] = 1
    codes: PllCodesTable | None = None
    phase_detector: FrequencyWindow | None = None
    phase_detector_at: dict[str, FrequencyWindow] = {}
    vco: FrequencyWindow | None = None
    vco_at: dict[str, FrequencyWindow] = {}
    vco_ranges: list[CodedSpanTable] = Field(default=[], max_length=64)
    phase_detector_ranges: list[CodedSpanTable] = Field(default=[], max_length=64)
    lock_time: Time | None = None
    changes_while_running: StrictBool = False
    reset: FactorsTable | None = None


class DividerTable(LimitedTable):
    """A divider with a set of ratios."""

    input: Reference
    ratios: Ratios
    codes: RatioCodes | None = None
    reset: Ratio | None = None


class WhenTable(Table):
    """The condition of a scaler: that divider's ratio is above a number."""

    divider: Reference
    ratio_above: Ratio
    see: Text | None = None


class ScalerTable(LimitedTable):
    """A fixed factor, perhaps under a condition."""

    input: Reference
    multiply: Factor = 1
    divide: Factor = 1
    when: WhenTable | None = None


class _LoadTable(LimitedTable):
    """A consumer of a clock; its further tables describe its generators, one for each family of rates."""

    input: Reference
    also: list[Reference] = Field(default=[], max_length=500)


def generator_families() -> tuple[str, ...]:
    """The families of rates whose generators a load may state."""
    return tuple(families())


if TYPE_CHECKING:
    LoadTable = _LoadTable
else:
    _GENERATORS = dict.fromkeys(generator_families(), (Free | None, None))
    LoadTable = create_model("LoadTable", __base__=_LoadTable, __doc__=_LoadTable.__doc__, **_GENERATORS)


class RuleTable(Table):
    """A relation between two clocks."""

    node: Reference
    of: Reference
    at_most: Ratio | None = None
    at_least: Ratio | None = None
    see: Text | None = None


class ModeTable(Table):
    """A low-power mode: what runs on, its current, its wake-up."""

    title: Text | None = None
    current: Current | None = None
    keeps: list[Reference] = Field(default=[], max_length=500)
    wake_up: Time | None = None
    wakes_on: Reference | None = None
    retains: Text | None = None
    see: Text | None = None


class PinsTable(Table):
    """Highest currents of the pins."""

    each: Current | None = None
    strong: Current | None = None
    total: Current | None = None
    see: Text | None = None


class ChangeTable(Table):
    """What a change-over must observe."""

    neighbour_steps_only: StrictBool = True
    largest_upward_ratio: Ratio | None = None
    fallback: Reference | None = None
    pauses: list[Reference] = Field(default=[], max_length=500)
    see: Text | None = None


class TogetherTable(Table):
    """Settings that are written at once."""

    settings: list[Reference] = Field(min_length=2, max_length=64)
    see: Text | None = None


class SheetTable(Table):
    """A part sheet: one text file describing a microcontroller's clocks, windows, core-voltage steps and currents."""

    format: Literal["wheelwork-part/1"]
    name: Text
    about: Text = ""
    figures_from: Text = ""
    revision: Text = ""
    author: Text = ""
    judged_on: Literal["nominal", "with tolerance"] = "nominal"
    supply: SupplyTable = SupplyTable()
    core: CoreTable
    core_voltage: dict[Id, StepTable] = Field(min_length=1, max_length=32)
    reset: ResetTable = ResetTable()
    oscillator: dict[Id, OscillatorTable] = Field(min_length=1, max_length=64)
    selector: dict[Id, SelectorTable] = Field(default={}, max_length=500)
    pll: dict[Id, PllTable] = Field(default={}, max_length=64)
    divider: dict[Id, DividerTable] = Field(default={}, max_length=500)
    scaler: dict[Id, ScalerTable] = Field(default={}, max_length=500)
    load: dict[Id, LoadTable] = Field(default={}, max_length=500)
    rule: list[RuleTable] = Field(default=[], max_length=500)
    mode: dict[Id, ModeTable] = Field(default={}, max_length=64)
    pins: PinsTable | None = None
    change: ChangeTable | None = None
    together: list[TogetherTable] = Field(default=[], max_length=64)


def json_schema() -> dict[str, Any]:
    """The JSON Schema of a part sheet, for editors that check and complete while one writes."""
    schema = SheetTable.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Wheelwork part sheet", **schema}
