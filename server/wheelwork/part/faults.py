"""Faults of a sheet or plan in our words: what pydantic found becomes problems with what is allowed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError

from wheelwork.findings import Problem, name_list, nearest, quote

MOST_PROBLEMS = 100
"""Nobody reads more; what is wrong beyond them is told once these are mended."""

LONGEST_PLACE = 200

Path = tuple[str | int, ...]

EXAMPLES = {
    "format": "'wheelwork-part/1'",
    "name": "'Turnstone 58'",
    "core": "[core] with clock = 'core'",
    "clock": "'core'",
    "core_voltage": "[core_voltage.full] with volts = '1.15 V'",
    "volts": "'1.15 V'",
    "oscillator": "[oscillator.fast_rc] with frequency = '11 MHz'",
    "frequency": "'8 MHz'",
    "inputs": "['fast_rc', 'crystal']",
    "input": "'core'",
    "ratios": "'1..8'",
    "reference_divider": "'1..6'",
    "feedback": "'10..72'",
    "node": "'core'",
    "of": "'core'",
    "up_to": "'19 MHz'",
    "wait_states": "1",
    "divider": "'core'",
    "ratio_above": "2",
    "part": "'turnstone-58'",
}


class Enough(Exception):
    """So many problems are gathered that no more are looked for."""


@dataclass
class Gatherer:
    """Gathers what is wrong, up to MOST_PROBLEMS."""

    problems: list[Problem] = field(default_factory=list, init=False)

    def fault(self, where: str, what: str, allowed: str) -> None:
        """Note one problem. Raises Enough with the last one that is told."""
        self.note(Problem(where[:LONGEST_PLACE], what, allowed))

    def note(self, problem: Problem) -> None:
        """Note a problem as it is. Raises Enough with the last one that is told."""
        self.problems.append(problem)
        if len(self.problems) >= MOST_PROBLEMS:
            raise Enough

    def note_unknown(self, where: str, names: Iterable[str], known: Collection[str], kind: str) -> None:
        """Note each name that is not known, with the nearest that is."""
        for name in names:
            if name not in known:
                self.fault(where, f"{quote(name)} is no {kind}", offer_name(name, known))


def offer_name(name: str, known: Collection[str]) -> str:
    """What to write in place of a name that is not known."""
    like = nearest(name, known)
    if like or not known:
        return f"did you mean {like}?" if like else "the sheet has none"
    return f"{name_list(list(known))} {'is' if len(known) == 1 else 'are'}"


def tell_most(problems: Iterable[Problem], what: str) -> list[Problem]:
    """The problems, each once, up to MOST_PROBLEMS; where that cuts them off, the last one says so."""
    told = list(dict.fromkeys(problems))
    more = Problem(what, f"there may be more problems than these {MOST_PROBLEMS}", "mend these first")
    return [*told[:MOST_PROBLEMS], more] if len(told) >= MOST_PROBLEMS else told


def tell_faults(fault: ValidationError, model: type[BaseModel], examples: Mapping[str, str]) -> list[Problem]:
    """What pydantic found, in our words: place, what stands there, what is allowed; unknown keys offer the nearest."""
    return [_tell(error, model, examples) for error in fault.errors(include_url=False)[:MOST_PROBLEMS]]


def _tell(error: Any, model: type[BaseModel], examples: Mapping[str, str]) -> Problem:
    path: Path = tuple(piece for piece in error["loc"] if piece != "[key]")
    where = ".".join(map(str, path))[:LONGEST_PLACE] or "part"
    last = str(path[-1]) if path else "part"
    context = error.get("ctx", {})
    match error["type"]:
        case "unreadable":
            return Problem(where, context["what"], context["allowed"])
        case "missing":
            return Problem(where, "is missing", f"every {_owner(path)} has it, such as {examples.get(last, 'a value')}")
        case "extra_forbidden":
            return Problem(where, f"{quote(last)} is no key here", _offer_key(last, _fields_at(model, path[:-1])))
        case "literal_error":
            return Problem(where, f"{quote(error['input'])} is not offered", f"{context['expected']} are")
        case "too_long" | "too_short":
            bound = context.get("max_length", context.get("min_length"))
            most = "at most" if error["type"] == "too_long" else "at least"
            return Problem(where, f"there are {len(error['input'])} entries", f"{most} {bound}")
        case "int_type" | "int_from_float" | "bool_type":
            kind = "true or false" if error["type"] == "bool_type" else "a whole number without quotes"
            return Problem(where, f"{quote(error['input'])} is not of the right kind", f"write {kind}")
        case "greater_than_equal" | "less_than_equal" | "less_than" | "greater_than":
            low_or_high = next(iter(context.values()), "")
            side = {"ge": "at least", "le": "at most", "lt": "below", "gt": "above"}[next(iter(context))]
            return Problem(where, f"{quote(error['input'])} is out of range", f"write a number {side} {low_or_high}")
        case "list_type":
            return Problem(where, f"{quote(error['input'])} is no list", 'write a list, such as ["core"]')
        case "dict_type" | "model_type" | "model_attributes_type":
            return Problem(where, f"{quote(error['input'])} is no table", f"write a table: [{where}]")
    return Problem(where, f"{quote(error['input'])} cannot be read", error["msg"])


def _owner(path: Path) -> str:
    kinds = {"oscillator", "selector", "pll", "divider", "scaler", "load", "core_voltage", "rule", "target", "targets"}
    found = next((str(piece) for piece in path[:1] if piece in kinds), "sheet")
    return (
        {"core_voltage": "core-voltage step", "pll": "PLL", "targets": "target"}.get(found, found)
        if len(path) > 1
        else "sheet"
    )


def _fields_at(model: type[BaseModel], path: Iterable[str | int]) -> list[str]:
    """The keys that the model offers at a path; an id or a list's position leads on into the same model."""
    found: type[BaseModel] | None = model
    inside = False
    for piece in path:
        if inside or found is None:
            inside = False
            continue
        field = found.model_fields.get(str(piece))
        found, inside = _model_in(field.annotation if field else None)
    return list(found.model_fields) if found is not None else []


def _model_in(annotation: Any) -> tuple[type[BaseModel] | None, bool]:
    """The model in an annotation, and whether an id or a position stands between (a table or list of it)."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation, False
    between = get_origin(annotation) in (dict, list)
    for argument in get_args(annotation):
        found, inner = _model_in(argument)
        if found is not None:
            return found, between or inner
    return None, between


def _offer_key(key: str, offered: list[str]) -> str:
    like = nearest(key, offered)
    return f"did you mean {like}?" if like else f"the keys here are {name_list(offered, 30)}"
