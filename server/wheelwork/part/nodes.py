"""The nodes of a part, its core-voltage steps and rules: what a sheet says once it has been read and found right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, ClassVar, Literal

from wheelwork.part.codes import Codes
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.spans import Span, Window

Kind = Literal["oscillator", "selector", "pll", "divider", "scaler", "load"]
FACTORS = ("reference_divider", "feedback", "fraction")
Value = Fraction | str
"""A setting's value: a ratio, a factor, a frequency in hertz, or the id of an input."""


@dataclass(frozen=True, slots=True)
class Amount:
    """A current (A) or a current per frequency (A/Hz) as a sheet states it: typical, and the highest where stated."""

    typical: Fraction
    highest: Fraction | None = None
    highest_at: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """Anything with a frequency. `limits_at` and the other `…_at` replace the plain value at a core-voltage step."""

    kind: ClassVar[Kind]
    id: str
    title: str
    group: str | None = None
    see: str | None = None
    limits: Window | None = None
    limits_at: Mapping[str, Window] = field(default_factory=dict)
    current: Amount | None = None
    current_at: Mapping[str, Amount] = field(default_factory=dict)
    current_slope: Amount | None = None
    current_slope_at: Mapping[str, Amount] = field(default_factory=dict)

    @property
    def feeders(self) -> tuple[str, ...]:
        """Ids of the nodes that can feed this one."""
        return ()

    def window(self, step: str) -> Window | None:
        """The window at a core-voltage step, None where the sheet states none."""
        return self.limits_at.get(step, self.limits)

    def current_while_on(self, step: str) -> Amount | None:
        """Supply current while the node is on, at a step; None where the sheet states none."""
        return self.current_at.get(step, self.current)

    def current_per_hertz(self, step: str) -> Amount | None:
        """Supply current for each hertz of the node's own frequency, at a step."""
        return self.current_slope_at.get(step, self.current_slope)


@dataclass(frozen=True, slots=True, kw_only=True)
class FedNode(Node):
    """A node with one input."""

    input: str

    @property
    def feeders(self) -> tuple[str, ...]:
        """The one input."""
        return (self.input,)


@dataclass(frozen=True, slots=True)
class ToleranceOver:
    """A tolerance that holds over a temperature span."""

    over: Span
    tolerance: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Oscillator(Node):
    """A source. `choices` are the frequencies firmware can set (one: fixed); `fitted` the window a board chooses in."""

    kind: ClassVar[Kind] = "oscillator"
    source: Literal["rc", "crystal", "resonator", "external"]
    choices: tuple[Fraction, ...] = ()
    fitted: Window | None = None
    fits: tuple[Fraction, ...] = ()
    tolerance: Span | None = None
    tolerances: tuple[ToleranceOver, ...] = ()
    start_up: Fraction | None = None
    always_on: bool = False
    reset: Fraction | None = None

    def window(self, step: str) -> Window | None:
        """The oscillator's own limits, else the window in which the board may choose."""
        return self.limits_at.get(step, self.limits if self.limits is not None else self.fitted)

    def tolerance_over(self, temperatures: Span | None) -> Span | None:
        """The tolerance the sheet states: the first row that covers the temperatures; the widest where none does."""
        if not self.tolerances:
            return self.tolerance
        if temperatures is None:
            return self.tolerances[0].tolerance if len(self.tolerances) == 1 else self.widest_tolerance()
        return next((row.tolerance for row in self.tolerances if row.over.covers(temperatures)), None)

    def widest_tolerance(self) -> Span:
        """The span that holds every tolerance of the rows by temperature."""
        rows = [row.tolerance for row in self.tolerances]
        return Span(min(row.lowest for row in rows), max(row.highest for row in rows))


@dataclass(frozen=True, slots=True, kw_only=True)
class Selector(Node):
    """A choice of one clock among several; `codes` are what firmware writes, one for each input."""

    kind: ClassVar[Kind] = "selector"
    inputs: tuple[str, ...]
    codes: tuple[int, ...] = ()
    reset: str
    glitch_free: bool = False

    @property
    def feeders(self) -> tuple[str, ...]:
        """Each input once, in the sheet's order."""
        return tuple(dict.fromkeys(self.inputs))


@dataclass(frozen=True, slots=True)
class CodedSpan:
    """A span of frequencies with the code firmware writes for it."""

    span: Window
    code: int


