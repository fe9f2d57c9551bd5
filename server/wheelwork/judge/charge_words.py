"""The charge of a plan in words: how long the battery lasts, what ended it, what that rests on."""

from __future__ import annotations

from fractions import Fraction

from wheelwork.judge.charge import USUAL_SHARE, Charge, Estimate, PhaseCharge, ends_at
from wheelwork.plan.cells import CELLS
from wheelwork.plan.phases import Battery
from wheelwork.power.battery import YEAR
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_figures
from wheelwork.quantities.spans import Span
from wheelwork.quantities.units import CHARGE, CURRENT, SHARE, TIME, VOLTAGE, Unit, say_quantity

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
DAY = 86_400


def say_charge(charge: Charge) -> str:
    """How long the battery lasts, in one sentence: `2.9 years on two LR6 cells, mean 0.45 mA`."""
    mean = charge.mean or charge.run
    drawn = f"mean {say_estimate(mean)}" if charge.mean is not None else f"running all the time, {say_estimate(mean)}"
    if charge.life is None or charge.judgement.plan.battery is None:
        return drawn[:1].upper() + drawn[1:]
    return f"{say_life(charge.life.typical)} on {say_battery(charge.judgement.plan.battery)}, {drawn}"


def say_span(charge: Charge) -> str:
    """What the life rests on, in the quiet line below it."""
    told = []
    battery, life = charge.judgement.plan.battery, charge.life
    if battery is not None and life is not None:
        told.append(f"{say_life(life.lowest)} to {say_life(life.highest)} for {_say_basis(charge, battery)}")
        told.append(f"ended by: {life.ended_by}")
    if charge.round is not None:
        told.append(f"one round every {say_while(charge.round)}")
    sentences = ". ".join(each[:1].upper() + each[1:] for each in told)
    return f"{sentences}." if told else ""


def _say_basis(charge: Charge, battery: Battery) -> str:
    cell = CELLS.get(battery.cell)
    capacity = battery.capacity
    if capacity is not None:
        said = _say_ends(capacity)
    else:
        said = "" if cell is None else f"about {_say_capacity(cell.capacity)}"
    usable = battery.usable
    share = say_quantity(USUAL_SHARE, SHARE) if usable is None else _say_shares(usable)
    lost = battery.self_discharge
    if lost is None:
        lost = Fraction(0) if cell is None else cell.chemistry.self_discharge
    ends = ends_at(charge.judgement.plan, charge.judgement, battery)
    below = "" if ends is None else f", ending at {say_quantity(ends, VOLTAGE)}"
    return f"{said}, {share} of that usable, {say_quantity(lost, SHARE) if lost else 'nothing'} lost a year{below}"


def _say_shares(span: Span) -> str:
    low, high = say_quantity(span.lowest, SHARE), say_quantity(span.highest, SHARE)
    return low if span.lowest == span.highest else f"{low} to {high}"


def _say_ends(span: Span) -> str:
    low, high = _say_capacity(span.lowest), _say_capacity(span.highest)
    return low if low == high else f"{low} to {high}"


def _say_capacity(capacity: Fraction) -> str:
    """A capacity in ampere-hours, as cells have it."""
    milli = capacity / CHARGE.units["mAh"]
    unit = "mAh" if milli < 10_000 else "Ah"
    return f"{write_figures(capacity / CHARGE.units[unit])}{NO_BREAK_SPACE}{unit}"


def say_battery(battery: Battery) -> str:
    """A battery in words: `two LR6 cells`, `a CR2032`."""
    if battery.cell:
        count = NUMBERS[battery.series] if battery.series < len(NUMBERS) else str(battery.series)
        return f"one {battery.cell} cell" if battery.series == 1 else f"{count} {battery.cell} cells"
    return "this battery" if battery.capacity is None else f"{_say_ends(battery.capacity)}"


def say_life(seconds: float) -> str:
    """A life in the unit that suits it, to two figures.

    >>> say_life(91_500_000.0).replace("\\u00a0", " "), say_life(86400.0 * 10).replace("\\u00a0", " ")
    ('2.9 years', '10 days')
    """
    for size, name, least in (
        (YEAR, "years", 1.0),
        (YEAR / 12, "months", 2.0),
        (DAY, "days", 2.0),
        (3600, "hours", 0.0),
    ):
        if seconds >= size * least:
            value = Fraction(seconds / size).limit_denominator(1000)
            return f"{write_figures(value, 2)}{NO_BREAK_SPACE}{name}"
    return "no time"


def say_estimate(estimate: Estimate, kind: Unit = CURRENT) -> str:
    """An estimate: typical, with the highest where a span is known."""
    if estimate.highest is None or estimate.highest == estimate.typical:
        return say_quantity(estimate.typical, kind)
    return f"{say_quantity(estimate.typical, kind)}, up to {say_quantity(estimate.highest, kind)}"


def say_charge_of(phase: PhaseCharge) -> str:
    """The charge of a phase in coulombs."""
    return say_coulombs(phase.charge.typical)


def say_coulombs(charge: Fraction) -> str:
    """A charge in coulombs, to three figures.

    >>> say_coulombs(Fraction(245, 10**7)).replace("\\u00a0", " ")
    '24.5 µC'
    """
    if not charge:
        return f"0{NO_BREAK_SPACE}C"
    coulombs = {name: size for name, size in CHARGE.units.items() if name in ("C", "mC", "µC", "nC")}
    unit = next((name for name in ("C", "mC", "µC") if charge >= coulombs[name]), "nC" if "nC" in coulombs else "µC")
    return f"{write_figures(charge / coulombs[unit])}{NO_BREAK_SPACE}{unit}"


def say_while(seconds: Fraction) -> str:
    """A time, in minutes, hours or days where it is a whole number of them.

    >>> say_while(Fraction(600)).replace("\u00a0", " "), say_while(Fraction(1, 8)).replace("\u00a0", " ")
    ('10 min', '125 ms')
    """
    for size, name in ((DAY, "d"), (3600, "h"), (60, "min")):
        if seconds >= size and seconds % size == 0:
            return f"{seconds // size}{NO_BREAK_SPACE}{name}"
    return say_quantity(seconds, TIME)


def say_often(phase: PhaseCharge, round_: Fraction | None) -> str:
    """How often a phase comes, where not once a round."""
    return "" if phase.every == round_ else f"once in {say_while(phase.every)}"
