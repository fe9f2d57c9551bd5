"""Small random parts with questions about them, made so that about half of the questions have an answer.

First a sheet without windows, then one setting of it is drawn, and windows and targets are laid around the clocks of
that setting: edges are met exactly as often as not.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice
from typing import Any, get_args

from tests.find.brute import all_settings, choices_of
from wheelwork.clocks.propagate import Clock
from wheelwork.find.question import Preference, PreferenceKind, Question
from wheelwork.judge.judgement import reckon
from wheelwork.part.nodes import Part, Value
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Plan, Target
from wheelwork.plan.reading import read_plan

RULES_ARE_SEARCHED = True
MOST_SETTINGS = 1200
STEPS = ("high", "low")
KINDS: tuple[PreferenceKind, ...] = get_args(PreferenceKind)
Sheet = dict[str, Any]


@dataclass(frozen=True)
class Small:
    """A small part with a plan on it."""

    part: Part
    plan: Plan
    clocks: Mapping[str, Clock]
    """The clocks of the setting around which its windows were laid."""


def small_part(seed: int) -> Small:
    """The part of a number; the same each time."""
    dice = random.Random(seed)
    while True:
        small = _try_part(dice)
        if small is not None:
            return small


def _try_part(dice: random.Random) -> Small | None:
    sheet = _bare_sheet(dice)
    raw = _plan_of(dice, sheet)
    part = _read(sheet)
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    settings = list(islice(all_settings(part, plan), MOST_SETTINGS + 1))
    if not 4 <= len(settings) <= MOST_SETTINGS:
        return None
    chosen = dice.choice(settings)
    clocks = reckon(part, plan.with_settings(chosen)).clocks
    _add_limits(dice, sheet, clocks, {key: clocks[part.nodes[key].feeders[0]] for key in sheet["pll"] if key in clocks})
    part = _read(sheet)
    plan = _with_settings(dice, part, plan, chosen)
    pins = [*(key for key in part.resets), "core_voltage"]
    held = tuple(dice.sample(pins, 1)) if dice.random() < 0.15 else ()
    return Small(part, replace(plan, held=held), clocks)


def _read(sheet: Sheet) -> Part:
    part, problems = read_sheet_json(sheet)
    assert part is not None, problems
    return part


def _with_settings(dice: random.Random, part: Part, plan: Plan, chosen: Mapping[str, Value]) -> Plan:
    """The plan at its reset values, at the setting drawn, or at one changed a little."""
    plan = replace(plan, core_voltage=dice.choice(STEPS))
    if dice.random() < 0.3:
        return plan
    plan = plan.with_settings(chosen)
    for _ in range(dice.choice([0, 0, 1, 2])):
        name = dice.choice(list(part.nodes))
        plan = plan.with_settings({key: dice.choice(values) for key, values in choices_of(part, name).items()})
    return plan


def _bare_sheet(dice: random.Random) -> Sheet:
    """Nodes one after the other, each fed by earlier ones; a core clock below; no windows."""
    sheet: Sheet = {kind: {} for kind in ("oscillator", "selector", "pll", "divider", "scaler", "load")}
    sheet |= {"format": "wheelwork-part/1", "name": "Small", "figures_from": "invented"}
    sheet["judged_on"] = dice.choice(["nominal", "with tolerance"])
    made = _add_oscillators(dice, sheet)
    plls = dice.choice([0, 1, 1, 1, 1, 2])
    kinds = ["pll"] * plls + ["selector"] * dice.randint(1, 3) + ["divider"] * dice.randint(1, 3)
    kinds += ["scaler"] * dice.choice([0, 0, 1])
    dice.shuffle(kinds)
    for number, kind in enumerate(kinds):
        name = f"{kind}_{number}"
        sheet[kind][name] = _node(dice, kind, made)
        made.append(name)
    above = dice.choice(made[-3:])
    sheet["divider"]["core"] = {"input": above, "ratios": dice.choice([[1, 2], [1, 2, 3], [1], [2, "5/2"]])}
    sheet["divider"]["bus"] = {"input": "core", "ratios": dice.choice([[1, 2], [1, 3], [2]])}
    if dice.random() < 0.4:
        when = {"divider": dice.choice(["core", "bus"]), "ratio_above": 1}
        sheet["scaler"]["kernel"] = {"input": "bus", "multiply": 2, "when": when}
    if dice.random() < 0.6:  # branches that part at the core and meet again
        inputs = dice.sample([*made, "core", "bus"], 2)
        sheet["selector"]["meeting"] = {"inputs": inputs}
    all_made = [name for kind in ("oscillator", "selector", "pll", "divider", "scaler") for name in sheet[kind]]
    for number in range(dice.randint(1, 3)):
        also = dice.sample(all_made, 1) if dice.random() < 0.2 else []
        sheet["load"][f"load_{number}"] = {"input": dice.choice(all_made[len(sheet["oscillator"]) :]), "also": also}
    always = dice.choice([[], ["bus"]])
    sheet["core"] = {"clock": "core", "always": always, **dice.choice([{}, {"flash_clock": "bus"}])}
    sheet["core_voltage"] = {
        "high": {"volts": "1.2 V", **_step_currents(dice)},
        "low": {"volts": "1.0 V", **_step_currents(dice)},
    }
    for kind in ("oscillator", "selector", "pll", "divider", "scaler", "load"):
        for node in sheet[kind].values():
            node |= _currents(dice, kind)
    return sheet


def _add_oscillators(dice: random.Random, sheet: Sheet) -> list[str]:
    rc: Sheet = {"kind": "rc", "frequency": dice.choice(["8 MHz", ["8 MHz", "12 MHz"], ["16 MHz", "4 MHz"]])}
    rc |= dice.choice([{}, {"tolerance": "-2 % .. +1 %"}, {"tolerance": "±1 %"}])
    crystal: Sheet = {"kind": "crystal", "frequency": "4 MHz .. 26 MHz", **dice.choice([{}, {"tolerance": "±50 ppm"}])}
    slow = {"kind": "rc", "frequency": "3 MHz", "tolerance": "±7 %", "always_on": dice.random() < 0.5}
    offered: Sheet = {"rc": rc, "crystal": crystal, "slow": slow}
    if dice.random() < 0.1:
        crystal["always_on"] = True
    names = dice.choice([["rc", "crystal"], ["rc", "crystal"], ["rc"], ["rc", "crystal", "slow"], ["slow", "rc"]])
    sheet["oscillator"] = {name: offered[name] for name in names}
    return list(names)


def _node(dice: random.Random, kind: str, made: list[str]) -> Sheet:
    match kind:
        case "selector":
            inputs = dice.sample(made, min(len(made), dice.choice([2, 2, 3])))
            return {"inputs": [*inputs, inputs[0]] if dice.random() < 0.1 else inputs}
        case "divider":
            return {
                "input": dice.choice(made[-4:]),
                "ratios": dice.choice([[1, 2], "1..3", [2, 4], [1, "3/2"], [3], "2..6 step 2"]),
            }
        case "scaler":
            return {"input": dice.choice(made), "multiply": dice.choice([1, 2, 3]), "divide": dice.choice([1, 2])}
    return {
        "input": dice.choice(made),
        "reference_divider": dice.choice(["1..2", [1, 2, 4], "1..3", [1]]),
        "feedback": dice.choice(["4..6", [3, 6], "3..7 step 2", "4..8", [2, 3, 4, 6]]),
        "fraction_of": dice.choice([1, 1, 1, 2, 4]),
    }


def _step_currents(dice: random.Random) -> Sheet:
    return {"run_current": f"{dice.choice([7, 40, 93])} µA/MHz", "base_current": f"{dice.choice([0, 110])} µA"}


def _currents(dice: random.Random, kind: str) -> Sheet:
    """Currents on everything, at times replaced at a step, at times none at all."""
    found: Sheet = {}
    often = 0.9 if kind in ("pll", "oscillator", "load") else 0.4
    for key, unit, amounts in (("current", "µA", [0, 9, 60, 300]), ("current_per_mhz", "µA/MHz", [1, "2.4", 10, 31])):
        if dice.random() < often:
            found[key] = f"{dice.choice(amounts)} {unit}"
        if dice.random() < 0.3:
            found[f"{key}_at"] = {dice.choice(STEPS): f"{dice.choice(amounts)} {unit}"}
    return found


def _plan_of(dice: random.Random, sheet: Sheet) -> Sheet:
    board: Sheet = {}
    if "crystal" in sheet["oscillator"] and dice.random() < 0.85:
        board["crystal"] = {"frequency": dice.choice(["8 MHz", "12 MHz", "12.288 MHz"])}
        board["crystal"] |= dice.choice([{}, {"tolerance": "±30 ppm"}])
    loads = list(sheet["load"])
    return {
        "core_voltage": "high",
        "supply": dice.choice(["3.0 V", "2.0 V"]),
        "in_use": dice.sample(loads, dice.randint(0, len(loads))),
        "keep_running": dice.sample(list(sheet["selector"]), 1) if dice.random() < 0.15 else [],
        "board": board,
    }


def _hertz(frequency: Fraction | int) -> str:
    return f"{int(frequency)} Hz"


def _window(dice: random.Random, clock: Clock, wide: bool = False) -> str:
    """A window around a clock: an edge on its nominal, on its worst case, or with room."""
    low, high, middle = clock.lowest, clock.highest, clock.nominal
    lowest = dice.choice([low, middle, middle / 2, middle / 3, low * Fraction(9, 10)])
    highest = dice.choice([high, middle, middle * 2, high * Fraction(5, 4), high + 1])
    if wide:
        lowest, highest = min(lowest, middle / 2), max(highest, middle * 2)
    forms = [f"up to {_hertz(highest)}", f"up to {_hertz(highest)}", f"{_hertz(lowest)} .. {_hertz(highest)}"]
    forms += [f"from {_hertz(lowest)}"]
    if dice.random() < 0.1:
        return f"{_hertz(middle)} ± {dice.choice(['0.25 %', '3 %', '50 %'])}"
    return dice.choice(forms)


def _add_limits(dice: random.Random, sheet: Sheet, clocks: Mapping[str, Clock], fed_plls: Mapping[str, Clock]) -> None:
    """Windows, phase detectors, wait-state tables, supply and rules around some clocks."""
    for kind in ("oscillator", "selector", "divider", "scaler", "load"):
        for name, node in sheet[kind].items():
            if name in clocks and (name == "core" or dice.random() < 0.35):
                node["limits"] = _window(dice, clocks[name])
            if name in clocks and dice.random() < 0.15:
                node["limits_at"] = {"low": _window(dice, clocks[name], wide=True)}
    for name, above in fed_plls.items():
        node = sheet["pll"][name]
        if dice.random() < 0.7:
            node["phase_detector"] = f"{_hertz(above.lowest / dice.choice([2, 3, 4]))} .. {_hertz(above.highest)}"
        if dice.random() < 0.2:
            node["phase_detector_at"] = {dice.choice(STEPS): f"up to {_hertz(above.nominal / dice.choice([1, 2]))}"}
        if dice.random() < 0.7:
            node["vco"] = _window(dice, clocks[name], wide=True)
        if dice.random() < 0.3:
            node["vco_at"] = {"low": _window(dice, clocks[name])}
    flash = clocks.get(sheet["core"].get("flash_clock", "core"))
    for step in STEPS:
        if flash is not None and dice.random() < 0.5:
            rows = [
                {"up_to": _hertz(flash.nominal / 2), "wait_states": 0},
                {"up_to": _hertz(flash.highest), "wait_states": 1},
            ]
            if dice.random() < 0.4:
                rows.append({"up_to": _hertz(flash.nominal * 3), "wait_states": 2, "supply": "from 2.7 V"})
            sheet["core_voltage"][step]["flash"] = rows
    if dice.random() < 0.2:
        sheet["core_voltage"][dice.choice(STEPS)]["supply"] = dice.choice(["1.8 V .. 3.6 V", "2.5 V .. 3.6 V"])
    if dice.random() < 0.1:
        sheet["supply"] = {"lowest": "2.2 V"}
    if RULES_ARE_SEARCHED and dice.random() < 0.4 and len(clocks) > 1:
        one, other = dice.sample(list(clocks), 2)
        share = clocks[one].nominal / clocks[other].nominal * Fraction(dice.choice([2, 2, 4, 1]), 2)
        sheet["rule"] = [{"node": one, "of": other, dice.choice(["at_most", "at_least"]): str(share)}]


def draw_target(dice: random.Random, small: Small) -> Target:
    """A target near a clock of the setting drawn, or anywhere."""
    names = list(small.clocks) if dice.random() < 0.9 else list(small.part.nodes)
    node = dice.choice(names)
    clock = small.clocks.get(node)
    wanted = clock.nominal if clock else Fraction(8_000_000)
    if dice.random() < 0.4:
        wanted *= dice.choice([Fraction(1, 2), Fraction(3, 4), Fraction(3, 2), Fraction(2)])
    match dice.choice(["exactly", "within", "within", "at least", "at most"]):
        case "exactly":
            return Target(node, wanted)
        case "within":
            return Target(node, wanted, dice.choice([Fraction(0), Fraction(1, 1000), Fraction(3, 100), Fraction(1, 2)]))
        case "at least":
            return Target(node, at_least=wanted)
    return Target(node, at_most=wanted)


def draw_preference(dice: random.Random, small: Small) -> Preference:
    """One of the eight preferences."""
    kind = dice.choice(KINDS)
    node = dice.choice(["core", *small.part.nodes]) if kind in ("highest", "lowest") else None
    return Preference(kind, node)


def draw_question(dice: random.Random, small: Small) -> Question:
    """A question about a small part: targets, pins and an order of preferences drawn."""
    targets = tuple(draw_target(dice, small) for _ in range(dice.choice([0, 0, 1, 1, 2, 3])))
    pins = [*small.part.resets, *(key.partition(".")[0] for key in small.part.resets), "core_voltage"]
    pinned = tuple(dict.fromkeys(dice.sample(pins, dice.choice([0, 0, 0, 1, 2]))))
    prefer = tuple(dict.fromkeys(draw_preference(dice, small) for _ in range(dice.choice([0, 1, 1, 2, 2, 3]))))
    return Question(
        part=small.part,
        plan=small.plan,
        targets=targets,
        pinned=pinned,
        prefer=prefer,
        top=dice.choice([1, 3, 10, 10, 2000]),
        count=dice.random() < 0.8,
    )
