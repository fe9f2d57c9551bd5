"""Two people kept at once: what each changed since the revision both began with, and what is to stand.

Where only one changed a place, that change stands; where both did, one of the two is chosen. Nothing is written until
it is kept, and then only on top of the revision that was shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from starlette.responses import RedirectResponse, Response

from wheelwork.findings import Problem
from wheelwork.pages.keeping import Worker, address_of, keep_plan, kept_reference, remember_worker, typed_worker
from wheelwork.pages.kept_words import label_of, say_at
from wheelwork.pages.opened import open_link, open_raw
from wheelwork.pages.rendering import render
from wheelwork.part.nodes import Part
from wheelwork.plan.permalink import read_permalink
from wheelwork.shelf.library import Library
from wheelwork.shelf.plans import NotKept, Overtaken, Plans, Revision
from wheelwork.shelf.store import ShelfFault

WHOLE = ("link", "target", "phase", "battery")
"""What is taken from one side as a whole: a list's numbers say nothing of what stands behind them."""
MINE, THEIRS = "mine", "theirs"
Leaves = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Place:
    """A place that one or both changed: in words, and whether there is something to choose."""

    where: str
    label: str
    theirs: str
    mine: str
    both: bool
    changed_by: str


@dataclass(frozen=True, slots=True)
class TogetherPage:
    """The two versions; `places` are only those that differ."""

    id: str
    name: str
    permalink: str
    worked_on: int
    theirs: Revision
    places: tuple[Place, ...]
    worker: Worker
    fault: Problem | None = None

    @property
    def both(self) -> tuple[Place, ...]:
        """The places that both changed."""
        return tuple(place for place in self.places if place.both)


def show_together(
    library: Library, plans: Plans, id: str, link: str, worker: Worker, fault: Problem | None = None, status: int = 200
) -> Response:
    """The page of two versions. Raises NotKept, ShelfFault."""
    raw, problems = read_permalink(link)
    opened = open_link(library, link)
    reference = None if opened.plan is None else kept_reference(opened.plan)
    if raw is None or opened.plan is None or reference is None or reference[0] != id:
        missing = Problem("plan", "this address carries no version of that plan", "go back and keep again")
        return render("problem.html", 400, problems=problems or [missing], title="There is nothing to put together")
    theirs, base = plans.opened(id), plans.opened(id, reference[1])
    places = tuple(_places(opened.part, leaves(base.raw), leaves(theirs.raw), leaves(raw)))
    page = TogetherPage(id, str(raw.get("name", "")), link, reference[1], theirs, places, worker, fault)
    return render("shelf/together.html", status, page=page)


def _places(part: Part | None, base: Leaves, theirs: Leaves, mine: Leaves) -> Iterator[Place]:
    for where in dict.fromkeys((*base, *theirs, *mine)):
        before, their, my = base.get(where), theirs.get(where), mine.get(where)
        if their == my:
            continue
        by = "both" if their != before and my != before else MINE if my != before else THEIRS
        told = [_say(part, where, each) for each in (their, my)]
        yield Place(where, label_of(part, where), told[0], told[1], by == "both", by)


def _say(part: Part | None, where: str, value: Any) -> str:
    if where in WHOLE and value:
        names = [str(each.get("name") or each.get("node") or "") for each in value] if isinstance(value, list) else []
        return f"{len(value)}: {', '.join(filter(None, names))}" if names else str(value)
    return say_at(part, where, value)


def leaves(raw: Mapping[str, Any], place: str = "") -> dict[str, Any]:
    """Every place of a plan that can be taken by itself, with what stands there."""
    found: dict[str, Any] = {}
    for key, value in raw.items():
        where = f"{place}.{key}" if place else str(key)
        if where in ("format", "kept"):
            continue
        if isinstance(value, Mapping) and where not in WHOLE:
            found |= leaves(value, where)
        else:
            found[where] = value
    return found


def put_together(base: Leaves, theirs: Leaves, mine: Leaves, chosen: Mapping[str, str]) -> dict[str, Any]:
    """The plan with the changes of both; where both changed a place, `chosen` says whose stands (mine by default).

    >>> put_together({"a": 1, "b": 1}, {"a": 2, "b": 2}, {"a": 1, "b": 3}, {"b": "theirs"})
    {'a': 2, 'b': 2}
    """
    one, other, first = leaves(theirs), leaves(mine), leaves(base)
    together = dict(one)
    for where in dict.fromkeys((*first, *one, *other)):
        changed = other.get(where) != first.get(where)
        both = changed and one.get(where) != first.get(where)
        if changed and (not both or chosen.get(where, MINE) == MINE):
            if where in other:
                together[where] = other[where]
            else:
                together.pop(where, None)
    return _nested(together)


def _nested(flat: Leaves) -> dict[str, Any]:
    """Tables again from their places."""
    raw: dict[str, Any] = {}
    for where, value in flat.items():
        *tables, key = where.split(".")
        table = raw
        for name in tables:
            table = table.setdefault(name, {})
        table[key] = value
    return raw


def keep_together(library: Library, plans: Plans, id: str, fields: Mapping[str, str], worker: Worker) -> Response:
    """Keep what was chosen, or mine as a plan of its own; the page again where yet another was kept meanwhile."""
    worker, link = typed_worker(fields, worker), fields.get("plan", "")
    mine, _ = read_permalink(link)
    opened = open_link(library, link)
    if mine is None or opened.plan is None or opened.part is None or (reference := kept_reference(opened.plan)) is None:
        return show_together(library, plans, id, link, worker)
    own = "own" in fields
    raw = dict(mine)
    shown = fields.get("shown", "")
    if not own:
        theirs = plans.opened(id, int(shown) if shown.isdecimal() and 0 < len(shown) < 10 else None)
        chosen = {key.removeprefix("choose."): value for key, value in fields.items() if key.startswith("choose.")}
        raw = put_together(plans.opened(id, reference[1]).raw, theirs.raw, mine, chosen)
        raw["kept"] = f"{id}/{theirs.revision}"
    together = open_raw(library, raw)
    if together.part is None or together.plan is None:
        fault = next(iter(together.problems), Problem("plan", "the two do not go together", "choose otherwise"))
        return show_together(library, plans, id, link, worker, fault, 422)
    try:
        answer: Response = RedirectResponse(
            address_of(keep_plan(library, together.part, together.plan, worker[0], own)), 303
        )
    except Overtaken:
        query = urlencode({"plan": link})
        answer = RedirectResponse(f"/shelf/{id}/together?{query}", 303)
    except (ShelfFault, NotKept) as fault:
        return show_together(library, plans, id, link, worker, fault.problem, 503)
    remember_worker(answer, worker[0])
    return answer
