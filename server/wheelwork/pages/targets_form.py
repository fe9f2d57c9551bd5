"""The posted form of the Targets page: targets, what stays as it is, what to put first; to a plan and a question."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from wheelwork.find.asking import MOST_SHOWN, MOST_TARGETS, Asked, read_asked
from wheelwork.findings import Problem
from wheelwork.pages.form import field_of
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan, Target
from wheelwork.plan.reading import read_plan
from wheelwork.plan.targets import say_wanted, split_wanted
from wheelwork.plan.writing import write_plan
from wheelwork.quantities.units import SHARE, write_quantity

USUAL_FIRST = "fewest changes"
SIGNS = ("±", "+-", "+/-")
LISTED = 24
"""So many of the best are asked for at first."""
MORE_LISTED = MOST_SHOWN
MOST_ROWS = MOST_TARGETS + 1
"""More rows than can be searched are not drawn; that there are too many is told."""


@dataclass(frozen=True, slots=True)
class TypedTarget:
    """One row of what it must reach, as it was typed."""

    node: str
    wanted: str = ""
    within: str = ""

    @property
    def empty(self) -> bool:
        """Whether nothing was asked in it yet."""
        return not self.wanted.strip() and self.within.strip().lower() in ("", "none")


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a search is asked besides the plan: what to put first, what next, which crystal to try, how many to list."""

    first: str = USUAL_FIRST
    then: str = ""
    crystal: str = ""
    top: int = LISTED

    def query(self) -> dict[str, str]:
        """What of it stands in an address: what is not as usual."""
        told = {"first": self.first, "then": self.then, "crystal": self.crystal, "top": str(self.top)}
        usual = {"first": USUAL_FIRST, "then": "", "crystal": "", "top": str(LISTED)}
        return {name: text for name, text in told.items() if text != usual[name]}


@dataclass(frozen=True, slots=True)
class TargetsRead:
    """A form that was read: the plan with the targets and what is held that could be taken, the rows as typed."""

    plan: Plan
    rows: tuple[TypedTarget, ...]
    wishes: Wishes
    asked: Asked | None
    problems: tuple[Problem, ...] = ()


def read_wishes(fields: Mapping[str, str]) -> Wishes:
    """What is asked besides the plan, as it stands in a form or an address."""
    top = fields.get("top", "")
    return Wishes(
        first=fields.get("first", USUAL_FIRST) or USUAL_FIRST,
        then=fields.get("then", ""),
        crystal=fields.get("crystal", ""),
        top=MORE_LISTED if top == str(MORE_LISTED) else LISTED,
    )


def read_targets_form(part: Part, before: Plan, fields: Mapping[str, str]) -> TargetsRead:
    """The form against the plan it started from: rows that cannot be taken are told, and stay as they were typed."""
    rows = _typed_rows(fields)
    return _read(part, before, rows, _held(part, fields), read_wishes(fields))


def read_targets_of(part: Part, plan: Plan, wishes: Wishes) -> TargetsRead:
    """The same for a plan from its address, whose targets were read with it."""
    rows = tuple(type_target(target) for target in plan.targets)
    asked, problems = _ask(part, wishes)
    return TargetsRead(plan, rows, wishes, asked, problems)


def _read(
    part: Part, before: Plan, rows: tuple[TypedTarget, ...], held: tuple[str, ...], wishes: Wishes
) -> TargetsRead:
    filled = [place for place, row in enumerate(rows) if not row.empty]
    shown = write_plan(replace(before, held=held), part)
    taken, told = filled, list[Problem]()
    while True:
        plan, problems = read_plan({**shown, "target": [_raw(rows[place]) for place in taken]}, part)
        told += [_at_row(problem, taken) for problem in problems]
        faulty = {_row_of(problem) for problem in told}
        left = [place for place in taken if place not in faulty]
        if plan is not None or (left == taken and not shown.get("held")):
            break
        shown = {**shown, "held": []} if left == taken else shown
        taken = left
    asked, more = _ask(part, wishes)
    return TargetsRead(before if plan is None else plan, rows, wishes, asked, (*dict.fromkeys(told), *more))


