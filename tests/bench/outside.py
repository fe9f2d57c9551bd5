"""Search problems for two solvers made elsewhere, modelled from the sheet: one model for each core-voltage step.

Both are told what the part allows and nothing of how this program searches. Every selector input is a boolean, of which
one is chosen; a node is on where something on takes it. Windows and currents count where a node is on.

- CP-SAT (OR-Tools), one worker, in the quickest of three models for each question: frequencies are whole hertz, rounded
  down at each divider and PLL, so that an edge can be passed by less than a hertz. Its verdicts are therefore no proof
  of ours, nor is its optimum always one of ours.
- Z3: frequencies are reals, exact. A PLL is linear once its source's frequency and reference divider are chosen.

No tolerance, no scaler, no rule and no flash table: the problems have none (checked).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor, lcm
from typing import Any, Literal

from wheelwork.find.question import Question
from wheelwork.part.nodes import Divider, Load, Oscillator, Part, Pll, Scaler, Selector, Step
from wheelwork.plan.plan import Plan

Goal = Literal["verdict", "highest core", "least current"]


@dataclass(frozen=True)
class Outcome:
    """What a solver says: whether something fits, the best it has, whether that is proven.

    `seconds` is what solving alone took, `building` what its model took before.
    """

    fits: bool | None
    value: Fraction | None
    proven: bool
    seconds: float
    building: float


@dataclass
class Wanted:
    """What is asked of one node at a step."""

    needed: bool
    lowest: Fraction | None = None
    highest: Fraction | None = None
    base: Fraction = Fraction(0)
    slope: Fraction = Fraction(0)


@dataclass
class Stage:
    """A question at one core-voltage step, as numbers."""

    question: Question
    step: Step
    nodes: list[str] = field(init=False)
    wanted: dict[str, Wanted] = field(init=False)

    def __post_init__(self) -> None:
        part, plan = self.question.part, self.question.plan
        assert not part.rules
        assert not any(step.flash for step in part.steps)
        assert not self.question.pinned
        roots = _roots(part, plan)
        useful, needed = _upstream(part, roots, through_selectors=True), _upstream(part, roots, False)
        assert all(target.node in needed for target in self.question.targets)
        self.nodes = [name for name in part.order if name in useful]
        self.wanted = {name: self._wanted(name, name in needed) for name in self.nodes}

    def _wanted(self, name: str, needed: bool) -> Wanted:
        node = self.question.part.nodes[name]
        assert not isinstance(node, Scaler)
        assert not (isinstance(node, Oscillator) and (node.tolerance or node.tolerances))
        found = Wanted(needed)
        window = node.window(self.step.id)
        spans = [(window.lowest, window.highest)] if window else []
        for target in self.question.targets:
            if target.node == name:
                spans.append((target.at_least, target.at_most))
                if target.frequency is not None:
                    share = target.within or Fraction(0)
                    spans.append((target.frequency * (1 - share), target.frequency * (1 + share)))
        found.lowest = max((low for low, _ in spans if low is not None), default=None)
        found.highest = min((high for _, high in spans if high is not None), default=None)
        steady, slope = node.current_while_on(self.step.id), node.current_per_hertz(self.step.id)
        found.base = steady.typical if steady else Fraction(0)
        found.slope = slope.typical if slope else Fraction(0)
        if name == self.question.part.core_clock:
            found.slope += self.step.run_current.typical if self.step.run_current else Fraction(0)
        return found

    @property
    def fixed_current(self) -> Fraction:
        """What flows whatever is chosen."""
        return self.step.base_current.typical if self.step.base_current else Fraction(0)


def _roots(part: Part, plan: Plan) -> list[str]:
    loads = [part.nodes[name] for name in plan.in_use]
    also = [name for load in loads if isinstance(load, Load) for name in load.also]
    return [part.core_clock, part.flash_clock, *part.always, *plan.in_use, *plan.keep_running, *also]


def _upstream(part: Part, roots: list[str], through_selectors: bool) -> set[str]:
    seen: set[str] = set()
    waiting = list(roots)
    while waiting:
        name = waiting.pop()
        if name not in seen:
            seen.add(name)
            if through_selectors or not isinstance(part.nodes[name], Selector):
                waiting += part.nodes[name].feeders
    return seen


def frequencies_of(part: Part, plan: Plan, name: str) -> list[Fraction]:
    """The frequencies a node has where oscillators and selectors alone stand above it."""
    node = part.nodes[name]
    if isinstance(node, Oscillator):
        fitted = plan.fitted.get(name)
        if fitted is not None and fitted.frequency is not None:
            return [fitted.frequency]
        return list(node.choices)
    assert isinstance(node, Selector), "a PLL below a PLL is not modelled"
    return sorted({each for feeder in node.feeders for each in frequencies_of(part, plan, feeder)})


def solve(model: type[CpSat] | type[Z3], question: Question, goal: Goal, limit: float) -> Outcome:
    """The best over all steps; each is asked to beat the one before."""
    steps = question.part.steps if goal == "highest core" else question.part.steps[::-1]  # the likeliest first
    stages = [Stage(question, step) for step in steps]
    began = time.perf_counter()
    models = [model(stage, goal) for stage in stages]
    built = time.perf_counter() - began
    best: Fraction | None = None
    fits, proven, took = False, True, 0.0
    for each in models:
        started = time.perf_counter()
        found, sure = each.solve(best, max(0.05, limit - took))
        took += time.perf_counter() - started
        proven = proven and sure
        if found is not None:
            best, fits = found, True
            if goal == "verdict":
                return Outcome(True, None, True, took, built)
    return Outcome(fits if fits or proven else None, best, proven, took, built)


class CpSat:
    """A stage for CP-SAT: dividers by a boolean for each ratio, PLLs by one for each way to divide their input."""

    divides = False
    multiplies = False

    def __init__(self, stage: Stage, goal: Goal) -> None:
        from ortools.sat.python import cp_model

        self.solver_of, self.stage, self.goal = cp_model, stage, goal
        self.part, self.plan = stage.question.part, stage.question.plan
        self.model = cp_model.CpModel()
        self.clock: dict[str, Any] = {}
        self.top: dict[str, int] = {}
        self.on: dict[str, Any] = {}
        for name in stage.nodes:
            wanted = stage.wanted[name]
            self.on[name] = self.model.new_constant(1) if wanted.needed else self.model.new_bool_var("")
        for name in stage.nodes:
            self._add(name)
            self._limit(name)
        self._add_goal()

    def _add(self, name: str) -> None:
        node = self.part.nodes[name]
        match node:
            case Oscillator():
                values = [int(each) for each in frequencies_of(self.part, self.plan, name)]
                self.top[name] = max(values)
                domain = self.solver_of.Domain.from_values(values)
                self.clock[name] = self.model.new_int_var_from_domain(domain, "")
            case Selector():
                self._select(name, node)
            case Divider():
                self._divide(name, node)
            case Pll():
                self._multiply(name, node)
            case _:
                self.clock[name], self.top[name] = self.clock[node.feeders[0]], self.top[node.feeders[0]]
        if not isinstance(node, Selector | Oscillator):
            self.model.add_implication(self.on[name], self.on[node.feeders[0]])

    def _select(self, name: str, node: Selector) -> None:
        self.top[name] = max(self.top[feeder] for feeder in node.feeders)
        clock = self.clock[name] = self.model.new_int_var(0, self.top[name], "")
        chosen = {feeder: self.model.new_bool_var("") for feeder in node.feeders}
        self.model.add_exactly_one(chosen.values())
        for feeder, literal in chosen.items():
            self.model.add(clock == self.clock[feeder]).only_enforce_if(literal)
            self.model.add_bool_or(self.on[feeder], literal.negated(), self.on[name].negated())

    def _divide(self, name: str, node: Divider) -> None:
        above, ratios = self.clock[node.input], list(node.ratios)
        assert all(ratio.denominator == 1 for ratio in ratios)
        values = [int(ratio) for ratio in ratios]
        self.top[name] = self.top[node.input] // min(values)
        clock = self.clock[name] = self.model.new_int_var(0, self.top[name], "")
        if len(values) == 1:
            self._floored(clock * values[0], above, values[0] - 1)
            return
        if self.divides:
            ratio = self.model.new_int_var_from_domain(self.solver_of.Domain.from_values(values), "")
            self.model.add_division_equality(clock, above, ratio)
            return
        chosen = {value: self.model.new_bool_var("") for value in values}
        self.model.add_exactly_one(chosen.values())
        for value, literal in chosen.items():
            self.model.add(clock * value <= above).only_enforce_if(literal)
            self.model.add(above <= clock * value + value - 1).only_enforce_if(literal)

    def _floored(self, product: Any, above: Any, most: Any) -> None:
        self.model.add(product <= above)
        self.model.add(above <= product + most)

    def _multiply(self, name: str, node: Pll) -> None:
        parts = node.fraction_of
        dividers = [int(each) for each in node.reference_divider]
        feedbacks = list(node.feedback.runs)
        points = self.solver_of.Domain.from_intervals(
            [[int(run.first) * parts, int(run.last) * parts + parts - 1] for run in feedbacks]
        )
        assert all(run.step == 1 for run in feedbacks)
        factor = self.model.new_int_var_from_domain(points, "")
        most = self.top[node.input] * (int(node.feedback.highest) + 1) // min(dividers)
        window = node.window(self.stage.step.id)
        if window is not None and window.highest is not None and self.stage.wanted[name].needed:
            most = min(most, floor(window.highest))
        self.top[name] = most
        self.clock[name] = self.model.new_int_var(0, most, "")
        if self.multiplies:
            self._multiply_by_product(name, node, factor, dividers, most)
        else:
            self._multiply_by_ways(name, node, factor, dividers)

    def _multiply_by_product(self, name: str, node: Pll, factor: Any, dividers: list[int], most: int) -> None:
        """VCO × reference divider = input × factor, both products of two variables."""
        above, clock, parts = self.clock[node.input], self.clock[name], node.fraction_of
        divider = self.model.new_int_var_from_domain(self.solver_of.Domain.from_values(dividers), "")
        multiplied = self.model.new_int_var(0, self.top[node.input] * parts * (int(node.feedback.highest) + 1), "")
        self.model.add_multiplication_equality(multiplied, [above, factor])
        divided = self.model.new_int_var(0, most * max(dividers), "")
        self.model.add_multiplication_equality(divided, [clock, divider])
        self._floored(divided * parts, multiplied, divider * parts - 1)
        detector = node.phase_detector_window(self.stage.step.id)
        if detector is not None and detector.lowest is not None:
            low = detector.lowest
            self._where_on(name, above * low.denominator >= divider * low.numerator)
        if detector is not None and detector.highest is not None:
            high = detector.highest
            self._where_on(name, above * high.denominator <= divider * high.numerator)

    def _multiply_by_ways(self, name: str, node: Pll, factor: Any, dividers: list[int]) -> None:
        """A boolean for each input frequency with each reference divider; under it all is linear."""
        clock, parts = self.clock[name], node.fraction_of
        detector = node.phase_detector_window(self.stage.step.id)
        literals = []
        for frequency in frequencies_of(self.part, self.plan, node.input):
            for divider in dividers:
                if detector is None or frequency / divider in detector:
                    literals.append(literal := self.model.new_bool_var(""))
                    made, below = factor * int(frequency), clock * divider * parts
                    self.model.add(self.clock[node.input] == int(frequency)).only_enforce_if(literal)
                    self.model.add(below <= made).only_enforce_if(literal)
                    self.model.add(made <= below + divider * parts - 1).only_enforce_if(literal)
        self.model.add_at_most_one(literals)
        self.model.add_bool_or(*literals, self.on[name].negated())

    def _where_on(self, name: str, constraint: Any) -> None:
        added = self.model.add(constraint)
        if not self.stage.wanted[name].needed:
            added.only_enforce_if(self.on[name])

    def _limit(self, name: str) -> None:
        wanted = self.stage.wanted[name]
        if wanted.lowest is not None:
            self._where_on(name, self.clock[name] >= ceil(wanted.lowest))
        if wanted.highest is not None:
            self._where_on(name, self.clock[name] <= floor(wanted.highest))

    def _add_goal(self) -> None:
        core = self.clock[self.part.core_clock]
        if self.goal == "highest core":
            self.objective, self.scale = core, 1
            self.model.maximize(core)
        elif self.goal == "least current":
            terms = list(self._currents())
            self.objective = sum(terms)
            self.model.minimize(self.objective)

    def _currents(self) -> Iterator[Any]:
        amounts = [x for each in self.stage.wanted.values() for x in (each.base, each.slope)]
        self.scale = lcm(*(each.denominator for each in amounts))
        for name, wanted in self.stage.wanted.items():
            base, slope = int(wanted.base * self.scale), int(wanted.slope * self.scale)
            if wanted.needed:
                yield slope * self.clock[name] + base
            elif not slope:
                yield base * self.on[name]
            else:
                cost = self.model.new_int_var(0, slope * self.top[name] + base, "")
                self.model.add(cost >= slope * self.clock[name] + base).only_enforce_if(self.on[name])
                yield cost

    def solve(self, to_beat: Fraction | None, limit: float) -> tuple[Fraction | None, bool]:
        """The best of this stage if it beats what is given, and whether that is proven."""
        if self.goal == "highest core" and to_beat is not None:
            self.model.add(self.objective >= int(to_beat) + 1)
        if self.goal == "least current" and to_beat is not None:
            self.model.add(self.objective <= floor((to_beat - self.stage.fixed_current) * self.scale) - 1)
        solver = self.solver_of.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = limit
        status = solver.solve(self.model)
        proven = status in (self.solver_of.OPTIMAL, self.solver_of.INFEASIBLE)
        if status not in (self.solver_of.OPTIMAL, self.solver_of.FEASIBLE):
            return None, proven
        if self.goal == "verdict":
            return Fraction(1), True
        value = Fraction(round(solver.objective_value))
        return (value if self.goal == "highest core" else value / self.scale + self.stage.fixed_current), proven


class CpSatProducts(CpSat):
    """The same with PLLs as products."""

    multiplies = True


class CpSatDivisions(CpSatProducts):
    """The same with dividers as divisions by a variable too."""

    divides = True


FORMS = (CpSat, CpSatProducts, CpSatDivisions)


def quickest(question: Question, goal: Goal, limit: float) -> type[CpSat]:
    """The form of CP-SAT's model that proves its answer soonest; none is the best for every problem."""

    def standing(form: type[CpSat]) -> tuple[bool, float]:
        outcome = solve(form, question, goal, limit)
        return not outcome.proven, outcome.seconds

    return min(FORMS, key=standing)


