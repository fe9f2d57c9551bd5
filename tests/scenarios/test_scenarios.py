"""The tide laboratory's sheets and plans: what they promise, and what they come to.

Expected figures are sums made by hand, shown in each docstring. Beside them stands a second reckoning of this file's
own (`Reckoning`): it reads the TOML itself and uses nothing of the program, and has to agree on every clock of every
plan.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from wheelwork.find.mends import apply_mend, find_mends
from wheelwork.judge import Judgement, judge
from wheelwork.part.codes import Codes
from wheelwork.part.nodes import FACTORS, Divider, Part, Pll, Selector
from wheelwork.part.reading import read_sheet
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan, read_plan_text
from wheelwork.plan.writing import write_plan

SCENARIOS = Path(__file__).resolve().parent.parent.parent / "scenarios"
SHEETS = sorted(path.stem for path in (SCENARIOS / "parts").glob("*.toml"))
PLANS = sorted(path.stem for path in (SCENARIOS / "plans").glob("*.toml"))

STEADY = "01-skerry-3-steady-running"
WAITING = "02-skerry-3-waiting-for-the-tide"
FOG_SIGNAL = "03-fog-signal-44k1"
HARBOUR_LAMP = "04-harbour-lamp"
LOGGING = "05-pier-head-logging"
STORM_WATCH = "06-pier-head-storm-watch"

LONGEST_TITLE = 24
"""Signs that fit the narrowest name column, one step in, at 15 px (measured on the design picture)."""

MHZ = 1_000_000


def text_of(folder: str, name: str) -> str:
    return (SCENARIOS / folder / f"{name}.toml").read_text("utf-8")


@cache
def part_of(name: str) -> Part:
    part, problems = read_sheet(text_of("parts", name))
    assert part is not None, [problem.sentence() for problem in problems]
    return part


@cache
def plan_of(name: str) -> tuple[Part, Plan]:
    raw, problems = read_plan_text(text_of("plans", name))
    assert raw is not None, problems
    part = part_of(raw["part"])
    plan, problems = read_plan(raw, part)
    assert plan is not None, [problem.sentence() for problem in problems]
    return part, plan


@cache
def judged(name: str) -> Judgement:
    return judge(*plan_of(name))


def nominal(name: str, node: str) -> Fraction:
    return judged(name).clocks[node].nominal


def span(name: str, node: str) -> tuple[Fraction | int, Fraction | int]:
    clock = judged(name).clocks[node]
    return clock.lowest, clock.highest


def told(name: str, severity: str) -> list[tuple[str, str]]:
    """Node and sentence of the findings of one severity, unbreakable spaces made plain; links are `test_links.py`'s."""
    findings = [each for each in judged(name).findings if each.severity == severity and not each.link]
    return [(finding.node, finding.what.replace("\u00a0", " ")) for finding in findings]


def stops(name: str) -> list[tuple[str, str]]:
    return told(name, "stop")


def cautions(name: str) -> list[tuple[str, str]]:
    return told(name, "caution")


# A second reckoning, of this file's own


def hertz(text: str) -> Fraction:
    """`8 MHz` in hertz; only the plain forms that the scenarios use."""
    number, unit = text.split()
    return Fraction(number) * {"Hz": 1, "kHz": 1000, "MHz": MHZ}[unit]