@dataclass(frozen=True, slots=True)
class Factors:
    """A PLL's setting: reference divider, feedback, fraction."""

    reference_divider: Fraction
    feedback: Fraction
    fraction: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pll(FedNode):
    """A phase-locked loop; its node value is the VCO: f_in / reference_divider * (feedback + fraction / fraction_of).

    Source: integer and fractional feedback, Best, Phase-Locked Loops; Gardner, Phaselock Techniques (from memory).
    """

    kind: ClassVar[Kind] = "pll"
    reference_divider: RatioSet
    feedback: RatioSet
    fraction_of: int = 1
    codes: Mapping[str, Codes] = field(default_factory=dict)
    phase_detector: Window | None = None
    phase_detector_at: Mapping[str, Window] = field(default_factory=dict)
    vco: Window | None = None
    vco_at: Mapping[str, Window] = field(default_factory=dict)
    vco_ranges: tuple[CodedSpan, ...] = ()
    phase_detector_ranges: tuple[CodedSpan, ...] = ()
    lock_time: Fraction | None = None
    changes_while_running: bool = False
    reset: Factors

    def window(self, step: str) -> Window | None:
        """The VCO's window at a step."""
        return self.vco_at.get(step, self.vco)

    def phase_detector_window(self, step: str) -> Window | None:
        """The window on f_in / reference_divider at a step."""
        return self.phase_detector_at.get(step, self.phase_detector)


@dataclass(frozen=True, slots=True, kw_only=True)
class Divider(FedNode):
    """A divider with a set of ratios; `codes` are what firmware writes."""

    kind: ClassVar[Kind] = "divider"
    ratios: RatioSet
    codes: Codes | None = None
    reset: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaler(FedNode):
    """A fixed factor; with `when_divider`, only while that divider's ratio is above `ratio_above`, else 1."""

    kind: ClassVar[Kind] = "scaler"
    factor: Fraction
    when_divider: str | None = None
    ratio_above: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(FedNode):
    """A consumer of a clock; `also` names other clocks it needs running.

    `generators` has its rate hardware by family, each as its family reads it.
    """

    kind: ClassVar[Kind] = "load"
    also: tuple[str, ...] = ()
    generators: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FlashRow:
    """One row of a wait-state table: up to this flash clock, so many wait states, perhaps only at a supply."""

    up_to: Fraction
    wait_states: int
    supply: Window | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A core-voltage step with its currents, settling time and wait-state table."""

    id: str
    volts: Fraction
    supply: Window | None = None
    code: int | None = None
    run_current: Amount | None = None
    base_current: Amount | None = None
    settle: Fraction | None = None
    flash: tuple[FlashRow, ...] = ()
    see: str | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """A relation between two clocks: node <= at_most * of, or node >= at_least * of."""

    node: str
    of: str
    at_most: Fraction | None = None
    at_least: Fraction | None = None
    see: str | None = None


@dataclass(frozen=True, slots=True)
class Supply:
    """The supply a part takes and how its core is fed from it."""

    lowest: Fraction | None = None
    highest: Fraction | None = None
    regulator: Literal["linear", "buck"] = "linear"
    efficiency: Fraction | None = None
    currents_at: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Mode:
    """A low-power mode: its supply current (A), what runs on in it, its wake-up (s) and the clock it wakes on."""

    id: str
    title: str
    current: Amount | None = None
    keeps: tuple[str, ...] = ()
    wake_up: Fraction | None = None
    wakes_on: str | None = None
    retains: str = ""
    see: str | None = None


@dataclass(frozen=True, slots=True)
class Pins:
    """What the pins may give at most (A): each, a strong one, all together; None where the sheet states none."""

    each: Fraction | None = None
    strong: Fraction | None = None
    total: Fraction | None = None
    see: str | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """A whole part sheet, read and found right. `order` has all node ids, none before its feeders."""

    name: str
    about: str
    figures_from: str
    revision: str
    author: str
    with_tolerance: bool
    supply: Supply
    core_clock: str
    flash_clock: str
    always: tuple[str, ...]
    steps: tuple[Step, ...]
    reset_step: str
    reset_wait_states: int | None
    nodes: Mapping[str, Node]
    order: tuple[str, ...]
    rules: tuple[Rule, ...]
    resets: Mapping[str, Value]
    """Every setting by its key (`core_source`, `main.feedback`) with its value after reset, in the sheet's order."""
    written: Mapping[str, Any]
    """The sheet as it was written."""
    modes: Mapping[str, Mode] = field(default_factory=dict)
    pins: Pins = field(default_factory=Pins)

    def step(self, step: str) -> Step:
        """The core-voltage step of that id."""
        return next(s for s in self.steps if s.id == step)

    def of_kind(self, kind: type[Node]) -> Iterator[Node]:
        """The nodes of one kind in the sheet's order."""
        return (node for node in self.nodes.values() if isinstance(node, kind))

    @property
    def loads(self) -> tuple[Load, ...]:
        """All loads in the sheet's order."""
        return tuple(node for node in self.nodes.values() if isinstance(node, Load))


def resets_of(node: Node) -> dict[str, Value]:
    """The settings of one node by key with their reset values; none for a node with nothing to set."""
    match node:
        case Selector() | Divider():
            return {node.id: node.reset}
        case Pll():
            return {f"{node.id}.{name}": getattr(node.reset, name) for name in FACTORS}
        case Oscillator(reset=Fraction() as reset) if len(node.choices) > 1:
            return {node.id: reset}
    return {}
