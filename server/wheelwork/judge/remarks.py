"""Remarks: the findings of a judgement in words, worst first, each with its amount, its edge and where it stands."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from wheelwork.clocks.propagate import tolerance_of
from wheelwork.clocks.verdicts import Judged
from wheelwork.findings import SEVERITIES, Finding, Severity, name_list
from wheelwork.judge.judgement import Judgement, rule_holds, supply_suits
from wheelwork.judge.rates import asks_the_same
from wheelwork.part.nodes import Oscillator, Rule, Step
from wheelwork.power.wait_states import last_row
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.spans import say_window
from wheelwork.quantities.units import FREQUENCY, VOLTAGE, say_frequency, say_quantity, write_quantity

EVERYDAY_EXCESS = Fraction(1, 1000)
"""Up to this share of an edge a tolerance may reach past it as a note; beyond it is a caution (common practice)."""


def remark(judgement: Judgement) -> list[Finding]:
    """All findings of a judgement, what stops first, then by how far they are out."""
    found = [
        *_outside(judgement),
        *_wait_states(judgement),
        *_broken_rules(judgement),
        *_supply(judgement),
        *_tight(judgement),
        *_temperatures(judgement),
        *_no_tolerance(judgement),
    ]
    found += _of_links(judgement, found)
    return sorted(found, key=lambda finding: SEVERITIES.index(finding.severity))


def _of_links(judgement: Judgement, told: list[Finding]) -> Iterator[Finding]:
    """The findings of links; where the sheet holds a load to the very limits of its link it is not told twice."""
    told_of = {(node, finding.severity) for finding in told for node in (finding.node, *finding.also)}
    for link in judgement.links:
        window = link.load.window(judgement.plan.core_voltage)
        stops, cautions = ((link.load.id, severity) in told_of for severity in ("stop", "caution"))
        told_before = {"stop": stops, "caution": stops or cautions, "note": False}
        same = asks_the_same(link, window)
        yield from (finding for finding in link.findings if not (same and told_before[finding.severity]))


def judged_places(judgement: Judgement) -> Iterator[tuple[str, str, Judged]]:
    """Each judged window that matters: node, its name in a sentence, the verdict; phase detectors before their VCO."""
    for name in judgement.way.order:
        title = judgement.part.nodes[name].title
        if name in judgement.phase_detectors:
            yield name, f"Phase detector of {title}", judgement.phase_detectors[name]
            yield name, f"VCO of {title}", judgement.nodes[name]
        else:
            yield name, title, judgement.nodes[name]


def excess(judged: Judged) -> Fraction:
    """By which share of its edge a clock is out in the worst case; 0 where it is not."""
    if judged.margin is None or judged.margin >= 0 or judged.clock is None or judged.window is None:
        return Fraction(0)
    edge = judged.window.highest if _past_top(judged) else judged.window.lowest
    return -judged.margin / edge if edge else Fraction(0)


def _past_top(judged: Judged) -> bool:
    """Whether it is the upper edge that is passed."""
    if judged.window is None or judged.clock is None or judged.window.highest is None:
        return False
    return judged.margin == judged.window.highest - judged.clock.highest


def _outside(judgement: Judgement) -> Iterator[Finding]:
    found = [(name, title, judged) for name, title, judged in judged_places(judgement) if judged.outside]
    for name, title, judged in sorted(found, key=lambda place: -excess(place[2])):
        detail, detector = _detail(judgement, name, judged), _is_detector(judgement, name, judged)
        yield Finding(name, "stop", f"{title} is {amount(judged)}.", detail, detector=detector)


def _is_detector(judgement: Judgement, name: str, judged: Judged) -> bool:
    """Whether a verdict is that of a PLL's phase detector."""
    return judged is judgement.phase_detectors.get(name)


def amount(judged: Judged) -> str:
    """How a clock stands past an edge: `over by 2 MHz`."""
    by = say_quantity(-(judged.margin or Fraction(0)), FREQUENCY)
    return f"{judged.verdict} by {by}"