class Reckoning:
    """Clocks of a plan from the two TOML files, with plain fractions and by recursion from the loads up."""

    def __init__(self, name: str) -> None:
        self.plan: dict[str, Any] = tomllib.loads(text_of("plans", name))
        self.sheet: dict[str, Any] = tomllib.loads(text_of("parts", self.plan["part"]))
        kinds = ("oscillator", "selector", "pll", "divider", "scaler", "load")
        self.nodes = {node: (kind, table) for kind in kinds for node, table in self.sheet.get(kind, {}).items()}
        self.clocks: dict[str, Fraction] = {}
        for root in self.roots():
            self.reach(root)

    def roots(self) -> Iterator[str]:
        core = self.sheet["core"]
        yield from [core["clock"], core.get("flash_clock", core["clock"]), *core.get("always", [])]
        yield from self.plan.get("keep_running", [])
        for load in self.plan["in_use"]:
            yield from [load, *self.sheet["load"][load].get("also", [])]
        yield from (name for name, table in self.sheet["oscillator"].items() if table.get("always_on"))

    def reach(self, name: str) -> Fraction:
        if name not in self.clocks:
            kind, table = self.nodes[name]
            clock: Fraction = getattr(self, kind)(name, table)
            self.clocks[name] = clock
        return self.clocks[name]

    def chosen(self, name: str, table: dict[str, Any], among: str) -> Any:
        """A setting: the plan's, else the sheet's reset, else the first of the list or range."""
        offered = table[among]
        first = int(re.split(r"\D", offered)[0]) if isinstance(offered, str) else offered[0]
        return self.plan["set"].get(name, table.get("reset", first))

    def oscillator(self, name: str, table: dict[str, Any]) -> Fraction:
        fitted = self.plan.get("board", {}).get(name, {})
        if "frequency" in fitted:
            return hertz(fitted["frequency"])
        given = table["frequency"]
        return hertz(self.chosen(name, table, "frequency") if isinstance(given, list) else given)

    def selector(self, name: str, table: dict[str, Any]) -> Fraction:
        return self.reach(self.chosen(name, table, "inputs"))

    def pll(self, name: str, table: dict[str, Any]) -> Fraction:
        factors = self.plan["set"][name]
        feedback: Fraction = factors["feedback"] + Fraction(factors.get("fraction", 0), table.get("fraction_of", 1))
        return self.reach(table["input"]) / Fraction(factors["reference_divider"]) * feedback

    def divider(self, name: str, table: dict[str, Any]) -> Fraction:
        return self.reach(table["input"]) / Fraction(self.chosen(name, table, "ratios"))

    def scaler(self, name: str, table: dict[str, Any]) -> Fraction:
        when = table.get("when")
        if when is not None:
            ratio = self.chosen(when["divider"], self.sheet["divider"][when["divider"]], "ratios")
            if Fraction(ratio) <= when["ratio_above"]:
                return self.reach(table["input"])
        return self.reach(table["input"]) * Fraction(table.get("multiply", 1), table.get("divide", 1))

    def load(self, name: str, table: dict[str, Any]) -> Fraction:
        return self.reach(table["input"])

    def windows(self) -> int:
        """How many windows are judged: what runs and has one at the plan's step; a PLL has two."""
        step, count = self.plan["core_voltage"], 0
        for name in self.clocks:
            kind, table = self.nodes[name]
            if kind == "pll":
                count += 2
            elif "limits" in table or step in table.get("limits_at", {}) or ".." in table.get("frequency", ""):
                count += 1
        return count


@pytest.mark.parametrize("name", PLANS)
def test_a_second_reckoning_agrees_on_every_clock(name: str) -> None:
    assert {node: clock.nominal for node, clock in judged(name).clocks.items()} == Reckoning(name).clocks


@pytest.mark.parametrize("name", PLANS)
def test_a_second_reckoning_agrees_on_what_does_not_run(name: str) -> None:
    running = {node for node, stand in judged(name).nodes.items() if stand.verdict != "stopped"}
    assert running == set(Reckoning(name).clocks)


@pytest.mark.parametrize("name", PLANS)
def test_a_second_reckoning_counts_the_same_windows(name: str) -> None:
    assert len(judged(name).windows) == Reckoning(name).windows()


# What the sheets promise


def test_there_are_three_sheets_and_six_plans() -> None:
    assert (len(SHEETS), len(PLANS)) == (3, 6)


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_reads_without_problems(name: str) -> None:
    assert read_sheet(text_of("parts", name))[1] == []


@pytest.mark.parametrize("name", SHEETS)
def test_titles_fit_their_column(name: str) -> None:
    assert [node.title for node in part_of(name).nodes.values() if len(node.title) > LONGEST_TITLE] == []


