"""Part sheets: every rule of the model, each problem with its place; all problems of a sheet told together."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from wheelwork.findings import Problem
from wheelwork.part.nodes import Divider, Oscillator, Part, Pll, Selector
from wheelwork.part.reading import read_sheet, read_sheet_json
from wheelwork.part.schema import json_schema
from wheelwork.quantities.spans import read_temperatures

CASES = Path(__file__).parent.parent / "cases" / "parts"
TURNSTONE = (CASES / "turnstone-58.toml").read_text()

SMALLEST = """format = "wheelwork-part/1"
name = "Smallest"
[core]
clock = "core"
[core_voltage.only]
volts = "1.2 V"
[oscillator.rc]
frequency = "8 MHz"
[divider.core]
input = "rc"
ratios = "1..4"
"""


def problems_of(text: str) -> list[Problem]:
    part, problems = read_sheet(text)
    assert (part is None) == bool(problems)
    return problems


def smallest(more: str = "") -> Part:
    part, problems = read_sheet(SMALLEST + more)
    assert part is not None, problems
    return part


def test_a_sheet_needs_only_what_is_required() -> None:
    part = smallest()
    assert part.nodes["core"].title == "core"
    assert (part.flash_clock, part.reset_step, part.with_tolerance) == ("core", "only", False)
    assert part.resets == {"core": Fraction(1)}


def test_five_faults_are_told_together_each_with_its_line() -> None:
    faulty = (
        TURNSTONE.replace('frequency = "37 kHz"', 'frequency = "37"')
        .replace('lock_time = "60 µs"', 'lock_tme = "60 µs"')
        .replace('volts = "0.95 V"', 'volts = "1.95 V"')
        .replace('inputs = ["slow_bus", "fast_rc", "watch_crystal"]', 'inputs = ["slow_bus", "fast_rcc"]')
        .replace('input = "core_source"', 'input = "slow_bus"')
    )
    problems = problems_of(faulty)
    lines = faulty.splitlines()
    expected = {
        "oscillator.slow_rc.frequency": ("no unit", 'frequency = "37"'),
        "pll.main.lock_tme": ("no key", "lock_tme"),
        "core_voltage.low": ("above those of middle", "[core_voltage.low]"),
        "selector.port_source.inputs": ("no node", '"fast_rcc"'),
        "divider.slow_bus": ("circle", "[divider.slow_bus]"),
    }
    told = {problem.where: problem for problem in problems}
    for where, (what, text) in expected.items():
        assert what in told[where].what, problems
        assert text in lines[(told[where].line or 0) - 1]


def test_a_step_without_its_unit_hides_no_other_fault() -> None:
    faulty = TURNSTONE.replace('volts = "1.15 V"', 'volts = "1.15"').replace("limits_at.low", "limits_at.lo")
    told = {problem.where: problem.what for problem in problems_of(faulty)}
    assert told["core_voltage.full.volts"] == "'1.15' has no unit"
    assert told["divider.core.limits_at.lo"] == "'lo' is no core-voltage step of this sheet"
    assert not any("above those of" in what for what in told.values())


def test_faults_are_told_from_the_first_line_to_the_last() -> None:
    faulty = TURNSTONE.replace('input = "core_source"', 'input = "core_sauce"').replace('"11 MHz"', '"11"')
    lines = [problem.line or 0 for problem in problems_of(faulty)]
    assert len(lines) >= 2
    assert lines == sorted(lines)


def test_a_flash_clock_that_is_left_out_is_no_second_fault() -> None:
    """The shared sheet names its flash clock; the smallest one does not."""
    told = [problem.where for problem in problems_of(SMALLEST.replace('clock = "core"', 'clock = "cpu"'))]
    assert told == ["core.clock"]


RULES = [
    ('[divider.a]\ninput = "rc"\nratios = "1..2"\n[load.a]\ninput = "rc"\n', "load.a", "is also a divider"),
    ('[load.port]\ninput = "nowhere"\n', "load.port.input", "no node"),
    ('[load.port]\ninput = "core"\n[load.other]\ninput = "port"\n', "load.other.input", "is a load and feeds nothing"),
    ('[load.port]\ninput = "core"\nalso = ["bus"]\n', "load.port.also", "no node"),
    ('[selector.s]\ninputs = ["rc", "core"]\ncodes = [1]\n', "selector.s.codes", "1 codes stand beside 2 inputs"),
    ('[selector.s]\ninputs = ["rc"]\nreset = "core"\n', "selector.s.reset", "no input here"),
    ('[divider.d]\ninput = "rc"\nratios = [1, 2]\ncodes = [0]\n', "divider.d.codes", "1 codes stand beside 2 ratios"),
    ('[divider.d]\ninput = "rc"\nratios = [1, 2]\ncodes = "ratio / 4"\n', "divider.d.codes", "gives 1/4 for 1"),
    ('[divider.d]\ninput = "rc"\nratios = [1, 2]\ncodes = "__import__(1)"\n', "divider.d.codes", "no sum of ratio"),
    ('[divider.d]\ninput = "rc"\nratios = [1, 2]\nreset = 3\n', "divider.d.reset", "3 is not offered"),
    (
        '[divider.d]\ninput = "rc"\nratios = [1]\nlimits_at.high = "up to 1 MHz"\n',
        "divider.d.limits_at.high",
        "no core-voltage step",
    ),
    (
        '[scaler.s]\ninput = "rc"\nwhen = { divider = "core", ratio_above = 1 }\n',
        "scaler.s.when.divider",
        "no divider upstream",
    ),
    ('[scaler.s]\ninput = "rc"\nmultiply = 0\n', "scaler.s.multiply", "out of range"),
    (
        '[pll.p]\ninput = "rc"\nreference_divider = ["3/2"]\nfeedback = "8..9"\n',
        "pll.p.reference_divider",
        "whole numbers",
    ),
    (
        '[pll.p]\ninput = "rc"\nreference_divider = 1\nfeedback = "8..9"\nreset = { feedback = 7 }\n',
        "pll.p.reset.feedback",
        "7 is not offered",
    ),
    (
        '[pll.p]\ninput = "rc"\nreference_divider = 1\nfeedback = "8..9"\nreset = { fraction = 1 }\n',
        "pll.p.reset.fraction",
        "1 is not offered",
    ),
    ('[pll.p]\ninput = "rc"\nfeedback = "8..9"\n', "pll.p.reference_divider", "is missing"),
    ('[oscillator.x]\nfrequency = "8 MHz"\nfits = ["8 MHz"]\n', "oscillator.x.fits", "board"),
    ('[oscillator.x]\nfrequency = "4 MHz .. 8 MHz"\nfits = ["9 MHz"]\n', "oscillator.x.fits", "outside"),
    ('[oscillator.x]\nfrequency = ["4 MHz", "4 MHz"]\n', "oscillator.x.frequency", "twice"),
    ('[oscillator.x]\nfrequency = ["4 MHz"]\nreset = "5 MHz"\n', "oscillator.x.reset", "none of the choices"),
    ('[oscillator.x]\nfrequency = "4 MHz"\nkind = "quartz"\n', "oscillator.x.kind", "'quartz' is not offered"),
    ('[reset]\ncore_voltage = "none"\n', "reset.core_voltage", "no core-voltage step"),
    ('[[rule]]\nnode = "core"\nof = "rc"\n', "rule.0", "one of at_most and at_least"),
    ('[[rule]]\nnode = "cor"\nof = "rc"\nat_most = 1\n', "rule.0.node", "no node"),
    ('[mode.doze]\nkeeps = ["clock_nowhere"]\n', "mode.doze.keeps", "no node"),
    ('[oscillator.Fast]\nfrequency = "4 MHz"\n', "oscillator.Fast", "no id"),
    ('[oscillator.while]\nfrequency = "4 MHz"\n', "oscillator.while", "means something else"),
]


@pytest.mark.parametrize(("more", "where", "what"), RULES, ids=[f"{case[1]}-{case[2][:16]}" for case in RULES])
def test_a_rule_of_the_sheet_is_kept(more: str, where: str, what: str) -> None:
    problems = problems_of(SMALLEST + more)
    found = [problem for problem in problems if problem.where == where]
    assert found, problems
    assert what in found[0].what
    assert found[0].line is not None
    assert found[0].allowed


def test_a_key_that_is_unknown_offers_the_nearest() -> None:
    told = {p.where: p.allowed for p in problems_of(TURNSTONE.replace("feedback =", "feedbck ="))}
    assert told["pll.main.feedbck"] == "did you mean feedback?"


def test_a_circle_is_told_with_its_way_round() -> None:
    text = (
        SMALLEST
        + '[selector.s]\ninputs = ["rc", "b"]\n[divider.a]\ninput = "s"\nratios = 2\n'
        + '[divider.b]\ninput = "a"\nratios = 2\n'
    )
    circle = next(problem for problem in problems_of(text) if "circle" in problem.what)
    assert "s → a → b" in circle.what or "a → b → s" in circle.what or "b → s → a" in circle.what


def test_a_way_longer_than_can_be_reckoned_is_refused() -> None:
    chain = "".join(f'[divider.d{i}]\ninput = "{f"d{i - 1}" if i else "core"}"\nratios = "1..9"\n' for i in range(100))
    assert any("one behind the other" in problem.what for problem in problems_of(SMALLEST + chain))


def test_a_sheet_of_too_many_nodes_is_refused() -> None:
    many = "".join(f'[load.l{i}]\ninput = "core"\n' for i in range(700))
    assert any("nodes" in problem.what or "entries" in problem.what for problem in problems_of(SMALLEST + many))


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("x" * 600_000, "kB long"),
        ("a = " + "[" * 10_000, "nested too deeply"),
        ("a." * 10_000 + "b = 1", "nested too deeply"),
        ("[" + "a." * 10_000 + "b]", "nested too deeply"),
        ('name = "a', "not TOML"),
        ("a = " + "9" * 5000, "thousands of digits"),
        ("x = 1\nx = 2", "not TOML"),
    ],
    ids=lambda case: str(case)[:12],
)
def test_text_that_is_no_sheet_is_refused(text: str, what: str) -> None:
    assert what in problems_of(text)[0].what


@pytest.mark.parametrize(
    "raw", [None, [], "sheet", 3, {"format": 1}, {"oscillator": []}, {"pll": {"a": 3}}, {"rule": {"a": 1}}]
)
def test_json_that_is_no_sheet_is_refused(raw: object) -> None:
    part, problems = read_sheet_json(raw)
    assert part is None
    assert problems


def test_resets_are_the_sheet_s_or_the_first_of_each() -> None:
    part = smallest(
        '[selector.s]\ninputs = ["core", "rc"]\n[divider.d]\ninput = "rc"\nratios = [4, 2, 1]\n'
        '[oscillator.two]\nfrequency = ["4 MHz", "5 MHz"]\n'
        '[oscillator.three]\nfrequency = ["4 MHz", "5 MHz"]\nreset = "5 MHz"\n'
        '[pll.p]\ninput = "rc"\nreference_divider = "2..3"\nfeedback = [9, "4..6"]\nfraction_of = 8\n'
    )
    assert part.resets == {
        "two": 4_000_000,
        "three": 5_000_000,
        "s": "core",
        "p.reference_divider": 2,
        "p.feedback": 4,
        "p.fraction": 0,
        "core": 1,
        "d": 4,
    }


def test_values_are_read_exactly() -> None:
    part, problems = read_sheet(TURNSTONE)
    assert part is not None, problems
    rc, main, core, source = (part.nodes[name] for name in ("fast_rc", "main", "core", "core_source"))
    assert isinstance(rc, Oscillator)
    assert rc.tolerance is not None
    assert (rc.tolerance.lowest, rc.tolerance.highest) == (Fraction(-15, 1000), Fraction(12, 1000))
    assert isinstance(main, Pll)
    assert (main.feedback.size, main.reference_divider.highest) == (63, 6)
    window = main.window("low")
    assert window is not None
    assert window.highest == 140_000_000
    assert isinstance(core, Divider)
    assert core.codes is not None
    assert core.codes.code_of(Fraction(64), core.ratios.position(Fraction(64))) == 10
    assert isinstance(source, Selector)
    assert source.feeders == ("fast_rc", "crystal", "main_core", "slow_rc", "watch_crystal")
    assert [step.id for step in part.steps] == ["full", "middle", "low"]
    assert part.steps[0].run_current is not None
    assert part.steps[0].run_current.typical == Fraction(93, 10**12)


def test_order_never_puts_a_node_before_its_feeders() -> None:
    for name in ("turnstone-58", "whimbrel-132"):
        part, _ = read_sheet((CASES / f"{name}.toml").read_text())
        assert part is not None
        seen: set[str] = set()
        for node in part.order:
            assert set(part.nodes[node].feeders) <= seen
            seen.add(node)


def test_the_schema_for_editors_is_shipped_as_it_is_served() -> None:
    schema = json_schema()
    shipped = Path(__file__).resolve().parents[2] / "static" / "part-sheet.schema.json"
    assert json.loads(shipped.read_text()) == schema, "write it anew: wheelwork sheet --schema > " + shipped.name
    assert schema["required"] == ["format", "name", "core", "core_voltage", "oscillator"]
    assert set(schema["properties"]) >= {"supply", "pll", "divider", "load", "rule", "mode"}


def test_tolerance_by_temperature_takes_the_first_row_that_covers() -> None:
    """0 to 50 °C lies in the first row; -10 to 50 °C only in the second; -50 °C in none."""
    part = smallest(
        '[oscillator.warm]\nfrequency = "4 MHz"\n'
        'tolerance = [{ over = "0 °C .. 60 °C", is = "±1 %" }, { over = "-20 °C .. 85 °C", is = "±2 %" }]\n'
    )
    warm = part.nodes["warm"]
    assert isinstance(warm, Oscillator)
    for text, percent in (("0 °C .. 50 °C", 1), ("-10 °C .. 50 °C", 2), ("-50 °C .. 0 °C", None)):
        found = warm.tolerance_over(read_temperatures(text))
        assert (None if found is None else found.highest) == (None if percent is None else Fraction(percent, 100))