def _detail(judgement: Judgement, name: str, judged: Judged) -> str:
    """The quiet line: the value, what is allowed at the chosen step, where the sheet says so."""
    if judged.clock is None or judged.window is None:
        return ""
    value = say_frequency(judged.clock.nominal) + _worst(judged)
    if judged.window.accuracy or judgement.part.with_tolerance:
        value = f"{say_frequency(judged.clock.lowest)} to {say_frequency(judged.clock.highest)}"
    node = judgement.part.nodes[name]
    see = f" (sheet: {node.see})" if node.see else ""
    return f"{value}, allowed {say_window(judged.window)}{_at_step(judgement, name)}{see}."


def _worst(judged: Judged) -> str:
    """What the tolerance makes of a clock outside, where its amount cannot be told from the nominal frequency alone."""
    if judged.clock is None or judged.window is None or judged.margin is None:
        return ""
    top = _past_top(judged)
    worst, edge = (judged.clock.highest, judged.window.highest) if top else (judged.clock.lowest, judged.window.lowest)
    plain = abs(judged.clock.nominal - (edge or Fraction(0)))
    if say_quantity(plain, FREQUENCY) == say_quantity(-judged.margin, FREQUENCY):
        return ""
    return f", with tolerance {say_frequency(worst)}"


def _at_step(judgement: Judgement, name: str) -> str:
    node, step = judgement.part.nodes[name], judgement.plan.core_voltage
    replaced = (
        step in node.limits_at or step in getattr(node, "vco_at", {}) or step in getattr(node, "phase_detector_at", {})
    )
    return f" at {say_step(judgement.part.step(step))}" if replaced else ""


def say_step(step: Step) -> str:
    """A core-voltage step by its voltage."""
    return f"{write_exact(step.volts)}\u00a0V"


def _wait_states(judgement: Judgement) -> Iterator[Finding]:
    plan, needed = judgement.plan, judgement.wait_states_needed
    step = judgement.part.step(plan.core_voltage)
    flash = judgement.clocks[judgement.part.flash_clock]
    clock = f"{judgement.part.nodes[judgement.part.flash_clock].title} {say_frequency(flash.nominal)}"
    if needed is None:
        row = last_row(step, plan.supply)
        reach = "no row counts at this supply" if row is None else f"the table ends at {say_frequency(row.up_to)}"
        what = f"Flash cannot be read at {say_frequency(flash.nominal)} with {say_step(step)}."
        yield Finding("wait_states", "stop", what, f"{clock}; {reach}{_see(step)}.")
    elif plan.wait_states is not None and plan.wait_states < needed:
        short = needed - plan.wait_states
        what = f"Flash is {short} wait {'state' if short == 1 else 'states'} short."
        yield Finding(
            "wait_states",
            "stop",
            what,
            f"{clock} needs {needed} at {say_step(step)}, {plan.wait_states} chosen{_see(step)}.",
        )
    elif plan.wait_states is not None and plan.wait_states > needed:
        more = plan.wait_states - needed
        what = f"{more} more wait {'state' if more == 1 else 'states'} than {say_frequency(flash.nominal)} needs."
        cost = f"{needed} would do; each costs up to one clock for every fetch from flash that waits."
        yield Finding("wait_states", "note", what, cost)


def _see(step: Step) -> str:
    return f" (sheet: {step.see})" if step.see else ""


def _broken_rules(judgement: Judgement) -> Iterator[Finding]:
    for rule in judgement.part.rules:
        if not rule_holds(rule, judgement.clocks):
            yield _rule_finding(judgement, rule)


def _rule_finding(judgement: Judgement, rule: Rule) -> Finding:
    title, of = judgement.part.nodes[rule.node].title, judgement.part.nodes[rule.of].title
    node, other = judgement.clocks[rule.node].nominal, judgement.clocks[rule.of].nominal
    share, words = (rule.at_most, "at most") if rule.at_most is not None else (rule.at_least, "at least")
    bound = (share or Fraction(0)) * other
    side = "over" if node > bound else "under"
    what = f"{title} is {side} by {say_quantity(abs(node - bound), FREQUENCY)}: it has to be {words} {share} of {of}."
    see = f" (sheet: {rule.see})" if rule.see else ""
    return Finding(
        rule.node, "stop", what, f"{say_frequency(node)}, allowed {words} {say_frequency(bound)}{see}.", also=(rule.of,)
    )