@pytest.mark.parametrize("name", SHEETS)
def test_no_two_nodes_share_a_title(name: str) -> None:
    titles = Counter(node.title for node in part_of(name).nodes.values())
    assert [title for title, count in titles.items() if count > 1] == []


@pytest.mark.parametrize("name", SHEETS)
def test_each_figure_that_costs_current_or_time_is_stated(name: str) -> None:
    sheet = tomllib.loads(text_of("parts", name))
    for step in sheet["core_voltage"].values():
        assert {"volts", "run_current", "base_current", "settle", "flash", "code", "see"} <= set(step)
    for oscillator in sheet["oscillator"].values():
        assert {"current", "start_up", "see"} <= set(oscillator)
    for pll in sheet["pll"].values():
        assert {"current", "lock_time", "phase_detector", "vco", "see"} <= set(pll)


@pytest.mark.parametrize("name", SHEETS)
def test_the_state_after_reset_is_legal(name: str) -> None:
    part = part_of(name)
    plan = Plan(core_voltage=part.reset_step, wait_states=part.reset_wait_states, supply=Fraction(3))
    assert judge(part, plan).legal


@pytest.mark.parametrize("name", SHEETS)
def test_firmware_can_write_a_code_for_each_setting(name: str) -> None:
    for node in part_of(name).nodes.values():
        match node:
            case Selector():
                assert len(set(node.codes)) == len(node.inputs), node.id
            case Divider():
                assert node.codes is not None, node.id
                assert len({code_at(node.codes, node, place) for place in range(node.ratios.size)}) == node.ratios.size
            case Pll():
                wanted = FACTORS if node.fraction_of > 1 else FACTORS[:2]
                assert set(node.codes) == set(wanted), node.id


def code_at(codes: Codes, node: Divider, place: int) -> int:
    return codes.code_of(list(node.ratios)[place], place)


def test_the_small_part_has_one_pll_and_three_voltage_steps() -> None:
    part = part_of("turnstone-58")
    assert (len(list(part.of_kind(Pll))), len(part.steps)) == (1, 3)


def test_the_middle_part_has_an_integer_and_a_fractional_pll() -> None:
    assert sorted(pll.fraction_of for pll in part_of("whimbrel-132").of_kind(Pll) if isinstance(pll, Pll)) == [1, 65536]


def test_the_large_part_is_as_large_as_was_asked_for() -> None:
    """At least 90 nodes, three PLLs with 2, 4 and 1 taps, 12 selectors, 4 voltage steps: counted in the TOML."""
    sheet = tomllib.loads(text_of("parts", "dunlin-192"))
    kinds = {kind: sheet[kind] for kind in ("oscillator", "selector", "pll", "divider", "scaler", "load")}
    taps = Counter(divider["input"] for divider in kinds["divider"].values() if divider["input"] in kinds["pll"])
    assert sum(len(tables) for tables in kinds.values()) >= 90
    assert [taps[pll] for pll in kinds["pll"]] == [2, 4, 1]
    assert len(kinds["selector"]) == 12
    assert len(sheet["core_voltage"]) == 4


def test_the_large_part_uses_what_a_sheet_can_say() -> None:
    """A sheet that leaves a feature out would leave it untried on the page."""
    sheet = tomllib.loads(text_of("parts", "dunlin-192"))
    text = text_of("parts", "dunlin-192")
    assert '"3/2"' in text
    assert "±" in sheet["load"]["network"]["limits"]
    assert sheet["scaler"]["timer_kernel"]["when"] == {"divider": "slow_bus", "ratio_above": 2}
    assert len(sheet["oscillator"]["fast_rc"]["frequency"]) == 3
    assert len(sheet["oscillator"]["fast_rc"]["tolerance"]) == 3
    assert sheet["oscillator"]["slow_rc"]["always_on"] is True
    assert sheet["core"]["flash_clock"] != sheet["core"]["clock"]
    assert any("supply" in row for row in sheet["core_voltage"]["top"]["flash"])
    assert sheet["rule"]
    replaced = ("limits_at", "vco_at", "phase_detector_at", "current_at", "current_per_mhz_at")
    for key in (*replaced, "also", "group", "fits"):
        assert re.search(rf"^{key}\b", text, re.MULTILINE), key


