"""Keeping a plan from its page: what the frame says of it, and what the button does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from urllib.parse import quote, unquote, urlencode

from fastapi import Request
from starlette.responses import RedirectResponse, Response

from wheelwork.findings import Problem
from wheelwork.judge import judge
from wheelwork.pages.changes import differing
from wheelwork.part.nodes import Part
from wheelwork.plan.permalink import write_permalink
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan
from wheelwork.shelf.library import Library
from wheelwork.shelf.plans import NotKept, Overtaken, Plans, Revision, standing_of
from wheelwork.shelf.store import ShelfFault

Worker = tuple[str, bool]
"""Who works here, and whether a proxy says so."""
COOKIE = "wheelwork_name"
A_YEAR = 365 * 24 * 3600
LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class KeptView:
    """What the frame says of keeping: who works, what is not kept yet, the button's words, where the history is.

    `worker_set` tells that a proxy names the user, so that nothing is to be typed. `button` is empty where there is
    nothing to keep; `fault` is why keeping failed.
    """

    worker: str
    worker_set: bool
    words: str
    button: str
    history: str = ""
    fault: Problem | None = None


def worker_of(request: Request) -> Worker:
    """Who works here: the user that a trusted proxy names, else the name that the browser keeps; whether it is set."""
    user = str(getattr(request.state, "user", "") or "")
    if user:
        return user[:LONGEST_NAME], True
    return unquote(request.cookies.get(COOKIE, ""))[:LONGEST_NAME], False


def typed_worker(fields: Mapping[str, str], worker: Worker) -> Worker:
    """Who works, where a form says so; the user that a proxy names stays."""
    if worker[1] or "worker" not in fields:
        return worker
    return fields["worker"].strip()[:LONGEST_NAME], False


def remember_worker(answer: Response, name: str) -> None:
    """Let the browser keep a name that was typed."""
    if name:
        answer.set_cookie(COOKIE, quote(name[:LONGEST_NAME]), max_age=A_YEAR, httponly=True, samesite="lax")


def kept_reference(plan: Plan) -> tuple[str, int] | None:
    """The id and the revision that a plan was opened as."""
    name, _, revision = plan.kept.partition("/")
    return (name, int(revision)) if revision else None


def view_kept(
    library: Library, part: Part, plan: Plan, worker: Worker, changes: int, fault: Problem | None = None
) -> KeptView | None:
    """What the frame says; None for a server without a shelf. `changes` are those since the page was opened."""
    plans = library.kept
    if plans is None:
        return None
    reference = kept_reference(plan)
    if reference is None:
        words = f"{_count(changes)} since it was opened" if changes else "not on the shelf"
        return KeptView(*worker, words, "Keep on the shelf", fault=fault)
    history = f"/shelf/{reference[0]}"
    try:
        kept = _revision_of(plans, *reference)
    except (ShelfFault, NotKept) as missed:
        return KeptView(*worker, "", "Keep on the shelf", history, fault or missed.problem)
    different = count_unkept(part, plan, kept)
    if not different:
        words = f"revision {kept.revision}, kept {say_day(kept.kept_at)} by {kept.kept_by}"
        return KeptView(*worker, words, "", history, fault)
    return KeptView(*worker, f"{_count(different)} not kept", f"Keep as revision {kept.revision + 1}", history, fault)


def _count(changes: int) -> str:
    return "1 change" if changes == 1 else f"{changes} changes"


def count_unkept(part: Part, plan: Plan, kept: Revision) -> int:
    """In how many places a plan differs from a kept revision; one that cannot be read any more is one change."""
    before, _ = read_plan(dict(kept.raw), part)
    return 1 if before is None else len(differing(part, before, plan))


@lru_cache(maxsize=500)
def _kept_once(plans: Plans, id: str, revision: int) -> Revision:
    return plans.opened(id, revision)


def _revision_of(plans: Plans, id: str, revision: int) -> Revision:
    """A revision, which never changes once it is kept."""
    return _kept_once(plans, id, revision)


def say_day(seconds: float) -> str:
    """A day as people say it, with the year where it is not this one's: `14 March`.

    >>> say_day(0)
    '1 January 1970'
    """
    day, now = datetime.fromtimestamp(seconds, UTC), datetime.now(UTC)
    year = "" if day.year == now.year else f" {day.year}"
    return f"{day.day} {day:%B}{year}"


def keep_plan(library: Library, part: Part, plan: Plan, worker: str, own: bool = False) -> Revision:
    """Keep a plan: as the next revision of the one it was opened as, or as one of its own.

    Raises Overtaken, NotKept, ShelfFault.
    """
    plans = library.kept
    if plans is None:
        raise ShelfFault(Problem("shelf", "this server has no shelf", "start it with a data folder (WHEELWORK_DATA)"))
    sheet = library.sheet(plan.part)
    standing = standing_of(judge(part, plan), None if sheet is None else sheet.revision)
    raw = write_plan(replace(plan, kept=""), part)
    reference = kept_reference(plan)
    if reference is None or own:
        return plans.keep(raw, worker, standing)
    return plans.revise(reference[0], raw, worker, standing, reference[1])


def address_of(kept: Revision, on_top_of: int | None = None) -> str:
    """The address of the Plan page that opens a kept revision; on top of a later one it is kept as the one after."""
    revision = kept.revision if on_top_of is None else on_top_of
    return "/plan?" + urlencode({"plan": write_permalink({**kept.raw, "kept": f"{kept.id}/{revision}"})})


def lead_to(address: str, fragment: bool) -> Response:
    """To another page: by htmx, else by what the browser follows."""
    if fragment:
        return Response(status_code=204, headers={"HX-Redirect": address})
    return RedirectResponse(address, 303)


def try_keeping(
    library: Library, part: Part, plan: Plan, worker: str, link: str, fragment: bool
) -> tuple[Response | None, Problem | None]:
    """Keep a plan and lead to what was kept, or to where two are put together; or why it could not be kept."""
    try:
        answer = lead_to(address_of(keep_plan(library, part, plan, worker)), fragment)
    except Overtaken as overtaken:
        query = urlencode({"plan": link})
        answer = lead_to(f"/shelf/{overtaken.present.id}/together?{query}", fragment)
    except (ShelfFault, NotKept) as fault:
        return None, fault.problem
    remember_worker(answer, worker)
    return answer, None