def _supply(judgement: Judgement) -> Iterator[Finding]:
    part, plan = judgement.part, judgement.plan
    step = part.step(plan.core_voltage)
    if plan.supply is None:
        if step.supply is not None or any(row.supply is not None for row in step.flash):
            what = f"{say_step(step)} depends on the supply, and the plan names none."
            yield Finding(
                "supply", "caution", what, "Name the supply; rows that ask for one are left aside until then."
            )
    elif not supply_suits(part, step, plan):
        said = f"{write_exact(plan.supply)}\u00a0V"
        low, high = part.supply.lowest, part.supply.highest
        if (low is not None and plan.supply < low) or (high is not None and plan.supply > high):
            ends = " to ".join(write_quantity(end, VOLTAGE) for end in (low, high) if end is not None)
            yield Finding("supply", "stop", f"A supply of {said} is outside what the part takes.", f"Allowed {ends}.")
        elif step.supply is not None:
            what = f"A supply of {said} does not suit {say_step(step)}."
            yield Finding("supply", "stop", what, f"This step needs {say_window(step.supply, VOLTAGE)}.")


def _tight(judgement: Judgement) -> Iterator[Finding]:
    """Tight clocks, those that stand at the same frequency before the same edge told together."""
    together: dict[tuple[object, ...], list[tuple[str, str, Judged]]] = {}
    for name, title, judged in judged_places(judgement):
        if judged.verdict == "tight" and judged.clock is not None and judged.window is not None:
            top = _past_top(judged)
            edge = judged.window.highest if top else judged.window.lowest
            together.setdefault((judged.clock.nominal, judged.clock.source, top, edge), []).append(
                (name, title, judged)
            )
    found = [_tight_finding(judgement, places) for places in together.values()]
    yield from sorted(found, key=lambda finding: SEVERITIES.index(finding.severity))


def _tight_finding(judgement: Judgement, places: list[tuple[str, str, Judged]]) -> Finding:
    places = sorted(places, key=lambda place: place[0] != judgement.part.core_clock)
    judged = places[0][2]
    assert judged.clock is not None
    assert judged.window is not None
    top = _past_top(judged)
    edge = judged.window.highest if top else judged.window.lowest
    limit = f"{'upper' if top else 'lower'} limit"
    titles = name_list([title for _, title, _ in places])
    severity: Severity = "note" if excess(judged) < EVERYDAY_EXCESS else "caution"
    reach = say_frequency(judged.clock.highest if top else judged.clock.lowest)
    both = "they reach" if len(places) > 1 else "it reaches"
    detail = f"The sheet counts the nominal value: inside. With tolerance {both} {reach}."
    if judged.clock.nominal == edge:
        verb, owner = ("stand", "their") if len(places) > 1 else ("stands", "its")
        what = f"{titles} {verb} on {owner} {limit}."
    else:
        past = say_quantity(-(judged.margin or Fraction(0)), FREQUENCY)
        what = f"{titles}: the tolerance reaches {past} past the {limit}."
    also, detector = tuple(name for name, _, _ in places[1:]), _is_detector(judgement, places[0][0], judged)
    return Finding(places[0][0], severity, what, detail, also=also, detector=detector)


def _temperatures(judgement: Judgement) -> Iterator[Finding]:
    for node in _running_oscillators(judgement):
        fitted = judgement.plan.fitted.get(node.id)
        if not node.tolerances or (fitted is not None and fitted.tolerance is not None):
            continue
        if judgement.plan.temperature is None and len(node.tolerances) > 1:
            what = f"{node.title} has a tolerance by temperature, and the plan names none."
            yield Finding(node.id, "note", what, "Its widest row is counted; name the board's temperature span.")
        elif judgement.plan.temperature is not None and node.tolerance_over(judgement.plan.temperature) is None:
            what = f"{node.title} has no tolerance stated for the plan's whole temperature span."
            yield Finding(node.id, "caution", what, "Its widest row is counted; beyond the rows nothing is known.")


def _no_tolerance(judgement: Judgement) -> Iterator[Finding]:
    for node in _running_oscillators(judgement):
        if tolerance_of(node, judgement.plan) is None:
            place = "the board's tolerance" if node.fitted is not None else "a tolerance on the sheet or the board"
            yield Finding(
                node.id, "note", f"{node.title} has no tolerance stated.", f"It is counted as exact; name {place}."
            )


def _running_oscillators(judgement: Judgement) -> Iterator[Oscillator]:
    for name in judgement.way.order:
        node = judgement.part.nodes[name]
        if isinstance(node, Oscillator):
            yield node