# What the plans promise


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_reads_and_belongs_to_the_laboratory(name: str) -> None:
    _, plan = plan_of(name)
    assert plan.owner == "Holm Tide Laboratory"
    assert plan.board_name
    assert plan.board_revision


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_written_back_is_the_same_plan(name: str) -> None:
    part, plan = plan_of(name)
    assert read_plan(write_plan(plan, part), part) == (plan, [])


def test_the_plan_that_opens_on_the_first_visit_has_a_finding() -> None:
    assert plan_of(PLANS[0])[1].name == "Skerry 3, steady running"
    assert stops(PLANS[0])


@pytest.mark.parametrize(
    ("name", "legal", "needed", "lowest", "inside"),
    [
        (STEADY, False, 2, None, (9, 10)),
        (WAITING, True, 0, "low", (2, 2)),
        (FOG_SIGNAL, True, 4, "high", (13, 13)),
        (HARBOUR_LAMP, True, 3, "medium", (6, 6)),
        (LOGGING, True, 5, "top", (37, 37)),
        (STORM_WATCH, False, 5, None, (35, 38)),
    ],
)
def test_a_plan_stands_as_told(
    name: str, legal: bool, needed: int, lowest: str | None, inside: tuple[int, int]
) -> None:
    """Wait states by the sheets' tables: 58 ≤ 58 is 2; 0.032768 ≤ 7 is 0; 132 ≤ 132 is 4; 86 ≤ 86 is 3; 190 and
    187.5 pass 171 and stay below 192, at 3.3 V: 5.

    Lowest step: 58, 132, 86 and 190 MHz pass the limit of the step below (38, 86, 23, 126 MHz), 0.032768 MHz passes
    none; a plan whose fault is no matter of voltage has none. Windows are counted by `Reckoning.windows`, those outside
    are the findings that stop.
    """
    judgement = judged(name)
    assert judgement.legal is legal
    assert judgement.wait_states_needed == needed
    assert judgement.lowest_that_does == lowest
    assert (judgement.inside, len(judgement.windows)) == inside


def test_steady_running_has_the_converter_over_by_2_mhz() -> None:
    """8 MHz / 1 · 29 = 232 MHz; / 4 = 58 MHz core, / 2 = 29 MHz slow bus; 232 / 8 = 29 MHz, 2 MHz over 27 MHz.

    ±30 ppm of 58 MHz is 1740 Hz.
    """
    assert nominal(STEADY, "main") == 232 * MHZ
    assert nominal(STEADY, "core") == 58 * MHZ
    assert nominal(STEADY, "slow_bus") == nominal(STEADY, "capture_timer") == 29 * MHZ
    assert nominal(STEADY, "converter") == 29 * MHZ
    assert span(STEADY, "core") == (57_998_260, 58_001_740)
    assert judged(STEADY).nodes["core"].verdict == "tight"
    assert stops(STEADY) == [("converter", "Converter clock (ADC) is over by 2 MHz.")]


def test_steady_running_is_mended_at_the_converter_tap() -> None:
    """232 / 9 = 25.777… MHz, 27 − 25.777… = 1.222… MHz of headroom; ÷8 to ÷9 is the least step down."""
    part, plan = plan_of(STEADY)
    mends, finished = find_mends(part, plan, lambda: True)
    mended = judge(part, apply_mend(plan, mends[0]))
    assert finished
    assert (dict(mends[0].set), mends[0].what) == ({"main_converter": Fraction(9)}, "Set PLL converter tap to ÷9")
    assert mended.legal
    assert mended.clocks["converter"].nominal == Fraction(232 * MHZ, 9)


def test_steady_running_draws_6134_microampere() -> None:
    """93 µA/MHz · 58 MHz + 140 + crystal 390 + PLL 210 + watch crystal 0.35 = 5394 + 740.35 = 6134.35 µA."""
    assert judged(STEADY).current.typical == Fraction("6134.35") / MHZ