def _typed_rows(fields: Mapping[str, str]) -> tuple[TypedTarget, ...]:
    """The rows in the order of their numbers; numbers may be missing."""
    rows = (
        {what: fields.get(f"target.{n}.{what}", "") for what in ("node", "wanted", "within")}
        for n in row_numbers(fields)
    )
    return tuple(TypedTarget(**row) for row in islice(rows, MOST_ROWS))


def row_numbers(fields: Mapping[str, str]) -> list[int]:
    """The numbers of the rows in a form, rising; some may be missing."""
    return sorted({int(place) for place in map(_number_in, fields) if place.isdecimal()})


def _number_in(name: str) -> str:
    head, _, rest = name.partition(".")
    return rest.partition(".")[0][:6] if head == "target" else ""


def _held(part: Part, fields: Mapping[str, str]) -> tuple[str, ...]:
    """What is ticked, in the sheet's order; what the part does not know is left for the reader to tell."""
    ticked = [name.removeprefix("held.") for name in fields if name.startswith("held.")]
    order = {name: place for place, name in enumerate((*part.resets, *part.nodes, "core_voltage"))}
    return tuple(sorted(ticked, key=lambda name: order.get(name, len(order))))


def _raw(row: TypedTarget) -> dict[str, str]:
    """A row as a target of a plan file; the allowed error counts where it is not written beside what is wanted."""
    within = row.within.strip()
    for sign in SIGNS:
        within = within.removeprefix(sign).strip()
    raw = {"node": row.node, **split_wanted(row.wanted)}
    return raw if within.lower() in ("", "none") else {"within": within, **raw}


def type_target(target: Target) -> TypedTarget:
    """A target as its row shows it; the row reads back as the same target."""
    within = "none" if target.within is None else f"±{write_quantity(target.within, SHARE)}"
    return TypedTarget(target.node, say_wanted(replace(target, within=None)), within)


def _ask(part: Part, wishes: Wishes) -> tuple[Asked | None, tuple[Problem, ...]]:
    prefer = [wishes.first, *([wishes.then] if wishes.then else [])]
    raw = {"prefer": prefer, "top": wishes.top, **({"crystal": wishes.crystal} if wishes.crystal else {})}
    asked, problems = read_asked(raw, part)
    fields = {"prefer.0": "first", "prefer.1": "then"}
    return asked, tuple(replace(problem, where=fields.get(problem.where, problem.where)) for problem in problems)


def _at_row(problem: Problem, taken: Sequence[int]) -> Problem:
    """A problem of a plan's target at the row and the field where it was typed."""
    head, _, rest = problem.where.partition(".")
    number, _, key = rest.partition(".")
    if head != "target" or not number.isdecimal() or int(number) >= len(taken):
        return replace(problem, where=field_of(problem))
    field = key if key in ("node", "within") else "wanted"
    allowed = WORDS_FOR.get(problem.allowed, problem.allowed)
    return replace(problem, where=f"target.{taken[int(number)]}.{field}", allowed=allowed)


WORDS_FOR = {
    "write frequency, at_least or at_most": "write a frequency such as 58 MHz, at least 4 MHz or at most 31 MHz",
    "write frequency beside within": "write none, or a frequency as what is wanted",
}
"""What a plan file is told by its keys, a form by what is typed there."""


def _row_of(problem: Problem) -> int | None:
    number = _number_in(problem.where)
    return int(number) if number.isdecimal() else None


def faults_of(problems: Sequence[Problem]) -> Iterator[tuple[str, str]]:
    """The field of each problem, with what is wrong there."""
    return ((problem.where, f"{problem.what}; {problem.allowed}") for problem in problems)
