"""The Targets page as a whole: what its template gets, built from the form as read and the search as found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from wheelwork.clocks.propagate import roots
from wheelwork.find.asking import settings_of
from wheelwork.find.mends import say_value
from wheelwork.findings import Problem, lower_first
from wheelwork.pages.controls import Field, Option
from wheelwork.pages.plan_view import ToldProblem
from wheelwork.pages.targets_form import TargetsRead, TypedTarget, Wishes, faults_of
from wheelwork.pages.targets_found import Address, Found, address_of
from wheelwork.pages.targets_words import name_clock, name_setting
from wheelwork.part.graph import upstream
from wheelwork.part.nodes import FACTORS, Oscillator, Part, Pll, Selector
from wheelwork.part.outline import outline_of
from wheelwork.plan.plan import Plan
from wheelwork.quantities.numbers import write_exact

PREFERENCES = (
    ("fewest changes", "Fewest changes from this plan"),
    ("least current", "Lowest supply current"),
    ("most room", "Most room to every limit"),
    ("highest core", "Highest core clock"),
    ("lowest core", "Lowest core clock"),
    ("least error", "Smallest error"),
    ("highest phase detector", "Fastest phase detector"),
    ("lowest core voltage", "Lowest core voltage"),
)
MOST_FREE, FREE_SHOWN = 16, 8
"""Settings that are not held stand in full up to the first number; of more, the second number and the rest folded."""


@dataclass(frozen=True, slots=True)
class TargetRow:
    """A row of what it must reach: its number and its three fields."""

    number: int
    node: Field
    wanted: Field
    within: Field

    @property
    def fields(self) -> tuple[Field, ...]:
        """The three from left to right."""
        return (self.node, self.wanted, self.within)


@dataclass(frozen=True, slots=True)
class HeldBox:
    """A check box for a setting that may stay as it is, with its present value in words."""

    key: str
    title: str
    value: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class TargetsPage:
    """What the Targets page's template gets."""

    plan: Plan
    part: Part
    permalink: str
    address: str
    rows: tuple[TargetRow, ...]
    held: tuple[HeldBox, ...]
    free: tuple[HeldBox, ...]
    free_shown: int
    first: tuple[Option, ...]
    then: Field
    crystal: Field | None
    top: int
    found: Found
    told: tuple[ToldProblem, ...] = ()
    focus: str = ""


def build_targets(read: TargetsRead, part: Part, link_of: Address, found: Found, focus: str = "") -> TargetsPage:
    """The page of a form as it was read, with what was found."""
    plan, told = read.plan, dict(faults_of(read.problems))
    permalink = link_of(plan)
    boxes = tuple(_boxes(part, plan))
    free = tuple(box for box in boxes if not box.ticked)
    return TargetsPage(
        plan=plan,
        part=part,
        permalink=permalink,
        address=address_of(permalink, read.wishes),
        rows=tuple(_target_row(part, row, place, told) for place, row in enumerate(read.rows)),
        held=tuple(box for box in boxes if box.ticked),
        free=free,
        free_shown=len(free) if len(free) <= MOST_FREE else FREE_SHOWN,
        first=tuple(Option(kind, label, kind == read.wishes.first) for kind, label in PREFERENCES),
        then=_then(read.wishes, told.get("then", "")),
        crystal=_crystal(part, plan, read.wishes),
        top=read.wishes.top,
        found=found,
        told=_tell(read.problems, read.rows),
        focus=focus,
    )


def _target_row(part: Part, row: TypedTarget, place: int, told: Mapping[str, str]) -> TargetRow:
    number = place + 1
    options = tuple(Option(name, title, name == row.node) for name, title in _clocks(part, row.node))
    fields = (
        Field(f"target.{place}.node", "choice", f"Clock, target {number}", row.node, options=options),
        Field(f"target.{place}.wanted", "text", f"Wanted, target {number}", row.wanted, placeholder="like 58 MHz"),
        Field(f"target.{place}.within", "text", f"Allowed error, target {number}", row.within, placeholder="none"),
    )
    node, wanted, within = (replace(field, fault=told.get(field.name, ""), counted=field.value) for field in fields)
    return TargetRow(number, node, wanted, within)


def _clocks(part: Part, chosen: str) -> Iterator[tuple[str, str]]:
    """The clocks that can be aimed at, as the outline has them; a selector that stands in another's row only if it is
    chosen.
    """
    named = dict.fromkeys(row.node for row in outline_of(part).rows)
    if chosen not in named:
        yield chosen, name_clock(part, chosen) if chosen in part.nodes else chosen
    for name in named:
        yield name, name_clock(part, name)


