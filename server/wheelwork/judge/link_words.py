"""A link in words: its error, how much of the allowance it uses, what is wanted, and the rule with its values."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.charts.errors import ErrorPicture, draw_error
from wheelwork.judge.rate_words import is_time, say_allowance, say_missed, say_off
from wheelwork.judge.rates import JudgedLink
from wheelwork.links.families import standards_of
from wheelwork.links.family import Allowance, Choice, Told, used_share, verdict_of
from wheelwork.quantities.numbers import MINUS, NO_BREAK_SPACE, THIN_SPACE, group, write_cut, write_figures
from wheelwork.quantities.units import FREQUENCY, SHARE, TIME, pick_unit, say_quantity

MAIN = ("rate", "sample_rate", "period", "time_out", "at_most", "mode")
"""The one of these that is asked stands in the column of what is wanted; the rest stands under the name."""
ONLY_WITHOUT = "keeps what is asked only without the clock’s tolerance"
APART = ("standard", "allowance")
NEAR_MEGA = Fraction(10**7)
"""From here on a rate in hertz stands in MHz."""


@dataclass(frozen=True, slots=True)
class ErrorWords:
    """A choice's error as a row shows it: picture, mark, glyph, class, and words."""

    error: str
    with_tolerance: str
    picture: ErrorPicture | None
    mark: str
    glyph: str
    verdict: str
    words: str
    short: str


def spell(text: object) -> str:
    """What was written, its digits in groups of three and its unit not parted from them.

    >>> spell("115200 Bd") == "115\\u2009200\\u00a0Bd"
    True
    """
    grouped = re.sub(r"(?<![\d./])\d{5,}", lambda found: group(found[0]), str(text))
    return re.sub(r"(?<=\d) (?=[^\W\d]|%)", NO_BREAK_SPACE, grouped)


def say_wanted(judged: JudgedLink) -> str:
    """The main thing that is asked: `115 200 Bd`, `at most 8 MHz`; that of its standard where it gives none."""
    ask = judged.link.ask
    key = next((each for each in MAIN if each in ask), "")
    if key == "at_most":
        return f"at most {spell(ask[key])}"
    if key:
        return spell(ask[key])
    standard = standards_of(judged.family.name).get(str(ask.get("standard", "")))
    if standard is not None and standard.rate is not None:
        return say_amount(standard.rate, judged.family.rate_unit)
    return str(ask.get("standard", "–"))


def say_kind(judged: JudgedLink) -> str:
    """The quiet line under a link's name: its family, then whatever else is asked: `asynchronous serial, 7E1`."""
    ask = judged.link.ask
    main = next((each for each in MAIN if each in ask), "")
    standard = standards_of(judged.family.name).get(str(ask.get("standard", "")))
    said = [judged.family.title, *([standard.title] if standard is not None else [])]
    return ", ".join([*said, *(_say_asked(key, ask[key]) for key in ask if key not in (main, *APART))])


def _say_asked(key: str, value: object) -> str:
    if key in ("frame", "mode"):
        return spell(value)
    return f"{spell(value)} steps" if key == "steps" else f"{key.replace('_', ' ')} {spell(value)}"


def say_amount(rate: Fraction, unit: str) -> str:
    """A rate that is wanted, in digits: `115 200 Bd`, `48 MHz`; a time in the unit that suits it."""
    size, name = _scale(rate, unit)
    return f"{write_cut(rate / size, 6)}{NO_BREAK_SPACE}{name}"


