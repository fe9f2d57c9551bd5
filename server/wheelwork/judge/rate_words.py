"""Links in words: by how much a rate is off, what is allowed and who says so, and the findings made of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Finding, Severity
from wheelwork.links.family import Allowance, Choice, Family, LinkAnswer, Setting, Verdict, past_ends
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_cut, write_exact
from wheelwork.quantities.spans import Span, say_tolerance
from wheelwork.quantities.units import SHARE, TIME, pick_unit, say_quantity

TIMES = ("period", "time_out")


@dataclass(frozen=True, slots=True)
class Case:
    """What findings are worded from; `node` is the load they stand on, empty where there is no plan."""

    title: str
    node: str
    family: Family[Any, Any]
    ask: Mapping[str, Any]
    wanted: str
    feed: str
    answer: LinkAnswer
    chosen: Choice | None = None

    @property
    def choice(self) -> Choice | None:
        """The choice that is spoken of."""
        return self.chosen or next(iter(self.answer.choices), None)

    @property
    def verdict(self) -> Verdict:
        """The verdict on it."""
        return self.answer.verdict if self.chosen is None else self.chosen.verdict


def say_case(case: Case) -> Iterator[Finding]:
    """The findings: one where the rate is outside or only the tolerance passes, and each remark of the family."""
    choice = case.choice
    if case.verdict in ("over", "under", "none fits"):
        yield _finding(case, "stop", _say_miss(case, choice), _say_detail(case, choice))
    elif case.verdict == "tight" and choice is not None:
        yield _finding(case, "caution", _say_tight(case, choice), _say_detail(case, choice))
    for remark in case.answer.remarks:
        yield _finding(case, remark.severity, f"{case.title}: {remark.what}", remark.detail)


def _finding(case: Case, severity: Severity, what: str, detail: str) -> Finding:
    return Finding(case.node, severity, what, detail, link=case.title)


def _say_miss(case: Case, choice: Choice | None) -> str:
    if choice is None:
        return f"{case.title} cannot be met: the generator offers nothing near it."
    is_nearest = case.chosen is None and bool(choice.settings)
    if choice.error is not None and past_ends(choice.error, choice.error, _allowance(case, choice)):
        told = ", and ".join((say_off(choice.error, case.ask), *choice.missed))
        if not choice.settings and "standard" in case.ask:
            return f"{case.title} misses its standard: {told}."
        return f"{case.title} cannot be met: the nearest is {told}." if is_nearest else f"{case.title} is {told}."
    if not choice.missed:
        return f"{case.title} cannot keep what is asked: {case.wanted}."
    told = say_missed(choice)
    if is_nearest:
        return f"{case.title} cannot be met: at the nearest {told}."
    return f"{case.title} does not keep what is asked: {told}."


def say_missed(choice: Choice) -> str:
    """What a choice misses besides its rate: `low lasts 1.25 µs, 50 ns short of 1.3 µs`; empty where nothing."""
    return ", and ".join(choice.missed)


def _allowance(case: Case, choice: Choice | None) -> Allowance | None:
    """The allowance by which a choice is judged: its own where it has one."""
    return (choice and choice.allowance) or case.answer.allowance


def _say_tight(case: Case, choice: Choice) -> str:
    """Which end of the tolerance is past the allowance, both where both are, and what else it makes the choice miss."""
    told = []
    if choice.error_lowest is not None and choice.error_highest is not None:
        ends = past_ends(choice.error_lowest, choice.error_highest, _allowance(case, choice))
        reach = " or ".join(say_off(end, case.ask).replace(" by ", " by up to ") for end in ends)
        told += [f"{reach}, past what is allowed"] if ends else []
    told += choice.missed
    if not told:
        return f"{case.title} keeps what is asked only without its clock's tolerance."
    return f"{case.title}: with its clock's tolerance {', and '.join(told)}."


def _say_detail(case: Case, choice: Choice | None) -> str:
    """The quiet line: the rate, what is wanted from which clock, the allowance with its source, and what is better."""
    runs = "" if choice is None or choice.rate is None else f"{say_rate(choice.rate, case.family, case.ask)} where "
    told = f"{runs}{case.wanted} is wanted, from {case.feed}"
    allowance = _allowance(case, choice)
    if allowance is not None:
        told += f"; allowed {say_allowance(allowance)}: {allowance.source}"
    return f"{told}.{_say_better(case)}"


def _say_better(case: Case) -> str:
    """The best choice, where the plan has chosen one that does not keep its rate and the best does."""
    better = {"over": ("inside", "tight"), "under": ("inside", "tight"), "tight": ("inside",)}
    if case.chosen is None or case.answer.verdict not in better.get(case.chosen.verdict, ()):
        return ""
    return f" The best keeps it: {say_settings(case.answer.choices[0])}."


def is_time(ask: Mapping[str, Any]) -> bool:
    """Whether a time is asked for: a choice's error is then that of the time."""
    return any(key in ask for key in TIMES)


def say_off(error: Fraction, ask: Mapping[str, Any]) -> str:
    """An error in words: `slow by 3.33 %`, where a time is asked for `long by 200 ppm`; `exact`."""
    if error == 0:
        return "exact"
    more, less = ("long", "short") if is_time(ask) else ("fast", "slow")
    return f"{more if error > 0 else less} by {say_quantity(abs(error), SHARE)}"


def say_settings(choice: Choice) -> str:
    """A choice's settings in words: `oversampling 16, divisor 251/16`."""
    return ", ".join(_say_each(choice.settings))


def _say_each(settings: Mapping[str, Setting], of: str = "") -> Iterator[str]:
    for key, value in settings.items():
        if isinstance(value, Mapping):
            yield from _say_each(value, f"{key} ")
        else:
            yield f"{of}{key.replace('_', ' ')} {_say_value(value)}"


def _say_value(value: Any) -> str:
    if isinstance(value, Fraction):
        return write_exact(value)
    return "–" if value is None else str(value)


def say_rate(rate: Fraction, family: Family[Any, Any], ask: Mapping[str, Any]) -> str:
    """A rate in its family's unit with three decimals, cut with `…`; as a time where one is asked for."""
    if not is_time(ask):
        return f"{write_cut(rate, 3)}{NO_BREAK_SPACE}{family.rate_unit}"
    unit = pick_unit(1 / rate, TIME)
    return f"{write_cut(1 / rate / TIME.units[unit], 3)}{NO_BREAK_SPACE}{unit}"


def say_allowance(allowance: Allowance) -> str:
    """An allowance in words: `±2 %`, `at most what is asked`, `up to +50 ppm`."""
    low, high = allowance.lowest, allowance.highest
    if low is not None and high is not None:
        return say_tolerance(Span(low, high))
    if high is not None:
        return "at most what is asked" if high == 0 else f"up to {_signed(high)}"
    if low is not None:
        return "at least what is asked" if low == 0 else f"from {_signed(low)}"
    return "anything"


def _signed(share: Fraction) -> str:
    return ("+" if share > 0 else "") + say_quantity(share, SHARE)