class Z3:
    """A stage for Z3."""

    def __init__(self, stage: Stage, goal: Goal) -> None:
        import z3

        self.z3, self.stage, self.goal = z3, stage, goal
        self.part, self.plan = stage.question.part, stage.question.plan
        self.solver = z3.Solver() if goal == "verdict" else z3.Optimize()
        self.clock: dict[str, Any] = {}
        self.on: dict[str, Any] = {}
        for name in stage.nodes:
            self.on[name] = z3.BoolVal(True) if stage.wanted[name].needed else z3.Bool(f"{name} on")
        for name in stage.nodes:
            self._add(name)
            self._limit(name)
        self._add_goal()

    def _one(self, name: str, values: list[Any], meaning: Callable[[Any], Any]) -> dict[Any, Any]:
        literals = {value: self.z3.Bool(f"{name} is {value}") for value in values}
        self.solver.add(self.z3.Or(*literals.values()))
        self.solver.add(*(self.z3.AtMost(*literals.values(), 1),) if len(literals) > 1 else ())
        self.solver.add(*(self.z3.Implies(literal, meaning(value)) for value, literal in literals.items()))
        return literals

    def _number(self, value: Fraction) -> Any:
        return self.z3.Q(value.numerator, value.denominator)

    def _add(self, name: str) -> None:
        node = self.part.nodes[name]
        z3 = self.z3
        if isinstance(node, Oscillator | Selector | Divider | Pll):
            self.clock[name] = z3.Real(name)
        match node:
            case Oscillator():
                choices = frequencies_of(self.part, self.plan, name)
                self._one(name, choices, lambda value: self.clock[name] == self._number(value))
            case Selector():
                chosen = self._one(name, list(node.feeders), lambda feeder: self.clock[name] == self.clock[feeder])
                for feeder, literal in chosen.items():
                    self.solver.add(z3.Implies(z3.And(literal, self.on[name]), self.on[feeder]))
            case Divider():
                above = self.clock[node.input]
                self._one(name, list(node.ratios), lambda ratio: self.clock[name] * self._number(ratio) == above)
            case Pll():
                self._multiply(name, node)
            case _:
                self.clock[name] = self.clock[node.feeders[0]]
        if not isinstance(node, Selector | Oscillator):
            self.solver.add(z3.Implies(self.on[name], self.on[node.feeders[0]]))

    def _multiply(self, name: str, node: Pll) -> None:
        z3, parts = self.z3, node.fraction_of
        points = z3.Int(f"{name} points")
        runs = [
            z3.And(points >= int(run.first) * parts, points <= int(run.last) * parts + parts - 1)
            for run in node.feedback.runs
        ]
        self.solver.add(z3.Or(*runs))
        detector = node.phase_detector_window(self.stage.step.id)
        ways = [
            (frequency, divider)
            for frequency in frequencies_of(self.part, self.plan, node.input)
            for divider in node.reference_divider
            if detector is None or frequency / divider in detector
        ]

        def meaning(way: tuple[Fraction, Fraction]) -> Any:
            frequency, divider = way
            made = self._number(frequency / divider / parts) * z3.ToReal(points)
            return z3.And(self.clock[node.input] == self._number(frequency), self.clock[name] == made)

        literals = {way: z3.Bool(f"{name} is {way}") for way in ways}
        self.solver.add(z3.Implies(self.on[name], z3.Or(*literals.values())))
        self.solver.add(*(z3.Implies(literal, meaning(way)) for way, literal in literals.items()))
        self.solver.add(self.clock[name] >= 0)

    def _limit(self, name: str) -> None:
        wanted, clock = self.stage.wanted[name], self.clock[name]
        if wanted.lowest is not None:
            self.solver.add(self.z3.Implies(self.on[name], clock >= self._number(wanted.lowest)))
        if wanted.highest is not None:
            self.solver.add(self.z3.Implies(self.on[name], clock <= self._number(wanted.highest)))

    def _add_goal(self) -> None:
        self.objective = self.clock[self.part.core_clock]
        if self.goal == "highest core":
            self.solver.maximize(self.objective)
        elif self.goal == "least current":
            terms = [
                self.z3.If(self.on[name], self._number(each.base) + self._number(each.slope) * self.clock[name], 0)
                for name, each in self.stage.wanted.items()
                if each.base or each.slope
            ]
            self.objective = self.z3.Sum(*terms) + self._number(self.stage.fixed_current)
            self.solver.minimize(self.objective)

    def solve(self, to_beat: Fraction | None, limit: float) -> tuple[Fraction | None, bool]:
        """The best of this stage if it beats what is given, and whether that is proven."""
        self.solver.set("timeout", max(1, int(limit * 1000)))
        if to_beat is not None:
            bound = self._number(to_beat)
            self.solver.add(self.objective > bound if self.goal == "highest core" else self.objective < bound)
        said = self.solver.check()
        if said == self.z3.unsat:
            return None, True
        if said != self.z3.sat:
            return None, False
        if self.goal == "verdict":
            return Fraction(1), True
        value = self.solver.model().eval(self.objective, model_completion=True)
        return Fraction(value.numerator_as_long(), value.denominator_as_long()), True
