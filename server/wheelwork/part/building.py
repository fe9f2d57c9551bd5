"""From a sheet's tables to a part: the nodes put together, and what has to hold between the values of a sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import Any

from wheelwork.findings import Problem, Unreadable, name_list, quote
from wheelwork.links.families import families
from wheelwork.links.fields import Fields, Refused
from wheelwork.part import schema
from wheelwork.part.faults import Enough, Gatherer, offer_name
from wheelwork.part.graph import (
    LONGEST_WAY,
    MOST_DIGITS,
    all_upstream,
    find_circle,
    longest_number,
    longest_way,
    order_nodes,
)
from wheelwork.part.nodes import (
    CodedSpan,
    Divider,
    Factors,
    FlashRow,
    Load,
    Mode,
    Node,
    Oscillator,
    Part,
    Pins,
    Pll,
    Rule,
    Scaler,
    Selector,
    Step,
    Supply,
    resets_of,
)
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.spans import Window

MOST_NODES = 600


def build_part(sheet: schema.SheetTable, raw: Mapping[str, Any]) -> tuple[Part | None, list[Problem]]:
    """The part of a sheet whose values were read; else what does not hold between them."""
    builder = _Builder(sheet, raw)
    try:
        return builder.build(), builder.problems
    except Enough:
        return None, builder.problems


def find_id_problems(raw: Mapping[str, Any]) -> Iterator[Problem]:
    """Ids used twice over all kinds, and a sheet too large to judge while one types."""
    owner: dict[str, str] = {}
    kinds = ("oscillator", "selector", "pll", "divider", "scaler", "load")
    for kind in kinds:
        for name in raw[kind] if isinstance(raw.get(kind), dict) else ():
            if name in owner:
                yield Problem(
                    f"{kind}.{name}", f"{quote(name)} is also {_an(owner[name])}", "give each node its own id"
                )
            owner.setdefault(name, kind)
    if len(owner) > MOST_NODES:
        yield Problem("part", f"{len(owner)} nodes", f"a sheet has at most {MOST_NODES} nodes")


def _an(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


@dataclass
class _Builder(Gatherer):
    """Puts the nodes together and gathers what does not hold between the values of a sheet."""

    sheet: schema.SheetTable
    raw: Mapping[str, Any]
    nodes: dict[str, Node] = field(default_factory=dict, init=False)

    def build(self) -> Part | None:
        """The part; what is wrong is in `problems` afterwards."""
        sheet = self.sheet
        self._gather(sheet.oscillator, self._oscillator)
        self._gather(sheet.selector, self._selector)
        self._gather(sheet.pll, self._pll)
        self._gather(sheet.divider, self._divider)
        self._gather(sheet.scaler, self._scaler)
        self._gather(sheet.load, self._load)
        self._check_names()
        order = self._order()
        self._check_steps()
        if order is not None:
            self._check_conditions(order)
            self._check_length(order)
        return None if self.problems or order is None else self._part(order)

    def _gather(self, tables: Mapping[str, Any], make: Callable[[str, Any], Node]) -> None:
        for name, table in tables.items():
            self.nodes.setdefault(name, make(name, table))

    def _part(self, order: tuple[str, ...]) -> Part:
        sheet, core = self.sheet, self.sheet.core
        supply = sheet.supply
        return Part(
            name=sheet.name,
            about=sheet.about,
            figures_from=sheet.figures_from,
            revision=sheet.revision,
            author=sheet.author,
            with_tolerance=sheet.judged_on == "with tolerance",
            supply=Supply(supply.lowest, supply.highest, supply.regulator, supply.efficiency, supply.currents_at),
            core_clock=core.clock,
            flash_clock=core.flash_clock or core.clock,
            always=tuple(dict.fromkeys(core.always)),
            steps=tuple(self._step(name, table) for name, table in sheet.core_voltage.items()),
            reset_step=sheet.reset.core_voltage or next(iter(sheet.core_voltage)),
            reset_wait_states=sheet.reset.wait_states,
            nodes=self.nodes,
            order=order,
            rules=tuple(Rule(r.node, r.of, r.at_most, r.at_least, r.see) for r in sheet.rule),
            resets={key: value for node in self.nodes.values() for key, value in resets_of(node).items()},
            written=self.raw,
            modes={name: _mode(name, table) for name, table in sheet.mode.items()},
            pins=_pins(sheet.pins),
        )

    def _step(self, name: str, table: schema.StepTable) -> Step:
        rows = tuple(FlashRow(row.up_to, row.wait_states, row.supply) for row in table.flash)
        return Step(
            name,
            table.volts,
            table.supply,
            table.code,
            table.run_current,
            table.base_current,
            table.settle,
            rows,
            table.see,
        )

    def _common(self, name: str, table: schema.NodeTable) -> dict[str, Any]:
        return {
            "id": name,
            "title": table.title or name,
            "group": table.group,
            "see": table.see,
            "current": table.current,
            "current_at": table.current_at,
            "current_slope": table.current_per_mhz,
            "current_slope_at": table.current_per_mhz_at,
        }

    def _limited(self, name: str, table: schema.LimitedTable) -> dict[str, Any]:
        return {**self._common(name, table), "limits": table.limits, "limits_at": table.limits_at}

    def _oscillator(self, name: str, table: schema.OscillatorTable) -> Oscillator:
        window = table.frequency if isinstance(table.frequency, Window) else None
        choices: tuple[Fraction, ...] = () if window else table.frequency
        where = f"oscillator.{name}"
        if table.fits is not None and window is None:
            self.fault(
                f"{where}.fits", "only a board's choice can be narrowed", "write frequency as a window beside it"
            )
        if table.reset is not None and table.reset not in choices:
            self.fault(f"{where}.reset", "this is none of the choices", "write one of the frequencies listed")
        for frequency in table.fits or ():
            if window is not None and frequency not in window:
                self.fault(f"{where}.fits", f"{frequency} Hz lies outside frequency", "name what the window holds")
        return Oscillator(
            **self._limited(name, table),
            source=table.kind,
            choices=choices,
            fitted=window,
            fits=table.fits or (),
            tolerance=None if isinstance(table.tolerance, tuple) else table.tolerance,
            tolerances=table.tolerance if isinstance(table.tolerance, tuple) else (),
            start_up=table.start_up,
            always_on=table.always_on,
            reset=table.reset or next(iter(choices), None),
        )

    def _selector(self, name: str, table: schema.SelectorTable) -> Selector:
        if table.codes is not None and len(table.codes) != len(table.inputs):
            self._count_fault(f"selector.{name}.codes", len(table.codes), len(table.inputs), "inputs")
        if table.reset is not None and table.reset not in table.inputs:
            self.fault(
                f"selector.{name}.reset", f"{quote(table.reset)} is no input here", f"{name_list(table.inputs)} are"
            )
        return Selector(
            **self._limited(name, table),
            inputs=tuple(table.inputs),
            codes=table.codes or (),
            reset=table.reset or table.inputs[0],
            glitch_free=table.glitch_free,
        )

    def _count_fault(self, where: str, codes: int, wanted: int, of: str) -> None:
        self.fault(where, f"{codes} codes stand beside {wanted} {of}", "write one code for each")

    def _pll(self, name: str, table: schema.PllTable) -> Pll:
        where = f"pll.{name}"
        for key, ratios in (("reference_divider", table.reference_divider), ("feedback", table.feedback)):
            if any(run.first.denominator != 1 for run in ratios.runs):
                self.fault(f"{where}.{key}", "a PLL's factors are whole numbers", "write the part as fraction_of")
        codes = {k: v for k, v in (table.codes or schema.PllCodesTable()) if v is not None and k != "see"}
        self._check_codes(f"{where}.codes.reference_divider", codes.get("reference_divider"), table.reference_divider)
        self._check_codes(f"{where}.codes.feedback", codes.get("feedback"), table.feedback)
        reset = table.reset or schema.FactorsTable()
        factors = Factors(
            reset.reference_divider or table.reference_divider.lowest,
            reset.feedback or table.feedback.lowest,
            reset.fraction or Fraction(0),
        )
        self._check_reset(f"{where}.reset.reference_divider", factors.reference_divider, table.reference_divider)
        self._check_reset(f"{where}.reset.feedback", factors.feedback, table.feedback)
        if factors.fraction.denominator != 1 or not 0 <= factors.fraction < table.fraction_of:
            self.fault(
                f"{where}.reset.fraction", f"{factors.fraction} is not offered", f"0 to {table.fraction_of - 1} are"
            )
        return Pll(
            **self._common(name, table),
            input=table.input,
            reference_divider=table.reference_divider,
            feedback=table.feedback,
            fraction_of=table.fraction_of,
            codes=codes,
            phase_detector=table.phase_detector,
            phase_detector_at=table.phase_detector_at,
            vco=table.vco,
            vco_at=table.vco_at,
            vco_ranges=tuple(CodedSpan(row.span, row.code) for row in table.vco_ranges),
            phase_detector_ranges=tuple(CodedSpan(row.span, row.code) for row in table.phase_detector_ranges),
            lock_time=table.lock_time,
            changes_while_running=table.changes_while_running,
            reset=factors,
        )

    def _check_codes(self, where: str, codes: Any, ratios: RatioSet) -> None:
        """One code for each ratio of a list; an expression gives a whole number at both ends of every run."""
        if codes is None:
            return
        if codes.listed and len(codes.listed) != ratios.size:
            self._count_fault(where, len(codes.listed), ratios.size, "ratios")
        elif not codes.listed:
            try:
                for run in ratios.runs:
                    codes.code_of(run.first, 0), codes.code_of(run.last, 0)
            except Unreadable as fault:
                self.note(fault.at(where))

    def _check_reset(self, where: str, value: Fraction, ratios: RatioSet) -> None:
        if value not in ratios:
            self.fault(where, f"{value} is not offered", f"{ratios.words()} are")

    def _divider(self, name: str, table: schema.DividerTable) -> Divider:
        self._check_codes(f"divider.{name}.codes", table.codes, table.ratios)
        reset = table.reset or table.ratios.first
        self._check_reset(f"divider.{name}.reset", reset, table.ratios)
        return Divider(
            **self._limited(name, table), input=table.input, ratios=table.ratios, codes=table.codes, reset=reset
        )

    def _scaler(self, name: str, table: schema.ScalerTable) -> Scaler:
        return Scaler(
            **self._limited(name, table),
            input=table.input,
            factor=Fraction(table.multiply, table.divide),
            when_divider=table.when.divider if table.when else None,
            ratio_above=table.when.ratio_above if table.when else Fraction(0),
        )

    def _load(self, name: str, table: schema.LoadTable) -> Load:
        return Load(
            **self._limited(name, table),
            input=table.input,
            also=tuple(dict.fromkeys(table.also)),
            generators=dict(self._generators(name, table)),
        )

    def _generators(self, name: str, table: schema.LoadTable) -> Iterator[tuple[str, Any]]:
        """The load's rate hardware, each read by its family."""
        for family in families().values():
            stated = getattr(table, family.name)
            if stated is None:
                continue
            try:
                yield family.name, family.read_generator(Fields(stated, f"load.{name}.{family.name}"))
            except Refused as refused:
                for problem in refused.problems:
                    self.note(problem)

    def _check_names(self) -> None:
        """Every input, `also`, `always`, rule and mode names a node."""
        sheet, nodes = self.sheet, self.nodes
        feeders = {name: node for name, node in nodes.items() if not isinstance(node, Load)}
        for kind in ("selector", "pll", "divider", "scaler", "load"):
            for name, table in getattr(sheet, kind).items():
                if kind == "selector":
                    self._check_known(f"selector.{name}.inputs", table.inputs, feeders)
                else:
                    self._check_known(f"{kind}.{name}.input", [table.input], feeders)
        for name, load in sheet.load.items():
            self._check_known(f"load.{name}.also", load.also, nodes)
        self._check_known("core.clock", [sheet.core.clock], nodes)
        self._check_known("core.flash_clock", [sheet.core.flash_clock] if sheet.core.flash_clock else [], nodes)
        self._check_known("core.always", sheet.core.always, nodes)
        for index, rule in enumerate(sheet.rule):
            self._check_known(f"rule.{index}.node", [rule.node], nodes)
            self._check_known(f"rule.{index}.of", [rule.of], nodes)
            if (rule.at_most is None) == (rule.at_least is None):
                self.fault(f"rule.{index}", "a rule has one of at_most and at_least", 'write at_most = "1/2"')
            for bound in (rule.at_most, rule.at_least):
                if bound is not None and bound <= 0:
                    self.fault(f"rule.{index}", f"{bound} is no share of a clock", "write a ratio above 0")
        for name, mode in sheet.mode.items():
            self._check_known(f"mode.{name}.keeps", mode.keeps, nodes)
            self._check_known(f"mode.{name}.wakes_on", [mode.wakes_on] if mode.wakes_on else [], nodes)
        if sheet.change is not None:
            self._check_known("change.fallback", [sheet.change.fallback] if sheet.change.fallback else [], feeders)
            self._check_known("change.pauses", sheet.change.pauses, nodes)

    def _check_known(self, where: str, names: Iterable[str], known: Mapping[str, Node]) -> None:
        for name in names:
            if name in known:
                continue
            if name in self.nodes:
                self.fault(where, f"{quote(name)} is a load and feeds nothing", offer_name(name, known))
            else:
                self.note_unknown(where, [name], known, "node of this sheet")

    def _order(self) -> tuple[str, ...] | None:
        """All ids, feeders first; a cycle is told with its way round."""
        order = order_nodes(self.nodes)
        if order is None:
            circle = find_circle(self.nodes)
            way = " → ".join(circle[:12])
            self.fault(
                self._place(circle[0]), f"the clock goes round in a circle: {way}", "feed one of them from elsewhere"
            )
        return order

    def _check_steps(self) -> None:
        """Steps fall in voltage, and every step named in `…_at` or after reset exists."""
        sheet = self.sheet
        steps = list(sheet.core_voltage)
        tables = list(sheet.core_voltage.items())
        for (above, upper), (name, lower) in pairwise(tables):
            if lower.volts > upper.volts:
                self.fault(
                    f"core_voltage.{name}",
                    f"its volts are above those of {above}",
                    "list steps from the highest voltage down",
                )
        if sheet.reset.core_voltage is not None:
            self._check_step("reset.core_voltage", sheet.reset.core_voltage, steps)
        for kind in ("oscillator", "selector", "pll", "divider", "scaler", "load"):
            for name, table in getattr(sheet, kind).items():
                for key in type(table).model_fields:
                    for step in getattr(table, key) if key.endswith("_at") else ():
                        self._check_step(f"{kind}.{name}.{key}.{step}", step, steps)

    def _check_step(self, where: str, step: str, steps: list[str]) -> None:
        if step not in steps:
            self.fault(where, f"{quote(step)} is no core-voltage step of this sheet", f"{name_list(steps)} are")

    def _check_conditions(self, order: tuple[str, ...]) -> None:
        """A scaler's condition names a divider upstream of it."""
        scalers = [node for node in self.nodes.values() if isinstance(node, Scaler) and node.when_divider is not None]
        above = all_upstream(self.nodes, order) if scalers else {}
        for node in scalers:
            dividers = [
                name
                for place, name in enumerate(order)
                if above[node.id] >> place & 1 and isinstance(self.nodes[name], Divider)
            ]
            if node.when_divider not in dividers:
                what = f"{quote(node.when_divider)} is no divider upstream of it"
                allowed = f"name one of {name_list(dividers)}" if dividers else "no divider feeds it; leave `when` out"
                self.fault(f"scaler.{node.id}.when.divider", what, allowed)

    def _check_length(self, order: tuple[str, ...]) -> None:
        """No way from an oscillator is so long that its exact frequencies grow beyond reading and reckoning."""
        longest, length = longest_way(self.nodes, order)
        if length > LONGEST_WAY:
            what = f"{length} nodes stand one behind the other up to here"
            self.fault(self._place(longest), what, f"a clock passes at most {LONGEST_WAY}")
        longest, digits = longest_number(self.nodes, order)
        if digits > MOST_DIGITS:
            what = f"the exact frequency up to here can have {digits} digits"
            self.fault(self._place(longest), what, f"at most {MOST_DIGITS} are reckoned with; offer smaller ratios")

    def _place(self, name: str) -> str:
        return f"{self.nodes[name].kind}.{name}"


def _mode(name: str, table: schema.ModeTable) -> Mode:
    return Mode(
        id=name,
        title=table.title or name,
        current=table.current,
        keeps=tuple(dict.fromkeys(table.keeps)),
        wake_up=table.wake_up,
        wakes_on=table.wakes_on,
        retains=table.retains or "",
        see=table.see,
    )


def _pins(table: schema.PinsTable | None) -> Pins:
    """The limits of the pins; of an amount the typical figure is the limit."""
    if table is None:
        return Pins()
    each, strong, total = (
        None if amount is None else amount.typical for amount in (table.each, table.strong, table.total)
    )
    return Pins(each, strong, total, table.see)