def test_waiting_for_the_tide_runs_on_the_watch_crystal() -> None:
    """Core and bus 32.768 kHz, ±20 ppm is 0.65536 Hz; 77 · 0.032768 + 110 + 0.35 = 112.873136 µA."""
    assert nominal(WAITING, "core") == nominal(WAITING, "slow_bus") == nominal(WAITING, "calendar") == 32768
    assert span(WAITING, "calendar") == (32768 - Fraction("0.65536"), 32768 + Fraction("0.65536"))
    assert judged(WAITING).nodes["crystal"].verdict == "stopped"
    assert judged(WAITING).nodes["main"].verdict == "stopped"
    assert judged(WAITING).current.typical == Fraction("112.873136") / MHZ
    assert judged(WAITING).findings == ()


def test_the_fog_signal_meets_its_sample_rate() -> None:
    """24 / 4 · 66 = 396 MHz, / 3 = 132 MHz core, / 2 = 66 MHz bus, · 2 = 132 MHz pulse timer.

    24 / 2 · (15 + 3460/65536) / 16 = 12 · 986500/65536 / 16 = 11.289596557… MHz, 3.44 Hz or 0.3049 ppm below 11.2896;
    with the crystal's ±20 ppm it stays inside the 50 ppm the plan asks for.
    """
    master = nominal(FOG_SIGNAL, "audio_master")
    low, high = span(FOG_SIGNAL, "audio_out")
    wanted = Fraction("11.2896") * MHZ
    assert nominal(FOG_SIGNAL, "main") == 396 * MHZ
    assert nominal(FOG_SIGNAL, "core") == nominal(FOG_SIGNAL, "pulse_timer") == 132 * MHZ
    assert master == Fraction(12 * MHZ * 986500, 65536 * 16)
    assert Fraction("0.3049") < (1 - master / wanted) * MHZ < Fraction("0.3050")
    assert wanted * (1 - Fraction(50, MHZ)) <= low < high <= wanted * (1 + Fraction(50, MHZ))
    assert nominal(FOG_SIGNAL, "usb_link") == 48 * MHZ
    assert (stops(FOG_SIGNAL), cautions(FOG_SIGNAL)) == ([], [])


def test_the_harbour_lamp_calls_for_caution() -> None:
    """20 / 5 · 43 = 172 MHz, / 2 = 86 MHz, on the limit; +1.1 % is 86.946 MHz: 946 kHz past, 1.1 % of the edge.

    That is more than the 0.1 % of everyday practice, so a caution. 0.982 · 86 = 84.452 MHz. Pulse timer 86 / 2 · 2.
    """
    assert nominal(HARBOUR_LAMP, "main") == 172 * MHZ
    assert nominal(HARBOUR_LAMP, "core") == nominal(HARBOUR_LAMP, "pulse_timer") == 86 * MHZ
    assert span(HARBOUR_LAMP, "core") == (84_452_000, 86_946_000)
    assert judged(HARBOUR_LAMP).nodes["core"].margin == -946_000
    assert cautions(HARBOUR_LAMP) == [("core", "Core clock and Main PLL core tap stand on their upper limit.")]
    assert stops(HARBOUR_LAMP) == []


def test_logging_uses_most_of_the_large_part() -> None:
    """73 of the 92 nodes run (by `Reckoning` too), all three PLLs, and no finding stops or cautions."""
    running = [node for node in judged(LOGGING).nodes.values() if node.verdict != "stopped"]
    assert (len(running), len(judged(LOGGING).nodes)) == (73, 92)
    assert set(judged(LOGGING).phase_detectors) == {"main", "port", "audio"}
    assert (stops(LOGGING), cautions(LOGGING)) == ([], [])


