"""What the Hand-over page shows: the forms, how the text is wanted, the text with its marks, or the report as paper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from wheelwork.findings import Unreadable
from wheelwork.handover.forms import Form, Wish, file_name, forms
from wheelwork.handover.names import PREFIX, read_prefix
from wheelwork.handover.report import Report, write_report
from wheelwork.judge import Judgement
from wheelwork.pages.handover_marks import Line, mark
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan

PAPER = "print"
"""The form that is no text: the report as it goes to the printer."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of the page: the form (None: the print sheet), prefix and reasons, and the prefix as typed."""

    form: Form | None
    wish: Wish
    typed: str
    fault: str = ""


@dataclass(frozen=True, slots=True)
class FormChoice:
    """One of the forms to choose from."""

    name: str
    title: str
    about: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Note:
    """That something is outside, and where the text says so."""

    what: str
    more: str
    findings: str


@dataclass(frozen=True, slots=True)
class HandoverPage:
    """The whole page. `address` shows it again, `plan_address` the plan; `report` is there for the print sheet."""

    part: Part
    plan: Plan
    permalink: str
    choices: tuple[FormChoice, ...]
    wanted: Wanted
    note: Note | None
    file_name: str
    lines: tuple[Line, ...]
    report: Report | None
    address: str
    plan_address: str
    file_address: str
    said: str

    @property
    def named(self) -> bool:
        """Whether the prefix makes a difference."""
        return self.wanted.form is not None and self.wanted.form.named

    @property
    def reasoned(self) -> bool:
        """Whether reasons make a difference."""
        return self.wanted.form is not None and self.wanted.form.reasoned


def read_wanted(fields: Mapping[str, str]) -> Wanted:
    """What the page's address asks for. An unknown form is the first one; a prefix that is none leaves the usual one.

    `reasons` is `yes` or `no`; a form that was sent without it has its box unticked (`sent` tells that it was sent).
    """
    known = forms()
    name = fields.get("form", "")
    form = None if name == PAPER else known.get(name, next(iter(known.values())))
    typed = fields.get("prefix", PREFIX)
    reasons = fields.get("reasons", "no" if "sent" in fields else "yes") == "yes"
    try:
        return Wanted(form, Wish(read_prefix(typed.strip()), reasons), typed)
    except Unreadable as fault:
        return Wanted(form, Wish(PREFIX, reasons), typed, f"{fault.what}; {fault.allowed}")


def build_handover(judgement: Judgement, permalink: str, wanted: Wanted) -> HandoverPage:
    """The page of a judged plan."""
    form, query = wanted.form, _query(permalink, wanted)
    text = "" if form is None else form.write(judgement, wanted.wish)
    titles = [FormChoice(each.name, each.title, each.about, each is form) for each in forms().values()]
    paper = FormChoice(PAPER, "Print sheet", "A4 or Letter pages for the project file", form is None)
    note = _note(judgement, permalink, form)
    return HandoverPage(
        part=judgement.part,
        plan=judgement.plan,
        permalink=permalink,
        choices=(*titles, paper),
        wanted=wanted if wanted.fault else replace(wanted, typed=wanted.wish.prefix),
        note=note,
        file_name="" if form is None else file_name(judgement, form),
        lines=() if form is None else tuple(mark(text, form.ending)),
        report=write_report(judgement) if form is None else None,
        address=f"/hand-over?{query}",
        plan_address="/plan?" + urlencode({"plan": permalink}),
        file_address=f"/hand-over/file?{query}",
        said=_say(form, text, wanted),
    )


def _query(permalink: str, wanted: Wanted) -> str:
    asked = {"plan": permalink, "form": PAPER if wanted.form is None else wanted.form.name}
    if wanted.wish.prefix != PREFIX:
        asked["prefix"] = wanted.wish.prefix
    if not wanted.wish.reasons:
        asked["reasons"] = "no"
    return urlencode(asked)


def _say(form: Form | None, text: str, wanted: Wanted) -> str:
    """One sentence for those who hear the page."""
    if wanted.fault:
        return f"{wanted.fault}."
    return "Print sheet." if form is None else f"{form.title}, {len(text.splitlines())} lines."


def _note(judgement: Judgement, permalink: str, form: Form | None) -> Note | None:
    """What is outside; a plan in which something is may be handed over, but not in silence."""
    clocks = sum(judged.outside for judged in judgement.windows)
    links = sum(not link.keeps for link in judgement.links)
    stops = sum(finding.severity == "stop" for finding in judgement.findings)
    if not stops:
        return None
    told = []
    if clocks:
        told.append("1 clock is outside its window" if clocks == 1 else f"{clocks} clocks are outside their windows")
    if links:
        told.append("1 link misses what is asked" if links == 1 else f"{links} links miss what is asked")
    what = " and ".join(told) or ("1 finding stops this plan" if stops == 1 else f"{stops} findings stop this plan")
    whose = "The sheet" if form is None else "The text"
    findings = "/plan?" + urlencode({"plan": permalink}) + "#findings"
    return Note(f"{what}.", f"{whose} says so in two places." if form is None or form.reasoned else "", findings)
