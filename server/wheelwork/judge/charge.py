"""The charge of a plan: its run current with its parts, one round of phases, the mean, and how long the battery lasts.

A round is as long as the shortest `every`, else as all phases together. A phase happens once in its `every`, once a
round without one; the phase that says no time takes what is left. Waking from a mode is a phase of its own, at the
offset of the core's step with the clock that it wakes on. Estimates: a span is given where the sheet has one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from wheelwork.findings import Finding, name_list
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.part.nodes import Amount, Mode
from wheelwork.plan.cells import CELLS, DRAIN_OF_LR6
from wheelwork.plan.phases import RUN, Battery, Phase
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan
from wheelwork.power.battery import (
    YEAR,
    capacity_at,
    largest_pulse,
    least_capacitor,
    life_exponential,
    life_linear,
    loaded_voltage,
)
from wheelwork.quantities.units import CAPACITANCE, CURRENT, TIME, VOLTAGE, say_frequency, say_quantity

ZERO = Fraction(0)
USUAL_SHARE = Fraction(85, 100)
"""The usable share of a cell where none is stated: common practice, no source."""
WORN = 6
"""How many times a worn or cold cell's resistance is its own: of coin cells, some 10 Ω to some 60 Ω (Jensen, 2010)."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A current (A) or charge (C): typical, and the highest where a span is known."""

    typical: Fraction
    highest: Fraction | None = None

    @property
    def most(self) -> Fraction:
        """The highest, else the typical."""
        return self.typical if self.highest is None else self.highest

    def times(self, factor: Fraction) -> Estimate:
        """The estimate multiplied."""
        return Estimate(self.typical * factor, None if self.highest is None else self.highest * factor)

    def plus(self, other: Estimate) -> Estimate:
        """Both together; a span where one has one."""
        if self.highest is None and other.highest is None:
            return Estimate(self.typical + other.typical)
        return Estimate(self.typical + other.typical, self.most + other.most)


NONE = Estimate(ZERO)


@dataclass(frozen=True, slots=True)
class PhaseCharge:
    """A phase of the round: how long it lasts (s), once in `every` (s), its current and the charge of one time.

    `judgement` is that of a phase that runs; `derived` tells a waking that no plan wrote; `place` is the phase's in the
    plan.
    """

    place: int
    name: str
    about: str
    lasts: Fraction
    every: Fraction
    current: Estimate
    judgement: Judgement | None
    derived: bool = False

    @property
    def charge(self) -> Estimate:
        """The charge (C) of one time."""
        return self.current.times(self.lasts)

    @property
    def share(self) -> Fraction:
        """The share of all time."""
        return self.lasts / self.every


@dataclass(frozen=True, slots=True)
class Life:
    """How long a battery lasts (s), and what ends it."""

    lowest: float
    typical: float
    highest: float
    ended_by: str


@dataclass(frozen=True, slots=True)
class Charge:
    """The charge of a plan. `mean` and `round` are None where it has no phases, `life` where it has no battery."""

    judgement: Judgement
    run: Estimate
    phases: tuple[PhaseCharge, ...]
    round: Fraction | None
    mean: Estimate | None
    life: Life | None
    not_stated: tuple[str, ...]
    findings: tuple[Finding, ...]


USUAL_WORK = Fraction(1_000_000)
"""The core clocks that are compared where no phase names work."""


def work_of(charge: Charge) -> tuple[PhaseCharge | None, Fraction, Fraction | None]:
    """The work of a plan's first phase that runs as planned: the phase, its core clocks, the seconds it may take."""
    judgement = charge.judgement
    phase = next((each for each in charge.phases if each.judgement is judgement and not each.derived), None)
    if phase is None:
        return None, USUAL_WORK, None
    return phase, phase.lasts * judgement.clocks[judgement.part.core_clock].nominal, phase.every


def reckon_charge(judgement: Judgement) -> Charge:
    """The charge of a judged plan."""
    findings: list[Finding] = []
    missing = list(judgement.current.not_stated)
    phases, round_ = _round(judgement, findings, missing)
    mean = _mean(phases, findings) if phases else None
    findings += _pins(judgement)
    battery = judgement.plan.battery
    life = None
    if battery is not None:
        life = _life(judgement, battery, mean or _run(judgement), findings)
    ordered = tuple(sorted(findings, key=lambda finding: ("stop", "caution", "note").index(finding.severity)))
    return Charge(judgement, _run(judgement), phases, round_, mean, life, tuple(dict.fromkeys(missing)), ordered)


def _run(judgement: Judgement) -> Estimate:
    return Estimate(judgement.current.typical, judgement.current.highest)