def test_logging_comes_to_these_clocks() -> None:
    """25 / 5 = 5 MHz at each phase detector.

    Main: 5 · 76 = 380 MHz; / 2 = 190 MHz core and fast bus; / 2 = 95 middle, · 3/2 = 142.5 pulse timers; / 4 = 47.5
    slow, divided by more than 2, so timers · 2 = 95; outside memory 190 · 2/3 = 380/3; clock output 190 / 4 = 47.5.
    Port: 5 · 80 = 400 MHz; / 10 = 40 field bus; / 16 = 25 and / 2 = 12.5 converters; / 8 = 50 network; / 12 / (3/2) =
    200/9 display.
    Audio: 5 · (39 + 10538/32768) = 5 · 1288490/32768 MHz; / 16 = 12.28799819… MHz master, / 4 bit clock.
    """
    expected = {
        "core": 190 * MHZ,
        "middle_bus": 95 * MHZ,
        "pulse_timer": Fraction("142.5") * MHZ,
        "capture_timer": 95 * MHZ,
        "outside_memory": Fraction(380 * MHZ, 3),
        "clock_output": Fraction("47.5") * MHZ,
        "field_bus": 40 * MHZ,
        "level_converter": 25 * MHZ,
        "battery_converter": Fraction("12.5") * MHZ,
        "network": 50 * MHZ,
        "display": Fraction(200 * MHZ, 9),
        "audio_out": Fraction(5 * MHZ * 1288490, 32768 * 16),
        "hydrophone": Fraction(5 * MHZ * 1288490, 32768 * 64),
        "watchdog": Fraction(33000, 9),
        "fast_rc": 28 * MHZ,
    }
    assert {node: nominal(LOGGING, node) for node in expected} == expected


def test_logging_counts_the_tolerance_of_its_temperatures() -> None:
    """−20 to 60 °C is not within 0 to 60 °C; the row for −20 to 85 °C holds: −1.9 % and +1.4 % of 28 MHz.

    50 MHz ± 50 ppm is 2500 Hz either side; the crystal's 20 ppm takes 1000 Hz, so 1500 Hz are left.
    """
    assert span(LOGGING, "fast_rc") == (27_468_000, 28_392_000)
    assert judged(LOGGING).nodes["network"].margin == 1500


def test_logging_needs_a_wait_state_more_at_a_low_supply() -> None:
    """The row 192 MHz with 5 wait states counts from 2.6 V; at 2.5 V the next row, 6, does."""
    raw = tomllib.loads(text_of("plans", LOGGING)) | {"supply": "2.5 V"}
    plan, _ = read_plan(raw, part_of("dunlin-192"))
    assert plan is not None
    assert judge(part_of("dunlin-192"), plan).wait_states_needed == 6


def test_storm_watch_has_exactly_three_findings_that_stop() -> None:
    """400 / 8 = 50 MHz, 14 over 36 MHz; 50 / 2 = 25 MHz, 7 over 18 MHz.

    USB 5 · 75 / 8 = 46.875 MHz, less 20 ppm 46 874 062.5 Hz; 48 MHz less 0.25 % is 47.88 MHz: under by 1 005 937.5 Hz.
    """
    assert stops(STORM_WATCH) == [
        ("converter", "Converter clock (ADC) is over by 14 MHz."),
        ("second_converter", "Second converter clock is over by 7 MHz."),
        ("usb_link", "USB, full speed is under by 1.01 MHz."),
    ]
    assert span(STORM_WATCH, "usb_link")[0] == Fraction("46874062.5")
    assert judged(STORM_WATCH).nodes["usb_link"].margin == -Fraction("1005937.5")


def test_storm_watch_is_mended_by_two_settings() -> None:
    """One tap for both converters: 400 / n ≤ 36 and 400 / n / 2 ≤ 18 ask for n ≥ 11.1…, so ÷12; USB from 48 MHz ±0.2 %.

    No single setting does: the converters hang on the port PLL, USB on the main PLL.
    """
    part, plan = plan_of(STORM_WATCH)
    mends, finished = find_mends(part, plan, lambda: True)
    assert finished
    assert mends[0].set == {"link_source": "link_rc", "converter_tap": 12}
    assert all(judge(part, apply_mend(plan, mend)).legal for mend in mends)
