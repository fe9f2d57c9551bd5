"""What has to hold between an answer of the search and the listing of every setting of the same part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tests.find.brute import Group, Rank, Setting, changes_of, count_all, fitting, groups_of, name_of, ranker, ratios_of
from wheelwork.find.question import Answer, Preference, Question
from wheelwork.judge.judgement import reckon

Ranks = tuple[Rank, ...]


def order_of(question: Question) -> list[Preference]:
    """The preferences asked for; ties go to the higher core clock, then to the lower current."""
    further = (Preference("highest", question.part.core_clock), Preference("least current"))
    return list(dict.fromkeys((*question.prefer, *further)))


def ranks_of(setting: Setting, question: Question) -> Ranks:
    """Where a setting stands by every preference in turn; the lowest is the best."""
    return tuple(ranker(each, question.plan, question.targets)(setting) for each in order_of(question))


def disagreements(answer: Answer, legal: Sequence[Setting]) -> Iterator[str]:
    """Everything in which an answer, given with time enough, and the listing of all legal settings do not agree."""
    question = answer.question
    found = fitting(legal, question.plan, question.targets, question.pinned)
    if not answer.complete:
        yield f"not complete: {answer.remarks}"
    if answer.fits is not bool(found):
        yield f"fits {answer.fits}, {len(found)} do"
    if answer.admissible != (len(found) if question.count else None):
        yield f"admissible {answer.admissible}, {len(found)} are"
    searched = count_all(question.part, question.plan, question.pinned)
    if answer.searched not in (None, searched):
        yield f"searched {answer.searched}, {searched} there are"
    yield from _solutions(answer, groups_of(found, question.plan))
    yield from _own_plan(answer, found)


def _solutions(answer: Answer, groups: Sequence[Group]) -> Iterator[str]:
    question = answer.question
    shown = {group.shown.name: group for group in groups}
    names = [name_of(each.core_voltage, each.settings) for each in answer.solutions]
    if len(names) != min(question.top, len(groups)):
        yield f"{len(names)} solutions of {len(groups)} groups, asked for {question.top}"
    if len(set(names)) != len(names):
        yield "a solution is shown twice"
    for name, solution in zip(names, answer.solutions, strict=True):
        group = shown.get(name)
        if group is None:
            yield f"not one to show: {name}"
            return
        judged = group.shown.judged
        told = (solution.core, solution.current, solution.wait_states, solution.alike, solution.changes)
        core = judged.clocks[question.part.core_clock].nominal
        changes = changes_of(group.shown, question.plan)
        if told != (core, judged.current.typical, judged.wait_states_needed, len(group.members), changes):
            yield f"{told} of {name}, {len(group.members)} alike, {changes} changes"
        again = reckon(question.part, solution.plan)
        if not again.legal or again.way != judged.way or again.clocks != judged.clocks:
            yield f"its plan is not that of {name}"
    given = [ranks_of(shown[name].shown, question) for name in names]
    best = sorted(ranks_of(group.shown, question) for group in groups)[: len(given)]
    if given != best:
        place = next(n for n, (one, other) in enumerate(zip(given, best, strict=True)) if one != other)
        yield f"solution {place} has {given[place]}, {best[place]} is the best left"


def _own_plan(answer: Answer, found: Sequence[Setting]) -> Iterator[str]:
    """`plan_fits`, and `rank`: the place among the solutions of the one that is the plan's own or is alike to it."""
    plan = answer.question.plan
    complete = plan.complete(answer.question.part)
    own = next(
        (
            each
            for each in found
            if each.step == plan.core_voltage and all(complete[key] == value for key, value in each.settings.items())
        ),
        None,
    )
    if answer.plan_fits is not (own is not None):
        yield f"the plan fits: {answer.plan_fits}"
    shown = {group.shown.name: ratios_of(group.shown) for group in groups_of(found, plan)}
    listed = [shown.get(name_of(each.core_voltage, each.settings)) for each in answer.solutions]
    rank = listed.index(ratios_of(own)) + 1 if own is not None and ratios_of(own) in listed else None
    if answer.rank != rank:
        yield f"rank {answer.rank}, {rank} it is"