def _round(
    judgement: Judgement, findings: list[Finding], missing: list[str]
) -> tuple[tuple[PhaseCharge, ...], Fraction | None]:
    """The phases with their times; those that say none share what is left."""
    plan = judgement.plan
    if not plan.phases:
        return (), None
    judged = [_judge_phase(judgement, place, phase, findings) for place, phase in enumerate(plan.phases)]
    timed = [_time_of(phase, each) for phase, each in zip(plan.phases, judged, strict=True)]
    stated = [phase.every for phase in plan.phases if phase.every is not None]
    known = [time for time in timed if time is not None]
    round_ = min(stated) if stated else sum(known, ZERO)
    if not round_:
        findings.append(Finding("phase", "stop", "No phase says how long it lasts.", "Write lasts, cycles or every."))
        return (), None
    made = []
    for place, (phase, each, time) in enumerate(zip(plan.phases, judged, timed, strict=True)):
        if time is not None:
            made.append(_phase(judgement, place, phase, each, time, phase.every or round_, missing))
            made += _waking(judgement, place, phase, phase.every or round_, missing)
    busy = sum((each.share for each in made), ZERO)
    made += _resting(judgement, judged, timed, round_, 1 - busy, missing, findings)
    made.sort(key=lambda each: (each.place, each.derived))
    return tuple(made), round_


def _judge_phase(judgement: Judgement, place: int, phase: Phase, findings: list[Finding]) -> Judgement | None:
    """The judgement of a phase that runs: the plan's own, or that of the settings that are otherwise in it."""
    if phase.mode != RUN:
        return None
    if not phase.plan:
        return judgement
    raw = write_plan(replace(judgement.plan, phases=(), battery=None, links=(), targets=()), judgement.part)
    other = dict(phase.plan)
    settings = {**raw.get("set", {}), **other.pop("set", {})}
    plan, problems = read_plan({**raw, "wait_states": None, **other, "set": settings}, judgement.part)
    if plan is None:
        problem = problems[0]
        what = f"{phase.name}: {problem.where} {problem.what}."
        findings.append(Finding(f"phase.{place}", "stop", what, f"Allowed: {problem.allowed}."))
        return judgement
    judged = reckon(judgement.part, plan)
    if not judged.legal:
        what = f"{phase.name} runs outside what the sheet allows."
        findings.append(
            Finding(f"phase.{place}", "stop", what, "Open its settings as a plan of their own to see where.")
        )
    return judged


def _time_of(phase: Phase, judged: Judgement | None) -> Fraction | None:
    """How long a phase lasts; None for one that takes what is left."""
    if phase.lasts is not None:
        return phase.lasts
    if phase.cycles is None or judged is None:
        return None
    return phase.cycles / judged.clocks[judged.part.core_clock].nominal


def _phase(
    judgement: Judgement,
    place: int,
    phase: Phase,
    judged: Judgement | None,
    lasts: Fraction,
    every: Fraction,
    missing: list[str],
) -> PhaseCharge:
    part = judgement.part
    draws = sum((draw.current for draw in phase.draws), ZERO)
    if judged is not None:
        core = judged.clocks[part.core_clock].nominal
        volts = say_quantity(part.step(judged.plan.core_voltage).volts, VOLTAGE)
        about, current = f"run, {say_frequency(core)}, {volts}", _run(judged)
        missing.extend(judged.current.not_stated)
    else:
        mode = part.modes[phase.mode]
        about, current = mode.title, _of_mode(mode, missing)
    return PhaseCharge(place, phase.name, about, lasts, every, current.plus(Estimate(draws)), judged)


def _of_mode(mode: Mode, missing: list[str]) -> Estimate:
    if mode.current is None:
        missing.append(f"mode.{mode.id}")
        return NONE
    return _estimate(mode.current)


def _estimate(amount: Amount) -> Estimate:
    return Estimate(amount.typical, amount.highest)


def _waking(
    judgement: Judgement, place: int, phase: Phase, every: Fraction, missing: list[str]
) -> Iterator[PhaseCharge]:
    """Waking from a low-power mode, once for each time that it is left."""
    mode = judgement.part.modes.get(phase.mode)
    if mode is None:
        return
    if mode.wake_up is None:
        missing.append(f"mode.{mode.id}.wake_up")
        return
    part, step = judgement.part, judgement.part.step(judgement.plan.core_voltage)
    current = NONE if step.base_current is None else _estimate(step.base_current)
    if step.base_current is None:
        missing.append("base_current")
    source = part.nodes.get(mode.wakes_on or "")
    drawn = None if source is None else source.current_while_on(step.id)
    if drawn is not None:
        current = current.plus(_estimate(drawn))
    elif mode.wakes_on:
        missing.append(mode.wakes_on)
    about = f"on {source.title}" if source is not None else "clock not stated"
    yield PhaseCharge(place, f"Waking from {mode.title}", about, mode.wake_up, every, current, None, derived=True)


