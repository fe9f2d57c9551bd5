"""Links in words: by how much a rate is off, what is allowed and who says so, and the findings made of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Finding, Severity
from wheelwork.links.family import Allowance, Choice, Family, LinkAnswer, Setting, Verdict, verdict_of
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
    if choice.error is None or not _is_past(case, choice, choice.error):
        return f"{case.title} cannot keep what is asked: {case.wanted}."
    if case.chosen is None and choice.settings:
        return f"{case.title} cannot be met: the nearest is {say_off(choice.error, case.ask)}."
    return f"{case.title} is {say_off(choice.error, case.ask)}."


def _is_past(case: Case, choice: Choice, error: Fraction) -> bool:
    """Whether the error itself is past the allowance; a family may find fault with something else."""
    return verdict_of(error, error, error, choice.allowance or case.answer.allowance) in ("over", "under")


def _say_tight(case: Case, choice: Choice) -> str:
    if choice.error_lowest is None or choice.error_highest is None:
        return f"{case.title} keeps what is asked only without its clock's tolerance."
    worst = max((choice.error_lowest, choice.error_highest), key=abs)
    reach = say_off(worst, case.ask).replace(" by ", " by up to ")
    return f"{case.title}: with its clock's tolerance {reach}, past what is allowed."


def _say_detail(case: Case, choice: Choice | None) -> str:
    """The quiet line: the rate, what is wanted from which clock, the allowance with its source, and what is better."""
    runs = "" if choice is None or choice.rate is None else f"{say_rate(choice.rate, case.family, case.ask)} where "
    told = f"{runs}{case.wanted} is wanted, from {case.feed}"
    allowance = (choice and choice.allowance) or case.answer.allowance
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
