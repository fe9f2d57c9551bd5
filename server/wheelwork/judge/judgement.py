"""The judgement of a plan: clocks against windows, wait states, rules, supply, the lowest step that does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.clocks.propagate import Clock, Way, factors_of, find_way, propagate
from wheelwork.clocks.verdicts import STOPPED, Judged, fits, judge_clock
from wheelwork.findings import Finding
from wheelwork.judge.rates import JudgedLink
from wheelwork.part.nodes import Part, Pll, Rule, Step, Value
from wheelwork.plan.plan import Plan
from wheelwork.power.current import SupplyCurrent, estimate_current
from wheelwork.power.wait_states import needed_wait_states


@dataclass(frozen=True, slots=True)
class Judgement:
    """What there is to say about a plan.

    `nodes` has every node in the sheet's order (a stopped one is STOPPED), `phase_detectors` the PLLs that run,
    `clocks` the clocks that run. `wait_states_needed` None: past the last row of the step's table.
    """

    part: Part
    plan: Plan
    settings: Mapping[str, Value]
    way: Way
    clocks: Mapping[str, Clock]
    nodes: Mapping[str, Judged]
    phase_detectors: Mapping[str, Judged]
    wait_states_needed: int | None
    lowest_that_does: str | None
    current: SupplyCurrent
    legal: bool
    findings: tuple[Finding, ...] = ()
    links: tuple[JudgedLink, ...] = ()

    @property
    def wait_states_chosen(self) -> int | None:
        """The wait states of the plan; what is needed where the plan leaves them out."""
        return self.wait_states_needed if self.plan.wait_states is None else self.plan.wait_states

    @property
    def windows(self) -> list[Judged]:
        """All judged windows of the nodes that matter; a PLL's two count as two."""
        everything = [*self.nodes.values(), *self.phase_detectors.values()]
        return [judged for judged in everything if judged.window is not None and judged.clock is not None]

    @property
    def inside(self) -> int:
        """How many of the windows hold, tight ones included."""
        return sum(1 for judged in self.windows if not judged.outside)


def reckon(part: Part, plan: Plan) -> Judgement:
    """Judge a plan, findings left out. Every oscillator in use must be fitted (`clocks.propagate.unfitted` tells)."""
    settings = plan.complete(part)
    way = find_way(part, plan, settings)
    clocks = propagate(part, plan, settings, way)
    nodes = {name: _judge_node(part, name, clocks, plan.core_voltage) for name in part.nodes}
    detectors = dict(_detector_verdicts(part, plan.core_voltage, settings, way, clocks))
    step = part.step(plan.core_voltage)
    needed = needed_wait_states(step, clocks[part.flash_clock], plan.supply, part.with_tolerance)
    enough = needed is not None and (plan.wait_states is None or plan.wait_states >= needed)
    return Judgement(
        part=part,
        plan=plan,
        settings=settings,
        way=way,
        clocks=clocks,
        nodes=nodes,
        phase_detectors=detectors,
        wait_states_needed=needed,
        lowest_that_does=lowest_step(part, plan, settings, way, clocks),
        current=estimate_current(part, step, clocks, plan.supply),
        legal=enough
        and not any(judged.outside for judged in (*nodes.values(), *detectors.values()))
        and rules_hold(part, clocks)
        and supply_suits(part, step, plan),
    )


def _judge_node(part: Part, name: str, clocks: Mapping[str, Clock], step: str) -> Judged:
    clock = clocks.get(name)
    return STOPPED if clock is None else judge_clock(clock, part.nodes[name].window(step), part.with_tolerance)


def _detector_verdicts(
    part: Part, step: str, settings: Mapping[str, Value], way: Way, clocks: Mapping[str, Clock]
) -> Iterator[tuple[str, Judged]]:
    for name in way.order:
        node = part.nodes[name]
        if isinstance(node, Pll):
            clock = detector_clock(node, settings, clocks[node.input])
            yield name, judge_clock(clock, node.phase_detector_window(step), part.with_tolerance)


def detector_clock(node: Pll, settings: Mapping[str, Value], above: Clock) -> Clock:
    """The clock at a PLL's phase detector: its input over the reference divider."""
    return above.over(factors_of(node, settings).reference_divider)


def lowest_step(
    part: Part, plan: Plan, settings: Mapping[str, Value], way: Way, clocks: Mapping[str, Clock]
) -> str | None:
    """The last step of the sheet's list under which these clocks are legal, wait states following the table."""
    if not rules_hold(part, clocks):
        return None
    steps = (step.id for step in reversed(part.steps) if clocks_fit(part, step, plan, settings, way, clocks))
    return next(steps, None)


def clocks_fit(
    part: Part, step: Step, plan: Plan, settings: Mapping[str, Value], way: Way, clocks: Mapping[str, Clock]
) -> bool:
    """Whether every window, the wait-state table and the supply allow these clocks at a step (rules left aside)."""
    if not supply_suits(part, step, plan):
        return False
    if needed_wait_states(step, clocks[part.flash_clock], plan.supply, part.with_tolerance) is None:
        return False
    for name in way.order:
        node = part.nodes[name]
        if not fits(clocks[name], node.window(step.id), part.with_tolerance):
            return False
        if isinstance(node, Pll) and not _detector_fits(part, node, step, settings, clocks):
            return False
    return True


def _detector_fits(
    part: Part, node: Pll, step: Step, settings: Mapping[str, Value], clocks: Mapping[str, Clock]
) -> bool:
    window = node.phase_detector_window(step.id)
    return window is None or fits(detector_clock(node, settings, clocks[node.input]), window, part.with_tolerance)


def supply_suits(part: Part, step: Step, plan: Plan) -> bool:
    """Whether the plan's supply lies in the part's span and suits the step; a plan that names none is not judged."""
    if plan.supply is None:
        return True
    lowest, highest = part.supply.lowest, part.supply.highest
    if (lowest is not None and plan.supply < lowest) or (highest is not None and plan.supply > highest):
        return False
    return step.supply is None or plan.supply in step.supply


def rules_hold(part: Part, clocks: Mapping[str, Clock]) -> bool:
    """Whether every rule between two clocks holds."""
    return all(rule_holds(rule, clocks) for rule in part.rules)


def rule_holds(rule: Rule, clocks: Mapping[str, Clock]) -> bool:
    """Whether one rule holds; it counts only where both clocks matter. Both are taken at their nominal frequency."""
    node, of = clocks.get(rule.node), clocks.get(rule.of)
    if node is None or of is None:
        return True
    if rule.at_most is not None:
        return node.nominal <= rule.at_most * of.nominal
    return rule.at_least is None or node.nominal >= Fraction(rule.at_least) * of.nominal
