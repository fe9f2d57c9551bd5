"""A question at one core-voltage step, made small: what hangs below each node, and where each node may stand.

Windows, the flash table, targets and limits become one span of the nominal frequency for each node and each tolerance
of a source, in rationals. What is pinned has one choice. Nothing here decides; tables by frequency do (`forest.py`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property, lru_cache
from math import lcm

from wheelwork.clocks.propagate import roots, tolerance_of
from wheelwork.find.lattice import Feedbacks, Lattice
from wheelwork.find.tables import Undecided
from wheelwork.judge.judgement import supply_suits
from wheelwork.part.nodes import FACTORS, Divider, Node, Oscillator, Part, Pll, Scaler, Selector, Step
from wheelwork.plan.plan import Plan, Target
from wheelwork.power.wait_states import last_row
from wheelwork.quantities.ratios import RatioSet, Run
from wheelwork.quantities.spans import EXACT, Span, Window

MOST_POINTS = 20_000
MOST_BITS = 4000
"""Finer units than this are left alone: whole numbers of a thousand digits take too long."""

Regimes = tuple[tuple[str, bool], ...]
"""Conditional dividers above a node, each with whether its ratio is above the number that its scalers ask for."""

Low = tuple[Fraction, bool]
"""A lower edge and whether it is open (does not belong)."""
High = tuple[Fraction, bool]
"""An upper edge and whether it is closed (belongs). The tighter of two is the smaller pair; of `Low` the larger."""
Reach = tuple[Low | None, High | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a stage of the search asks beyond windows and targets; judged on the nominal of nodes that run.

    `running` must run, `stopped` must not. `room`, `error` and `detector` are what every window, target and phase
    detector must keep at least (room, detector) or at most (error); the flag says whether the value itself belongs.
    `anywhere`: windows, the flash table and the supply are left aside.
    """

    at_least: Mapping[str, Low] = field(default_factory=dict)
    at_most: Mapping[str, High] = field(default_factory=dict)
    running: frozenset[str] = frozenset()
    stopped: frozenset[str] = frozenset()
    room: Low | None = None
    error: High | None = None
    detector: Low | None = None
    anywhere: bool = False

    def above(self, node: str, value: Fraction, belongs: bool = False) -> Limits:
        """The limits with a node above a frequency (in hertz), or on it where it belongs."""
        low = (value, not belongs)
        old = self.at_least.get(node)
        return replace(self, at_least={**self.at_least, node: low if old is None else max(old, low)})

    def below(self, node: str, value: Fraction, belongs: bool = False) -> Limits:
        """The limits with a node below a frequency, or on it where it belongs."""
        high = (value, belongs)
        old = self.at_most.get(node)
        return replace(self, at_most={**self.at_most, node: high if old is None else min(old, high)})

    def exactly(self, node: str, value: Fraction) -> Limits:
        """The limits with a node at a frequency."""
        return self.above(node, value, True).below(node, value, True)

    def with_running(self, node: str) -> Limits:
        """The limits with a node that must run."""
        return replace(self, running=self.running | {node})

    def with_stopped(self, node: str) -> Limits:
        """The limits with a node that must not run."""
        return replace(self, stopped=self.stopped | {node})


NO_LIMITS = Limits()
ANYWHERE = Limits(anywhere=True)


