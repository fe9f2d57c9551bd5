"""What stands on the right of the Targets page: how far a search is, what fits, or why nothing does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from wheelwork.charts.combs import CombsPicture, draw_combs
from wheelwork.find.combs import Combs
from wheelwork.find.progress import share_covered
from wheelwork.find.question import Answer, CrystalChoice, Opening, Question
from wheelwork.find.saying import head_count, say_count, say_proof
from wheelwork.findings import lower_first
from wheelwork.pages.targets_form import MORE_LISTED, TargetsRead, Wishes
from wheelwork.pages.targets_ranked import RankedTable, rank_table, say_common
from wheelwork.pages.targets_words import (
    BlameView,
    label_opening,
    say_blame,
    say_combs,
    say_progress,
    say_ruled_out,
    say_teeth,
    view_blame,
)
from wheelwork.plan.plan import Plan
from wheelwork.quantities.units import CURRENT, say_frequency, say_quantity
from wheelwork.searches import Search

Address = Callable[[Plan], str]
"""The permalink of a plan."""


@dataclass(frozen=True, slots=True)
class OpeningView:
    """One thing that would open it again: how many fit then, the act, what it costs, and the button that does it."""

    count: str
    act: str
    detail: str
    label: str
    instead: str


@dataclass(frozen=True, slots=True)
class CombsView:
    """The combs with their caption, and the same for those who hear the page."""

    picture: CombsPicture
    caption: str
    spoken: str


@dataclass(frozen=True, slots=True)
class CrystalRow:
    """A crystal that could be fitted: how many settings fit with it, the best of them."""

    frequency: str
    count: str
    core: str
    current: str
    address: str


@dataclass(frozen=True, slots=True)
class Running:
    """A search that is not done: how far it is in words and as a share, and how to look again."""

    said: str
    percent: int | None
    id: str
    stop: str
    look: str
    poll: str


@dataclass(frozen=True, slots=True)
class Found:
    """What stands on the right of the page."""

    state: str
    search: str = ""
    head: str = ""
    proof: str = ""
    remarks: tuple[str, ...] = ()
    running: Running | None = None
    table: RankedTable | None = None
    show_all: str = ""
    list_more: str = ""
    csv: str = ""
    blame: tuple[BlameView, ...] = ()
    combs: CombsView | None = None
    nearest: str = ""
    openings: tuple[OpeningView, ...] = ()
    crystals: tuple[CrystalRow, ...] = ()
    crystal_title: str = ""
    useless: tuple[str, ...] = ()
    said: str = ""


def address_of(permalink: str, wishes: Wishes, search: str = "", everything: bool = False) -> str:
    """The address of the page: the plan with its targets, what to put first, the search one is at."""
    query = {"plan": permalink, **wishes.query()}
    if search:
        query["search"] = search
    if everything:
        query["all"] = "yes"
    return "/targets?" + urlencode(query)


def view_search(search: Search, read: TargetsRead, link_of: Address, everything: bool) -> Found:
    """What a search found, or how far it is."""
    if not search.settled:
        return _view_running(search, read, link_of)
    if search.answer is None:
        head = "No answer"
        return Found(
            "failed", head, search.why or "The search was stopped before it had found anything.", said=f"{head}."
        )
    return _view_answer(search, read, link_of, everything)


def _view_running(search: Search, read: TargetsRead, link_of: Address) -> Found:
    """How far a search is, with the best as soon as they are known."""
    said = say_progress(search.progress, search.seconds, search.limit)
    share = None if search.progress is None else share_covered(search.progress)
    percent = int(100 * share) if share else None
    fit = 0 if search.progress is None else search.progress.fit
    stop = f"Stop and keep {'these ' + say_count(fit) if fit > 1 else 'what is found'}"
    look = address_of(link_of(read.plan), read.wishes, search.id)
    running = Running(said, percent, search.id, stop, look, look.replace("/targets?", "/targets/found?", 1))
    found = Found("running", search=search.id, running=running, said=f"Searching every setting. {said}")
    best = None if search.progress is None else search.progress.best
    if best is None or not best.solutions:
        return found
    return replace(found, head="The best, while the others are counted", table=_view_table(best, link_of, False))


def _view_table(answer: Answer, link_of: Address, everything: bool) -> RankedTable | None:
    addresses = ["/plan?" + urlencode({"plan": link_of(solution.plan)}) for solution in answer.solutions]
    return rank_table(answer, answer.question.plan, addresses, everything) if answer.solutions else None


def _view_answer(search: Search, read: TargetsRead, link_of: Address, everything: bool) -> Found:
    full = search.answer
    assert full is not None
    answer = full.answer
    question, head = answer.question, head_count(answer)
    proof = say_proof(answer, search.seconds, search.state == "stopped")
    crystals = tuple(_crystal_row(choice, link_of) for choice in full.crystals if choice.admissible != 0)
    useless = [say_frequency(choice.frequency) for choice in full.crystals if choice.admissible == 0]
    titled = question.part.nodes.get(read.wishes.crystal)
    crystal_title = f"Crystals for the {lower_first(titled.title)}" if titled is not None and full.crystals else ""
    if answer.fits is False:
        return Found(
            "none",
            search.id,
            head,
            f"{proof} {say_blame(question, answer.conflict)}",
            remarks=(*_stale(search, read), *answer.remarks),
            blame=view_blame(question, answer.conflict),
            combs=None if full.combs is None else _view_combs(question, full.combs),
            nearest="" if full.nearest is None else full.nearest.sentence,
            openings=tuple(_view_opening(answer, opening, link_of) for opening in full.openings),
            crystals=crystals,
            crystal_title=crystal_title,
            useless=tuple(useless),
            said=f"{head}. {say_blame(question, answer.conflict)}",
        )
    table = _view_table(answer, link_of, everything)
    link, listed = link_of(read.plan), len(answer.solutions)
    more = listed >= read.wishes.top < MORE_LISTED and (answer.admissible or 0) > listed
    return Found(
        "fits" if answer.fits else "undecided",
        search.id,
        head,
        proof,
        remarks=(*_stale(search, read), *answer.remarks, *say_common(answer), *say_ruled_out(question)),
        table=table,
        show_all=address_of(link, read.wishes, search.id, True) if table and table.ranks < listed else "",
        list_more=str(MORE_LISTED) if more else "",
        csv="/targets/list.csv?" + urlencode({"search": search.id}) if listed else "",
        crystals=crystals,
        crystal_title=crystal_title,
        useless=tuple(useless),
        said=f"{head}. {proof}",
    )


def _stale(search: Search, read: TargetsRead) -> tuple[str, ...]:
    """A word where the form has changed since it was searched."""
    asked, now = search.question.plan, read.plan
    same = (asked.targets, frozenset(asked.held)) == (now.targets, frozenset(now.held))
    return () if same else ("This was searched before the form changed; search again for what stands there now.",)


def _view_opening(answer: Answer, opening: Opening, link_of: Address) -> OpeningView:
    asked = opening.question
    held = tuple(dict.fromkeys((*asked.plan.held, *asked.pinned)))
    plan = replace(asked.plan, targets=asked.targets, held=held)
    count = "not decided" if opening.admissible is None else say_count(opening.admissible)
    label = label_opening(answer.question, answer.conflict, opening)
    return OpeningView(count, opening.act, opening.detail, label, link_of(plan))


def _view_combs(question: Question, combs: Combs) -> CombsView | None:
    """The picture of two combs; more than two are told in words only."""
    if len(combs.teeth) != 2:
        return None
    edges = (None, None) if combs.window is None else (combs.window.lowest, combs.window.highest)
    picture = draw_combs(*edges, combs.teeth)
    if picture is None:
        return None
    spoken = ". ".join(say_teeth(letter, teeth) for letter, teeth in zip("AB", combs.teeth, strict=True))
    return CombsView(picture, say_combs(question, combs), spoken)


def _crystal_row(choice: CrystalChoice, link_of: Address) -> CrystalRow:
    best = choice.best
    count = "not decided" if choice.admissible is None else say_count(choice.admissible)
    if best is None:
        return CrystalRow(say_frequency(choice.frequency), count, "", "", "")
    address = "/plan?" + urlencode({"plan": link_of(best.plan)})
    current = say_quantity(best.current, CURRENT)
    return CrystalRow(say_frequency(choice.frequency), count, say_frequency(best.core), current, address)