def _resting(
    judgement: Judgement,
    judged: Sequence[Judgement | None],
    timed: Sequence[Fraction | None],
    round_: Fraction,
    left: Fraction,
    missing: list[str],
    findings: list[Finding],
) -> Iterator[PhaseCharge]:
    """What takes the time that is left: the phases that say none in equal parts; the plan as it runs without any."""
    phases = judgement.plan.phases
    open_ = [place for place, time in enumerate(timed) if time is None]
    if left < 0:
        over = say_quantity(-left * round_, TIME)
        what = f"The phases take {over} more than a round of {say_quantity(round_, TIME)} has."
        findings.append(Finding("phase", "stop", what, "Let them last less, or come less often."))
        return
    if not open_:
        if left:
            what = f"For {say_quantity(left * round_, TIME)} of each round no phase says what runs."
            findings.append(
                Finding("phase", "caution", what, "Counted as running as planned; add a phase for the rest.")
            )
            yield PhaseCharge(
                len(phases), "The rest", "run, as planned", left * round_, round_, _run(judgement), judgement
            )
        return
    for place in open_:
        phase, each = phases[place], judged[place]
        waking = list(_waking(judgement, place, phase, phase.every or round_, missing))
        lasts = max(ZERO, left * round_ / len(open_) - sum((w.share for w in waking), ZERO) * round_)
        yield _phase(judgement, place, phase, each, lasts, round_, missing)
        yield from waking


def _mean(phases: Sequence[PhaseCharge], findings: list[Finding]) -> Estimate:
    mean = NONE
    for each in phases:
        mean = mean.plus(each.current.times(each.share))
    return mean


def _pins(judgement: Judgement) -> Iterator[Finding]:
    """What hangs on the pins, against what the sheet lets them give; clocks that a mode stops."""
    part = judgement.part
    for place, phase in enumerate(judgement.plan.phases):
        on_pins = [draw for draw in phase.draws if draw.pin]
        for draw in on_pins:
            most = part.pins.strong if draw.pin == "strong" else part.pins.each
            if most is not None and draw.current > most:
                what = f"{draw.of} draws {say_quantity(draw.current, CURRENT)} from a pin in {phase.name}."
                detail = f"A pin gives {say_quantity(most, CURRENT)}{_see(part.pins.see)}."
                yield Finding(f"phase.{place}", "stop", what, detail)
        total = sum((draw.current for draw in on_pins), ZERO)
        if part.pins.total is not None and total > part.pins.total:
            what = f"All pins together give {say_quantity(total, CURRENT)} in {phase.name}."
            detail = f"At most {say_quantity(part.pins.total, CURRENT)}{_see(part.pins.see)}."
            yield Finding(f"phase.{place}", "stop", what, detail)
        yield from _stopped(judgement, place, phase)


def _stopped(judgement: Judgement, place: int, phase: Phase) -> Iterator[Finding]:
    """Loads that have to go on in a mode which stops their clock: those named, else calendars and watchdogs in use."""
    part, mode = judgement.part, judgement.part.modes.get(phase.mode)
    if mode is None:
        return
    going = [
        each for each in part.loads if each.id in judgement.plan.in_use and {"rtc", "watchdog"} & set(each.generators)
    ]
    names = [load.id for load in going] if phase.needs is None else list(phase.needs)
    for name in names:
        clock = judgement.clocks.get(name)
        if clock is not None and clock.source not in mode.keeps:
            kept = name_list([part.nodes[each].title for each in mode.keeps]) if mode.keeps else "none"
            what = (
                f"{part.nodes[name].title} stops in {phase.name}: {mode.title} stops {part.nodes[clock.source].title}."
            )
            yield Finding(f"phase.{place}", "caution", what, f"Clocks that {mode.title} keeps: {kept}{_see(mode.see)}.")


def _see(see: str | None) -> str:
    return f" (sheet: {see})" if see else ""


def _life(judgement: Judgement, battery: Battery, mean: Estimate, findings: list[Finding]) -> Life | None:
    """How long the battery lasts, as a span, and what ends it."""
    cell = CELLS.get(battery.cell)
    low, typical, high = _capacities(battery, mean)
    if typical is None or low is None or high is None:
        return None
    least, usual, most = _shares(battery)
    lost = battery.self_discharge
    if lost is None:
        lost = ZERO if cell is None else cell.chemistry.self_discharge
    if not mean.typical:
        return None
    spans = [
        float(life_linear(low, least, lost, mean.most)),
        float(life_linear(typical, usual, lost, mean.typical)),
        life_exponential(float(high), float(most), float(lost), float(mean.typical)),
    ]
    ended = "the charge is used up"
    if cell is not None:
        shelf = [float(years * YEAR) for years in cell.chemistry.shelf_life]
        if spans[1] > shelf[1]:
            ended = "shelf life"
        spans = [min(span, most_) for span, most_ in zip(spans, shelf, strict=True)]
    drooping = _droop(judgement, battery, findings)
    return Life(spans[0], spans[1], max(spans[1:]), drooping or ended)