class Problem:
    """The structure and the spans of a question at one core-voltage step."""

    def __init__(
        self,
        part: Part,
        plan: Plan,
        step: Step,
        targets: Iterable[Target] = (),
        pinned: Iterable[str] = (),
        limits: Limits = NO_LIMITS,
    ) -> None:
        self.part, self.plan, self.step = part, plan, step
        self.targets, self.held, self.limits = tuple(targets), frozenset(pinned), limits
        self.settings = plan.complete(part)
        self.sources = [node for node in part.nodes.values() if isinstance(node, Oscillator)]
        tolerances = {source.id: tolerance_of(source, plan) or EXACT for source in self.sources}
        self.tolerances = tuple(dict.fromkeys(tolerances.values()))
        """The tolerances that the sources have; a source's *kind* is the place of its own among them."""
        self.kind_of = {name: self.tolerances.index(tolerance) for name, tolerance in tolerances.items()}
        always_on = [s.id for s in self.sources if s.always_on and self.frequencies(s)]
        self.roots = {*roots(part, plan), *always_on}
        self.required = dict.fromkeys((*(target.node for target in self.targets), *sorted(limits.running)))
        """Nodes that must run, but may run only where something asks for them."""
        self._look_down()
        self._mark_required()
        self._spans: dict[tuple[str, int, bool], Reach] = {}
        self._kin: dict[tuple[str, int], int] = {}
        self.conditions = self._find_conditions()

    def _look_down(self) -> None:
        """What hangs below each node: whether it must be on, can serve anything, has a PLL below."""
        nodes = self.part.nodes
        consumers: dict[str, list[str]] = {name: [] for name in nodes}
        for node in nodes.values():
            for feeder in node.feeders:
                consumers[feeder].append(node.id)
        self.needed: dict[str, bool] = {}
        self.useful: dict[str, bool] = {}
        self.pll_below: dict[str, bool] = {}
        for name in reversed(self.part.order):
            below = consumers[name]
            plain = [each for each in below if not isinstance(nodes[each], Selector)]
            self.needed[name] = name in self.roots or any(self.needed[each] for each in plain)
            self.useful[name] = name in self.roots or any(self.useful[each] for each in below)
            self.pll_below[name] = any(
                self.useful[each] and (isinstance(nodes[each], Pll) or self.pll_below[each]) for each in below
            )
        self.consumers = {name: [each for each in below if self.useful[each]] for name, below in consumers.items()}
        selectors = [name for name, node in nodes.items() if isinstance(node, Selector) and self.useful[name]]
        self.bits = {name: 1 << place for place, name in enumerate(selectors)}
        self.must = sum(bit for name, bit in self.bits.items() if self.needed[name])

    def _mark_required(self) -> None:
        """A bit for each required node that need not be on: rows in which it is on carry it, as a selector's."""
        self.marks: dict[str, int] = {}
        for name in self.required:
            if self.needed[name]:
                continue
            if name in self.bits:
                self.must |= self.bits[name]
            elif self.useful[name]:
                self.marks[name] = 1 << (len(self.bits) + len(self.marks))
                self.must |= self.marks[name]

    @property
    def all_bits(self) -> int:
        """The bits of all selectors and marks."""
        return (1 << (len(self.bits) + len(self.marks))) - 1

    def _find_conditions(self) -> dict[str, Fraction]:
        """The dividers on which scalers depend, each with its number; no selector may stand between the two."""
        found: dict[str, Fraction] = {}
        for name, node in self.part.nodes.items():
            if isinstance(node, Scaler) and node.when_divider is not None and self.useful[name]:
                above = node.input
                while above != node.when_divider:
                    feeders = self.part.nodes[above].feeders
                    if len(feeders) != 1 or isinstance(self.part.nodes[above], Pll):
                        raise Undecided
                    above = feeders[0]
                if found.setdefault(node.when_divider, node.ratio_above) != node.ratio_above:
                    raise Undecided
        return found

    @property
    def refuted(self) -> bool:
        """Whether the supply or a span without any frequency on a node that must run rules the step out at once."""
        if self.limits.anywhere:
            return not all(self.useful[name] for name in self.required)
        if not supply_suits(self.part, self.step, self.plan):
            return True
        if not all(self.useful[name] for name in self.required):
            return True
        must_run = [node for name, node in self.part.nodes.items() if self.needed[name] or name in self.required]
        kinds = {self.kind_of[source.id] for source in self.sources if self.useful[source.id]}
        return any(all(is_empty(self.span(node, kind)) for kind in kinds) for node in must_run)

    def smallest_unit(self) -> int:
        """Units to the hertz, so that every edge, seen through every ratio on its way, is whole."""
        edges = _common_multiple(edge.denominator for source in self.sources for edge in self._edges(source))
        ratios = _common_multiple(ratio for node in self.part.nodes.values() for ratio in _parts_of_ratios(node))
        if (ratios.bit_length() - 1) * len(self.part.nodes) > MOST_BITS:
            raise Undecided
        return edges * int(ratios ** len(self.part.nodes))

    def _edges(self, source: Oscillator) -> Iterator[Fraction]:
        for node in self.part.nodes.values():
            if self.useful[node.id]:
                yield from (edge[0] for edge in self.span(node, self.kind_of[source.id]) if edge is not None)

    def span(self, node: Node, kind: int) -> Reach:
        """Between which nominal frequencies a node may stand when its source has a tolerance of a kind."""
        key = (node.id, kind, False)
        if key not in self._spans:
            self._spans[key] = _intersect(self._spans_of(node, self.tolerances[kind]))
        return self._spans[key]

    def _spans_of(self, node: Node, tolerance: Span) -> Iterator[Reach]:
        limits = self.limits
        if limits.anywhere:
            return
        yield self._nominal(node.window(self.step.id), tolerance)
        yield limits.at_least.get(node.id), limits.at_most.get(node.id)
        if node.id == self.part.flash_clock and self.step.flash:
            yield None, (self._flash_reach(tolerance), True)
        for target in self.targets:
            if target.node == node.id:
                yield from _target_spans(target, tolerance)
                if limits.error is not None and target.frequency is not None:
                    error, closed = limits.error
                    yield (target.frequency * (1 - error), not closed), (target.frequency * (1 + error), closed)
        if node.id in limits.stopped:
            yield (Fraction(1), False), (Fraction(0), True)

    def detector_span(self, node: Pll, kind: int) -> Reach:
        """The same for a PLL's phase detector."""
        key = (node.id, kind, True)
        if key not in self._spans:
            window = None if self.limits.anywhere else node.phase_detector_window(self.step.id)
            spans = [self._nominal(window, self.tolerances[kind]), (self.limits.detector, None)]
            self._spans[key] = _intersect(spans)
        return self._spans[key]

    def kin(self, name: str, kind: int) -> int:
        """The first kind of source below which a node and all that hangs on it may stand at the same frequencies."""
        if kind and (name, kind) not in self._kin:
            own = self._spans_below(name, kind)
            self._kin[name, kind] = next(each for each in range(kind + 1) if self._spans_below(name, each) == own)
        return self._kin[name, kind] if kind else kind

    def _spans_below(self, name: str, kind: int) -> list[Reach]:
        """The spans of a node and of all that hangs on it, each once."""
        below, spans = [name], []
        for each in below:
            node = self.part.nodes[each]
            spans.append(self.span(node, kind))
            if isinstance(node, Pll):
                spans.append(self.detector_span(node, kind))
            below.extend(other for other in self.consumers[each] if other not in below)
        return spans

    def _nominal(self, window: Window | None, tolerance: Span) -> Reach:
        """A window as a span of the nominal frequency: where the tolerance counts, both edges are drawn in by it."""
        if window is None:
            return None, None
        reaches: list[Reach] = []
        tolerant = window.accuracy or self.part.with_tolerance
        down, up = (1 + tolerance.lowest, 1 + tolerance.highest) if tolerant else (Fraction(1), Fraction(1))
        reaches.append(
            (
                None if window.lowest is None else (window.lowest / down, False),
                None if window.highest is None else (window.highest / up, True),
            )
        )
        if self.limits.room is not None:
            room, open_ = self.limits.room
            down, up = 1 + tolerance.lowest, 1 + tolerance.highest
            reaches.append(
                (
                    None if window.lowest is None else (window.lowest * (1 + room) / down, open_),
                    None if window.highest is None else (window.highest * (1 - room) / up, not open_),
                )
            )
        return _intersect(reaches)

    def _flash_reach(self, tolerance: Span) -> Fraction:
        row = last_row(self.step, self.plan.supply)
        reach = Fraction(0) if row is None else row.up_to
        return reach / (1 + tolerance.highest) if self.part.with_tolerance else reach

    def frequencies(self, source: Oscillator) -> tuple[Fraction, ...]:
        """The frequencies an oscillator can have: what is fitted, what is pinned, or its choices."""
        fitted = self.plan.fitted.get(source.id)
        if source.fitted is not None:
            return () if fitted is None or fitted.frequency is None else (fitted.frequency,)
        if source.id in self.held and source.id in self.settings:
            return (Fraction(self.settings[source.id]),)
        return source.choices

    def fastest(self) -> dict[str, Fraction]:
        """A frequency that each node can surely not pass, by its sources and ratios (hertz), windows left aside."""
        found: dict[str, Fraction] = {}
        for name in self.part.order:
            node = self.part.nodes[name]
            above = max((found[feeder] for feeder in node.feeders), default=Fraction(0))
            match node:
                case Oscillator():
                    found[name] = max(self.frequencies(node), default=Fraction(0))
                case Divider():
                    found[name] = above / min(run.first for run in node.ratios.runs)
                case Scaler():
                    found[name] = above * max(node.factor, Fraction(1))
                case Pll():
                    divider = min(run.first for run in node.reference_divider.runs)
                    found[name] = above / divider * (max(run.last for run in node.feedback.runs) + 1)
                case _:
                    found[name] = above
        return found

    def held_elsewhere(self, node: Selector, above: str) -> bool:
        """Whether a selector is pinned to another input than this."""
        return node.id in self.held and self.settings[node.id] != above

    def split(self, node: Divider, regimes: Regimes) -> list[tuple[Regimes, list[Fraction]]]:
        """The ratios of a divider, apart by the condition that depends on them."""
        ratios = [Fraction(self.settings[node.id])] if node.id in self.held else _listed(node.ratios)
        bound = self.conditions.get(node.id)
        if bound is None:
            return [(regimes, ratios)]
        parts = [(True, [r for r in ratios if r > bound]), (False, [r for r in ratios if r <= bound])]
        return [((*regimes, (node.id, above)), some) for above, some in parts if some]

    def reference_dividers(self, node: Pll) -> Iterable[Fraction]:
        """The reference dividers a PLL may use."""
        key = f"{node.id}.reference_divider"
        return (Fraction(self.settings[key]),) if self._is_held(node, key) else node.reference_divider

    def detectors(self, node: Pll, frequency: Fraction, kind: int) -> Iterator[tuple[Fraction, Fraction]]:
        """Each reference divider whose phase detector is inside at an input frequency, with the detector's frequency.

        The reference divider rises, so the fastest phase detector comes first.
        """
        low, high = self.detector_span(node, kind)
        for divider in self.reference_dividers(node):
            detector = frequency / divider
            if (low is None or (detector, False) >= low) and (high is None or (detector, True) <= high):
                yield divider, detector

    def lattice(self, node: Pll, frequency: Fraction, kind: int) -> Lattice:
        """The points of a PLL at an input frequency.

        What a limit asks of phase detectors is asked of the factors that are shown.
        """
        tightened = self.limits.room is not None or self.limits.detector is not None
        whole = self._untightened.lattice(node, frequency, kind) if tightened else None
        divider, feedback, fraction = (Fraction(self.settings[f"{node.id}.{name}"]) for name in FACTORS)
        own = (divider, int(feedback) * node.fraction_of + int(fraction))
        return Lattice(self.detectors(node, frequency, kind), self.feedbacks(node), whole, own)

    @cached_property
    def _untightened(self) -> Problem:
        limits = replace(self.limits, room=None, detector=None)
        return Problem(self.part, self.plan, self.step, self.targets, self.held, limits)

    def feedbacks(self, node: Pll) -> list[Feedbacks]:
        """The feedback factors with their fractions, in runs."""
        fraction, feedback = f"{node.id}.fraction", f"{node.id}.feedback"
        pinned = int(Fraction(self.settings[fraction])) if self._is_held(node, fraction) else None
        runs: tuple[Run, ...] = node.feedback.runs
        if self._is_held(node, feedback):
            value = Fraction(self.settings[feedback])
            runs = (Run(value, value),)
        return [Feedbacks(run, node.fraction_of, pinned) for run in runs]

    def _is_held(self, node: Pll, key: str) -> bool:
        return key in self.held or node.id in self.held