def say_rate(rate: Fraction, unit: str) -> str:
    """A rate that it runs at, three decimals, cut and not rounded: `115 079.365… Bd`, `20 000.000 Hz`.

    >>> say_rate(Fraction(29_000_000, 252), "Bd") == "115\\u2009079.365…\\u00a0Bd"
    True
    """
    size, name = _scale(rate, unit)
    places = 6 if name == "MHz" else 3
    scaled = rate / size * 10**places
    digits = str(scaled.numerator // scaled.denominator).rjust(places + 1, "0")
    part = digits[-places:] if places == 3 else f"{digits[-6:-3]}{THIN_SPACE}{digits[-3:]}"
    cut = "…" if scaled.denominator != 1 else ""
    return f"{group(digits[:-places])}.{part}{cut}{NO_BREAK_SPACE}{name}"


def runs_at(judged: JudgedLink, choice: Choice) -> tuple[Fraction, str] | None:
    """What a choice runs at with its unit: its rate, or its time where a time is asked for."""
    if choice.rate is None:
        return None
    return (1 / choice.rate, "s") if is_time(judged.link.ask) else (choice.rate, judged.family.rate_unit)


def say_run(judged: JudgedLink, choice: Choice | None) -> str:
    """What a choice runs at, in words; a dash where it has no rate."""
    runs = None if choice is None else runs_at(judged, choice)
    return "–" if runs is None else say_rate(*runs)


def _scale(rate: Fraction, unit: str) -> tuple[Fraction, str]:
    """The size of the unit that a rate is told in, and its name."""
    if unit == "s":
        name = pick_unit(rate, TIME)
        return TIME.units[name], name
    if unit == "Hz" and rate >= NEAR_MEGA:
        return FREQUENCY.units["MHz"], "MHz"
    return Fraction(1), unit


def say_error(share: Fraction) -> str:
    """An error to three figures, in percent from 0.1 % on, else in parts per million: `−3.33 %`, `+55.2 ppm`.

    >>> say_error(Fraction(-1, 30)), say_error(Fraction(0))
    ('−3.33\\xa0%', '0')
    """
    if share == 0:
        return "0"
    unit = pick_unit(share, SHARE)
    sign = "+" if share > 0 else ""
    return f"{sign}{write_figures(share / SHARE.units[unit], 3)}{NO_BREAK_SPACE}{unit}"


def worse_end(low: Fraction, high: Fraction, allowance: Allowance | None) -> Fraction:
    """Of the errors at both ends of the tolerance the one that uses more of the allowance, the larger without one."""
    if allowance is None or (allowance.lowest is None and allowance.highest is None):
        return max((low, high), key=abs)
    return max((low, high), key=lambda error: abs(_used(error, allowance)))


def _say_with_tolerance(choice: Choice, allowance: Allowance | None) -> str:
    """The error at the worse end of the clock's tolerance; nothing where the tolerance changes nothing."""
    low, high = choice.error_lowest, choice.error_highest
    if low is None or high is None or low == high == choice.error:
        return ""
    if low == -high:
        return f"±{say_error(high if high > 0 else low).lstrip('+' + MINUS)} with tolerance"
    return f"{say_error(worse_end(low, high, allowance))} with tolerance"


def say_errors(judged: JudgedLink, choice: Choice | None) -> ErrorWords:
    """A choice's error against the link's allowance, drawn and in words."""
    if judged.clock is None:
        return ErrorWords("", "", None, "stopped", "stopped", "stopped", "Not running", "Not running")
    if choice is None:
        return ErrorWords("–", "", None, "outside", "over", "outside", "Cannot be met", "cannot be met")
    error, allowance = choice.error, _allowance(judged, choice)
    told = "–" if error is None else say_error(error)
    if error is None or allowance is None or (allowance.lowest is None and allowance.highest is None):
        return _plain(judged, choice, told)
    ends = (error if choice.error_lowest is None else choice.error_lowest, choice.error_highest or error)
    used = [_used(each, allowance) for each in (error, *ends)]
    walls = allowance.lowest is not None, allowance.highest is not None
    verdict, glyph, mark = _look(choice, used)
    words, short = _say_verdict(judged, choice, verdict, max(used, key=abs))
    picture = draw_error(used[0], min(used[1:]), max(used[1:]), *walls)
    return ErrorWords(told, _say_with_tolerance(choice, allowance), picture, mark, glyph, verdict, words, short)


def _allowance(judged: JudgedLink, choice: Choice) -> Allowance | None:
    """The allowance that a choice is judged by: its own where it has one."""
    return choice.allowance or (None if judged.answer is None else judged.answer.allowance)


def _plain(judged: JudgedLink, choice: Choice, told: str) -> ErrorWords:
    """Where nothing limits the error, the family's verdict still stands."""
    if choice.verdict in ("over", "under", "none fits"):
        missed = say_missed(choice)
        words = f"{missed[:1].upper()}{missed[1:]}" if missed else "Does not keep what is asked"
        return ErrorWords(told, "", None, "outside", "over", "outside", words, "does not keep it")
    words = "Keeps what is asked" if choice.error is None else "No allowance stated"
    kind = "inside" if choice.error is None else "ring"
    return ErrorWords(told, _say_with_tolerance(choice, None), None, kind, kind, kind, words, words.lower())


def _used(error: Fraction, allowance: Allowance) -> Fraction:
    """The share of the allowance that an error uses; of the other side's where its own has no limit."""
    used = used_share(error, allowance)
    if used is not None:
        return used
    if allowance.highest is None and allowance.lowest == 0:
        return -1 / (1 + error)
    side = allowance.lowest if allowance.highest is None else allowance.highest
    return error / abs(side) if side else Fraction(0)


def _is_nothing(allowance: Allowance | None) -> bool:
    """Whether only the exact rate is allowed."""
    return allowance is not None and allowance.lowest == allowance.highest == 0


def _is_past(error: Fraction, allowance: Allowance | None) -> bool:
    """Whether the error itself is past the allowance; a family may find fault with something else."""
    return verdict_of(error, error, error, allowance) in ("over", "under")


def _look(choice: Choice, used: Sequence[Fraction]) -> tuple[str, str, str]:
    """The class of a choice's verdict, its glyph and its mark."""
    if choice.verdict in ("over", "under", "none fits"):
        return "outside", "under" if used[0] < 0 else "over", "outside"
    if choice.verdict == "tight":
        glyph = "tight-upper" if max(used, key=abs) > 0 else "tight-lower"
        return "tight", glyph, glyph
    return "inside", "inside", "inside"


def _say_verdict(judged: JudgedLink, choice: Choice, verdict: str, worst: Fraction) -> tuple[str, str]:
    """The verdict with its amount, whole and short: `uses 75 % of the allowance`, `slow by 3.33 %`."""
    if verdict == "outside" and choice.error and _is_past(choice.error, _allowance(judged, choice)):
        said = say_off(choice.error, judged.link.ask)
        return said, said
    if verdict == "outside":
        return say_missed(choice) or "does not keep what is asked", "does not keep it"
    share = say_share(abs(worst))
    if verdict == "tight" and (abs(worst) <= 1 or _is_nothing(_allowance(judged, choice))):
        words = f"with tolerance {say_missed(choice)}" if choice.missed else ONLY_WITHOUT
        return words, "only without tolerance"
    if verdict == "tight":
        return f"with tolerance {share} of the allowance", f"with tolerance {share}"
    return (f"uses {share} of the allowance", f"uses {share}") if worst else ("exact", "exact")


def say_share(share: Fraction) -> str:
    """A share of an allowance in whole percent; what is not the whole of it is never told as the whole.

    >>> say_share(Fraction(3, 4)), say_share(Fraction(1, 1000)), say_share(Fraction(999, 1000))
    ('75\\xa0%', 'under 1\\xa0%', 'just under 100\\xa0%')
    """
    percent = share * 100
    if percent < 1:
        return f"under 1{NO_BREAK_SPACE}%"
    if Fraction(199, 2) <= percent < 100:
        return f"just under 100{NO_BREAK_SPACE}%"
    if 100 < percent < Fraction(201, 2):
        return f"just over 100{NO_BREAK_SPACE}%"
    return f"{group(str(int(percent + Fraction(1, 2))))}{NO_BREAK_SPACE}%"


def say_allowed(judged: JudgedLink) -> str:
    """The allowance under the verdict: `allowed ±2 %`; nothing where there is none."""
    allowance = judged.allowance
    if allowance is None or (allowance.lowest is None and allowance.highest is None):
        return ""
    if allowance.lowest is None and allowance.highest == 0:
        return f"allowed {_say_most(judged)}"
    return f"allowed {say_allowance(allowance)}"


def _say_most(judged: JudgedLink) -> str:
    """The most that a rate may be: `at most 8 MHz`; that of its mode where none is typed."""
    choice = judged.choice
    if "at_most" in judged.link.ask or choice is None or choice.rate is None or choice.error in (None, -1):
        return say_wanted(judged)
    assert choice.error is not None
    return f"at most {say_amount(choice.rate / (1 + choice.error), judged.family.rate_unit)}"


def say_mixed(value: Told, parts: int = 1) -> str:
    """A setting in digits: a whole number in groups of three, another with its parts: `15 12/16`.

    >>> say_mixed(Fraction(63, 4), 16), say_mixed(1450), say_mixed(Fraction(3, 2))
    ('15 12/16', '1450', '1 1/2')
    """
    if not isinstance(value, int | Fraction):
        return "–" if value is None else str(value)
    exact = Fraction(value)
    whole, rest = divmod(abs(exact), 1)
    sign = MINUS if exact < 0 else ""
    if rest == 0:
        return sign + group(str(whole))
    below = parts if (rest * parts).denominator == 1 else rest.denominator
    return f"{sign}{group(str(whole))} {int(rest * below)}/{below}"


def say_part(share: Told) -> str:
    """A share of something, to four figures: `87.5 %`."""
    if not isinstance(share, int | Fraction):
        return "–"
    unit = "%" if share == 0 else pick_unit(Fraction(share), SHARE)
    return f"{write_figures(Fraction(share) / SHARE.units[unit], 4)}{NO_BREAK_SPACE}{unit}"


def say_time(seconds: Told) -> str:
    """A time to four figures in the unit that suits it: `1.5 µs`, `−0.864 s`."""
    if not isinstance(seconds, int | Fraction):
        return "–"
    return say_quantity(Fraction(seconds), TIME, 4)