def next_clock(part: Part, plan: Plan, taken: Sequence[str]) -> str:
    """The clock that a new row names: the core first, then the loads in use, each once."""
    offered = (part.core_clock, *plan.in_use)
    return next((name for name in offered if name not in taken), part.core_clock)


def _boxes(part: Part, plan: Plan) -> Iterator[HeldBox]:
    """The settings that matter or could matter, and all that are held, in the outline's order; core voltage last."""
    could = _that_could_matter(part, plan)
    known = settings_of(part)
    held = set(plan.held)
    keys = [key for key in _in_outline_order(part) if key in held or (key in could and key in known)]
    for key in (*keys, "core_voltage"):
        for one in _factors_apart(part, plan, key):
            yield HeldBox(one, name_setting(part, one), _say_present(part, plan, one), one in held)


def _in_outline_order(part: Part) -> list[str]:
    rows = (key for row in outline_of(part).rows for key in (row.chooser, row.node) if key is not None)
    return list(dict.fromkeys([*rows, *part.nodes]))


def _that_could_matter(part: Part, plan: Plan) -> set[str]:
    """The nodes that must run and all that could feed them, targets among them."""
    ends = {*roots(part, plan), *(target.node for target in plan.targets)}
    return ends.union(*(upstream(part.nodes, end) for end in ends))


def _factors_apart(part: Part, plan: Plan, key: str) -> tuple[str, ...]:
    """A PLL's factors are one line, unless some of them are held apart."""
    apart = tuple(f"{key}.{factor}" for factor in FACTORS if f"{key}.{factor}" in part.resets)
    return apart if any(one in plan.held for one in apart) else (key,)


def _say_present(part: Part, plan: Plan, key: str) -> str:
    """What stands in a setting now: `PLL core tap`, `÷ 1, × 29`, `1.15 V`."""
    if key == "core_voltage":
        return f"{write_exact(part.step(plan.core_voltage).volts)}\u00a0V"
    settings = plan.complete(part)
    node = part.nodes.get(key)
    if isinstance(node, Pll):
        shown = [factor for factor in FACTORS if factor != "fraction" or node.fraction_of > 1]
        return ", ".join(_say_factor(part, plan, f"{key}.{factor}") for factor in shown)
    if key not in settings:
        return "" if node is None else _say_unset(plan, node.id)
    value = say_value(part, key, settings[key])
    if isinstance(node, Selector):
        return lower_first(value)
    return _say_factor(part, plan, key) if key.partition(".")[2] else value.replace("÷", "÷\u00a0")


def _say_factor(part: Part, plan: Plan, key: str) -> str:
    said = say_value(part, key, plan.complete(part)[key])
    if key.endswith(".fraction"):
        return f"+\u00a0{said}"
    return f"{said[:1]}\u00a0{said[1:]}"


def _say_unset(plan: Plan, node: str) -> str:
    return "in use" if node in plan.in_use else ""


def _then(wishes: Wishes, fault: str) -> Field:
    options = (("", "no matter what"), *((kind, lower_first(label)) for kind, label in PREFERENCES))
    offered = tuple(Option(kind, label, kind == wishes.then) for kind, label in options if kind != wishes.first)
    return Field("then", "choice", "And then", wishes.then, options=offered, fault=fault)


def _crystal(part: Part, plan: Plan, wishes: Wishes) -> Field | None:
    """The choice of an oscillator whose frequency is left open; none where the board fits nothing."""
    could = _that_could_matter(part, plan)
    nodes = [n for n in part.nodes.values() if isinstance(n, Oscillator) and n.fitted is not None and n.id in could]
    if not nodes:
        return None
    named = [("", "as it is fitted"), *((node.id, f"try others: {lower_first(node.title)}") for node in nodes)]
    options = tuple(Option(name, label, name == wishes.crystal) for name, label in named)
    return Field("crystal", "choice", "Which crystal?", wishes.crystal, options=options)


def _tell(problems: Sequence[Problem], rows: Sequence[TypedTarget]) -> tuple[ToldProblem, ...]:
    """The problems that need a list above the form: several, or one that no field shows."""
    labels = {
        f"target.{place}.{what}": f"{label}, target {place + 1}"
        for place in range(len(rows))
        for what, label in (("node", "Clock"), ("wanted", "Wanted"), ("within", "Allowed error"))
    }
    labels |= {"then": "And then", "crystal": "Which crystal?"}
    if len(problems) == 1 and problems[0].where in labels:
        return ()
    return tuple(
        ToldProblem(
            problem.where if problem.where in labels else "",
            labels.get(problem.where, problem.where),
            problem.what,
            problem.allowed,
        )
        for problem in problems
    )