def is_empty(reach: Reach) -> bool:
    """Whether no frequency lies in a span."""
    low, high = reach
    if low is None or high is None:
        return False
    return low[0] > high[0] or (low[0] == high[0] and (low[1] or not high[1]))


def holds(reach: Reach, frequency: Fraction) -> bool:
    """Whether a frequency lies in a span."""
    low, high = reach
    return (low is None or (frequency, False) >= low) and (high is None or (frequency, True) <= high)


def factor_under(node: Scaler, regimes: Regimes) -> Fraction:
    """A scaler's factor where its condition is known."""
    if node.when_divider is None:
        return node.factor
    return node.factor if dict(regimes)[node.when_divider] else Fraction(1)


@lru_cache(maxsize=4096)
def _listed(ratios: RatioSet) -> list[Fraction]:
    """The ratios of a set, which are asked for again and again. Raises Undecided where there are too many."""
    if ratios.size > MOST_POINTS:
        raise Undecided
    return list(ratios)


def _common_multiple(numbers: Iterable[int]) -> int:
    """The least common multiple. Raises Undecided where it grows beyond what can be reckoned with."""
    common = 1
    for number in numbers:
        common = lcm(common, number)
        if common.bit_length() > MOST_BITS:
            raise Undecided
    return common


def _parts_of_ratios(node: Node) -> Iterator[int]:
    """Numbers by which an edge may have to be divided on its way up."""
    if isinstance(node, Divider):
        yield from (run.first.denominator for run in node.ratios.runs)
    elif isinstance(node, Scaler):
        yield node.factor.numerator


def _intersect(spans: Iterable[Reach]) -> Reach:
    low: Low | None = None
    high: High | None = None
    for lowest, highest in spans:
        low = lowest if low is None else low if lowest is None else max(low, lowest)
        high = highest if high is None else high if highest is None else min(high, highest)
    return low, high


def _target_spans(target: Target, tolerance: Span) -> Iterator[Reach]:
    """Between which nominal frequencies a target is met; with a share, lowest and highest have to lie in the span."""
    yield (
        None if target.at_least is None else (target.at_least, False),
        None if target.at_most is None else (target.at_most, True),
    )
    if target.frequency is not None and target.within is None:
        yield (target.frequency, False), (target.frequency, True)
    elif target.frequency is not None and target.within is not None:
        low = target.frequency * (1 - target.within) / (1 + tolerance.lowest)
        yield (low, False), (target.frequency * (1 + target.within) / (1 + tolerance.highest), True)
