"""The forms a plan is handed over in, found by walking this folder: every module with a `FORM` is one."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

from wheelwork import handover
from wheelwork.handover.names import PREFIX, slug
from wheelwork.judge import Judgement


@dataclass(frozen=True, slots=True)
class Wish:
    """How a text is wanted: the prefix of names, and whether each value has its reason beside it."""

    prefix: str = PREFIX
    reasons: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form: its name in addresses, what people call it and what it is for, and the function that writes it.

    `media_type` and `ending` are those of a file of it; `place` says where it stands in a list. `named` and `reasoned`
    tell whether the prefix and the reasons make a difference to it. `read_constants` gives the constants in a text of
    it by name, as they are written there, where it has any.
    """

    name: str
    title: str
    about: str
    media_type: str
    ending: str
    place: int
    write: Callable[[Judgement, Wish], str]
    named: bool = False
    reasoned: bool = False
    read_constants: Callable[[str], Mapping[str, str]] | None = None


@cache
def forms() -> Mapping[str, Form]:
    """Every form by its name, in the order of their places."""
    found = (module.name for module in pkgutil.iter_modules(handover.__path__) if module.name != "forms")
    modules = (importlib.import_module(f"{handover.__name__}.{name}") for name in found)
    known = (getattr(module, "FORM", None) for module in modules)
    ordered = sorted((form for form in known if isinstance(form, Form)), key=lambda form: form.place)
    return {form.name: form for form in ordered}


def file_name(judgement: Judgement, form: Form) -> str:
    """What a file of a plan is called: `skerry_3_steady_running_clocks.h`."""
    return f"{slug(judgement.plan.name, 'PLAN').lower()}_clocks.{form.ending}"
