"""How a link's error comes about, step by step: rule, error, tolerance, share of the allowance, with their values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from fractions import Fraction

from wheelwork.clocks.propagate import Clock
from wheelwork.findings import lower_first
from wheelwork.formulas.rules import NoRule, Value, reckon_rule
from wheelwork.judge.link_words import runs_at, say_error, say_rate, say_time, worse_end
from wheelwork.judge.rate_words import is_time, say_allowance
from wheelwork.judge.rates import JudgedLink
from wheelwork.links.family import Choice, errors_of
from wheelwork.links.fields import Fields
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_figures
from wheelwork.quantities.units import say_frequency

TIME_OF = "time = 1 / rate"
ERROR = {False: "error = rate / wanted − 1", True: "error = time / wanted − 1"}
WITH_TOLERANCE = "at worst = (1 + error) × (1 + tolerance) − 1"
OF_A_TIME = "at worst = (1 + error) / (1 + tolerance) − 1"
SHARE = "share = error / allowance"
OF_THE_MOST = "share = 1 + error"
TIMES = ("rise", "fall")
"""What stands as a time where a rule names it."""


@dataclass(frozen=True, slots=True)
class SumLine:
    """One step: what it is, its rule, the values of the names in it, and its result as it is written."""

    label: str
    rule: str
    values: Mapping[str, Value]
    result: str


def sums_of(link: JudgedLink) -> tuple[SumLine, ...]:
    """The steps from a link's clock to its share of the allowance, then those of another phase that is set apart.

    None where its rule alone does not give the rate.
    """
    choice = link.choice
    if link.clock is None or choice is None:
        return ()
    own = tuple(_sums(link, choice))
    phases = (
        replace(line, label=f"{name}: {lower_first(line.label)}")
        for name, phase in _phases(link.clock, choice)
        for line in _sums(link, phase)
    )
    return (*own, *phases) if own else ()


def _sums(link: JudgedLink, choice: Choice) -> Iterator[SumLine]:
    if choice.rate is None:
        return
    rule = tuple(_rule(link, choice, choice.rate))
    if rule:
        yield from rule
        yield from _errors(link, choice)


def _phases(clock: Clock, choice: Choice) -> Iterator[tuple[str, Choice]]:
    """Each part of the hardware that has settings, a rate and an error of its own, as a choice, by its name."""
    for key, settings in choice.settings.items():
        rate, error = choice.told.get(f"{key}_rate"), choice.told.get(f"{key}_error")
        if isinstance(settings, Mapping) and isinstance(rate, Fraction) and isinstance(error, Fraction):
            _, lowest, highest = errors_of(rate, rate / (1 + error), clock.tolerance)
            phase = replace(
                choice, settings=settings, rate=rate, error=error, error_lowest=lowest, error_highest=highest
            )
            yield key.capitalize(), phase


def _rule(link: JudgedLink, choice: Choice, rate: Fraction) -> Iterator[SumLine]:
    """The family's rule with the settings put in, where that comes to the rate or to its time."""
    values, rule, unit = dict(_values(link, choice)), link.family.rule_of(choice), link.family.rate_unit
    time = is_time(link.link.ask)
    try:
        found = reckon_rule(rule, values)
    except NoRule:
        return
    if found == rate:
        yield _line("Rule", rule, values, say_rate(rate, unit))
        if time:
            yield _line("Time", TIME_OF, {"rate": _said(rate, say_rate(rate, unit))}, say_rate(1 / rate, "s"))
    elif time and found == 1 / rate:
        yield _line("Rule", rule, values, say_rate(found, "s"))


def _values(link: JudgedLink, choice: Choice) -> Iterator[tuple[str, Value]]:
    """Every number that a rule could name: of the hardware, of what is asked, what follows, what is set, the clock."""
    assert link.clock is not None
    offered, asked = link.load.generators.get(link.family.name), link.family.read_ask(Fields(link.link.ask, "ask"))
    for table in (_fields_of(offered), _fields_of(asked), choice.told, choice.settings):
        yield from _numbers(table)
    yield "clock", Value(link.clock.nominal, say_frequency(link.clock.nominal))


def _fields_of(value: object) -> Mapping[str, object]:
    return {each.name: getattr(value, each.name) for each in fields(value)} if is_dataclass(value) else {}


def _numbers(table: Mapping[str, object]) -> Iterator[tuple[str, Value]]:
    for name, value in table.items():
        if isinstance(value, int | Fraction) and not isinstance(value, bool):
            yield name, Value(Fraction(value), say_time(value) if name in TIMES else "")


def _errors(link: JudgedLink, choice: Choice) -> Iterator[SumLine]:
    """The error, the same at the worse end of the tolerance, and what it uses of the allowance."""
    error, runs, time = choice.error, runs_at(link, choice), is_time(link.link.ask)
    if error is None or error == -1 or runs is None:
        return
    value, unit = runs
    wanted = value / (1 + error)
    given = {
        "time" if time else "rate": _said(value, say_rate(value, unit)),
        "wanted": _said(wanted, say_rate(wanted, unit)),
    }
    yield _line("Error", ERROR[time], given, say_error(error))
    worst = _worst(link, choice, error)
    if worst is not None:
        rule, tolerance, reached = worst
        yield _line("At worst", rule, {"error": _share(error), "tolerance": _share(tolerance)}, say_error(reached))
    yield from _used(link, error if worst is None else worst[2])


def _worst(link: JudgedLink, choice: Choice, error: Fraction) -> tuple[str, Fraction, Fraction] | None:
    """The worse end of the tolerance: the rule that gives it, the tolerance there, the error there."""
    assert link.clock is not None
    span = link.clock.tolerance
    ends = [(span.lowest, choice.error_lowest), (span.highest, choice.error_highest)]
    told = [(share, reached) for share, reached in ends if reached is not None and share != 0]
    if not told:
        return None
    ends_reached = [each for _, each in told]
    reached = worse_end(min(ends_reached), max(ends_reached), link.allowance)
    for share in (span.lowest, span.highest):
        for rule in (WITH_TOLERANCE, OF_A_TIME):
            if reckon_rule(rule, {"error": Value(error), "tolerance": Value(share)}) == reached:
                return rule, share, reached
    return None


def _used(link: JudgedLink, error: Fraction) -> Iterator[SumLine]:
    """The share of the allowance; that of the most where a rate may be anything up to it."""
    allowance = link.allowance
    if allowance is None:
        return
    if allowance.lowest is None and allowance.highest == 0:
        percent = f"{write_figures((1 + error) * 100)}{NO_BREAK_SPACE}%"
        yield _line("Of the most", OF_THE_MOST, {"error": _share(error)}, percent)
        return
    side = allowance.highest if error > 0 else allowance.lowest
    if not side:
        return
    label = f"Of {say_allowance(allowance)}"
    percent = f"{write_figures(error / side * 100)}{NO_BREAK_SPACE}%"
    yield _line(label, SHARE, {"error": _share(error), "allowance": _share(side)}, percent)


def _line(label: str, rule: str, values: Mapping[str, Value], result: str) -> SumLine:
    return SumLine(label, rule, values, result)


def _said(value: Fraction, words: str) -> Value:
    return Value(value, words)


def _share(share: Fraction) -> Value:
    return _said(share, say_error(share).removeprefix("+"))