def _capacities(battery: Battery, mean: Estimate) -> tuple[Fraction | None, Fraction | None, Fraction | None]:
    """Lowest, typical and highest capacity (C): as the plan says, else the cell's, by its drain where that is known."""
    if battery.capacity is not None:
        span = battery.capacity
        return span.lowest, (span.lowest + span.highest) / 2, span.highest
    cell = CELLS.get(battery.cell)
    if cell is None:
        return None, None, None
    if cell.designation == "LR6" and mean.typical <= DRAIN_OF_LR6[-1][0]:
        capacity = Fraction(capacity_at(mean.typical, DRAIN_OF_LR6)).limit_denominator(1000)
        return capacity * Fraction(9, 10), capacity, capacity * Fraction(11, 10)
    return cell.capacity * Fraction(9, 10), cell.capacity, cell.capacity * Fraction(11, 10)


def _shares(battery: Battery) -> tuple[Fraction, Fraction, Fraction]:
    if battery.usable is None:
        return USUAL_SHARE, USUAL_SHARE, USUAL_SHARE
    span = battery.usable
    return span.lowest, (span.lowest + span.highest) / 2, span.highest


def _droop(judgement: Judgement, battery: Battery, findings: list[Finding]) -> str:
    """What a peak does to the voltage: told, and whether it ends the life before the charge is gone."""
    cell, least = CELLS.get(battery.cell), ends_at(judgement.plan, judgement, battery)
    if cell is None or least is None:
        return ""
    full = battery.series * cell.nominal
    if least > full:
        what = (
            f"The battery's {say_quantity(full, VOLTAGE)} are below the {say_quantity(least, VOLTAGE)} that it ends at."
        )
        findings.append(Finding("battery", "stop", what, "Put more cells in series, or let it end lower."))
        return "voltage too low"
    if battery.peak is None or battery.resistance is None:
        return ""
    resistance = battery.series * battery.resistance
    fresh, worn = (_under_peak(battery, full, resistance * factor) for factor in (1, WORN))
    if fresh < least:
        what = (
            f"A peak of {say_quantity(battery.peak, CURRENT)} pulls a fresh battery to {say_quantity(fresh, VOLTAGE)}."
        )
        detail = f"It has to keep {say_quantity(least, VOLTAGE)}: {_help(battery, full, least, resistance)}"
        findings.append(Finding("battery", "stop", what, detail))
        return "droop under the peak"
    if worn < least:
        what = f"A peak of {say_quantity(battery.peak, CURRENT)} pulls a worn battery to {say_quantity(worn, VOLTAGE)}."
        bears = _help(battery, full, least, resistance * WORN)
        detail = f"Below {say_quantity(least, VOLTAGE)} it ends before its charge is gone: {bears}"
        findings.append(Finding("battery", "caution", what, detail))
        return "droop under the peak, before the charge is gone"
    return ""


def _help(battery: Battery, full: Fraction, least: Fraction, resistance: Fraction) -> str:
    """What would keep the voltage under the peak: less of it, or a capacitor beside the battery."""
    assert battery.peak is not None
    if least == full:
        return "no peak leaves it that; put more cells in series, or let it end lower."
    bears = f"let the peak be about {say_quantity(largest_pulse(full, least, resistance), CURRENT)} at most"
    if battery.pulse is None:
        return f"{bears}, or say how long it lasts and put a capacitor beside the battery."
    capacitor = least_capacitor(battery.peak, battery.pulse, full - least)
    lasts = say_quantity(battery.pulse, TIME)
    return f"{bears}, or for {lasts} put about {say_quantity(capacitor, CAPACITANCE)} or more beside the battery."


def _under_peak(battery: Battery, full: Fraction, resistance: Fraction) -> Fraction:
    """The voltage under the peak; with a capacitor, which alone carries it, that of the capacitor if it droops less."""
    assert battery.peak is not None
    by_cell = loaded_voltage(full, battery.peak, resistance)
    if battery.capacitor is None or battery.pulse is None:
        return by_cell
    return max(by_cell, full - battery.peak * battery.pulse / battery.capacitor)


def ends_at(plan: Plan, judgement: Judgement, battery: Battery) -> Fraction | None:
    """The voltage (V) at which the battery ends: the plan's or the cells', and never below what the part needs."""
    cell, needed = CELLS.get(battery.cell), judgement.part.supply.lowest
    stated = battery.ends_at
    if stated is None and cell is not None:
        stated = battery.series * cell.end
    known = [each for each in (stated, needed) if each is not None]
    return max(known) if known else None
