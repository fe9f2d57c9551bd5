"""The one list of what is handed over of a plan: every form writes from it, so that no two can disagree.

Only what matters under the plan is on it: clocks that run, the core's voltage and wait states, links of such clocks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from wheelwork.clocks.propagate import factor_of
from wheelwork.clocks.verdicts import Judged
from wheelwork.findings import Finding, Unreadable
from wheelwork.handover.checks import Sides
from wheelwork.handover.codes import code_of
from wheelwork.handover.constants import AtLeast, Block, Constant, Draft, HandedOver, Kind, Part, Pinned, Term, Written
from wheelwork.handover.link_values import link_blocks
from wheelwork.handover.names import Names
from wheelwork.handover.reasons import reasons_of
from wheelwork.handover.writing import write_value
from wheelwork.judge import Judgement
from wheelwork.judge.remarks import say_step
from wheelwork.part.nodes import CodedSpan, Divider, Node, Pll, Scaler, Selector
from wheelwork.part.outline import outline_of
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.units import say_frequency

CORE = "core_voltage"
PLACES = (CORE, "wait_states", "supply")
"""What a finding may stand on besides nodes and links."""


def take_values(judgement: Judgement) -> HandedOver:
    """Everything that is handed over of a plan; the judgement must have its findings, as `judge` gives it."""
    taker = _Taker(judgement)
    core = taker.core_block()
    clocks = {name: taker.node_block(name) for name in judgement.way.order}
    links = link_blocks(judgement, taker.names, taker.values, taker.clocks)
    blocks = [core, *_as_on_the_page(judgement, clocks), *links]
    stops = [finding for finding in judgement.findings if finding.severity == "stop"]
    plan, part = judgement.plan, judgement.part
    sheet = f"Part {part.name}{f', sheet revision {part.revision}' if part.revision else ''}"
    figures = f" (figures: {part.figures_from})" if part.figures_from else ""
    board = [plan.board_name, f"revision {plan.board_revision}" if plan.board_revision else ""]
    about = [
        f"{sheet}{figures}.",
        f"Board {', '.join(filter(None, board))}." if any(board) else "",
        f"{plan.owner}." if plan.owner else "",
        f"Kept as {plan.kept.replace('/', ', revision ')}." if plan.kept else "",
    ]
    return HandedOver(
        title=plan.name or f"Plan on {part.name}",
        about=tuple(filter(None, about)),
        notices=tuple(stop.what for stop in stops),
        blocks=tuple(_noticed(blocks, judgement, stops)),
    )


def _as_on_the_page(judgement: Judgement, blocks: Mapping[str, Block]) -> Iterator[Block]:
    """The clocks group by group as the page of the plan has them, a selector before what it feeds alone."""
    outline = outline_of(judgement.part)
    rows = {row: number for number, row in enumerate(outline.rows)}
    placed = {name: outline.row_of[name] for name in blocks}
    titles = {row: group.title for group in outline.groups for row in group.rows}
    for name in sorted(blocks, key=lambda name: (rows[placed[name]], placed[name].chooser != name)):
        yield replace(blocks[name], group=titles[placed[name]])


def _noticed(blocks: list[Block], judgement: Judgement, stops: list[Finding]) -> Iterator[Block]:
    """The blocks, with what stops beside the constant it speaks of, and other findings among the reasons."""
    others = [finding for finding in judgement.findings if finding.severity != "stop"]
    for block in blocks:
        told = [finding.what for finding in others if _is_about(finding, block) and block.of not in finding.also]
        block = replace(block, reasons=(*block.reasons, *told))
        for finding in stops:
            if _is_about(finding, block):
                block = _with_notice(block, finding)
        yield block


def _is_about(finding: Finding, block: Block) -> bool:
    if finding.link or block.kind == "link":
        return block.kind == "link" and finding.link == block.of
    if block.of == CORE:
        return finding.node in PLACES
    return block.of in (finding.node, *finding.also)


def _with_notice(block: Block, finding: Finding) -> Block:
    """The block with a notice at the constant that the finding speaks of."""
    said = f"OUTSIDE: {finding.what.rstrip('.')}"
    place = _place_of(block, finding)
    if place is None:
        return replace(block, notices=(*block.notices, said))
    marked = [
        replace(each, notice=f"{each.notice}; {said}" if each.notice else said) if each is place else each
        for each in block.constants
    ]
    return replace(block, constants=tuple(marked))


def _place_of(block: Block, finding: Finding) -> Constant | None:
    if finding.node == "wait_states":
        return next((each for each in block.constants if each.kind == "wait states"), None)
    if finding.detector:
        return next((each for each in block.constants if each.kind == "ratio"), None)
    clocks = [each for each in block.constants if each.kind in ("frequency", "rate")]
    return next(iter([*clocks[-1:], *block.constants]), None)


class _Taker:
    """Takes the values of one plan, feeders first; remembers what was written of each clock."""

    def __init__(self, judgement: Judgement) -> None:
        self.judgement = judgement
        self.names = Names()
        self.values: dict[str, int] = {}
        self.clocks: dict[str, Written | None] = {}

    def core_block(self) -> Block:
        """The core's voltage with its code, and the flash wait states."""
        judgement, draft = self.judgement, Draft(self.values)
        step = judgement.part.step(judgement.plan.core_voltage)
        volts = write_value(draft, self.names, "CORE_MILLIVOLT", step.volts * 1000, "voltage", "mV")
        if step.code is not None and volts is not None and self._add(draft, "CORE_VOLTAGE_CODE", step.code, "code"):
            self._pin(draft, "CORE_VOLTAGE_CODE", "voltage and code", [volts.above, "CORE_VOLTAGE_CODE"])
        waits, needed = judgement.wait_states_chosen, judgement.wait_states_needed
        if waits is not None:
            self._add(draft, "FLASH_WAIT_STATES", waits, "wait states")
            if needed is not None and 0 < needed <= waits:
                says = "FLASH_WAIT_STATES is below what the flash clock needs"
                draft.checks.append(AtLeast("FLASH_WAIT_STATES", says, needed))
        else:
            draft.left_out.append("FLASH_WAIT_STATES is left out: no number of them suffices, and none is chosen.")
        flash = judgement.part.flash_clock
        clock = f"{judgement.part.nodes[flash].title} {say_frequency(judgement.clocks[flash].nominal)}"
        waiting = (
            f"{clock} needs {'more than there are' if needed is None else needed} wait states at {say_step(step)}."
        )
        title = f"Core voltage step {step.id} and flash"
        source = (f"Sheet: {step.see}.",) if step.see else ()
        return _finish(draft, CORE, title, "core", (waiting, *source))

    def node_block(self, name: str) -> Block:
        """The settings and the frequency of a clock, with the check that it follows from what feeds it."""
        judgement, draft = self.judgement, Draft(self.values)
        node, base, sides = judgement.part.nodes[name], name.upper(), Sides()
        whole = self._settings(draft, node, base, sides)
        clock = write_value(draft, self.names, f"{base}_HZ", judgement.clocks[name].nominal, "frequency", "Hz")
        self.clocks[name] = clock
        if isinstance(node, Pll) and clock is not None:
            self._range_codes(draft, node, base, clock)
        feeder = judgement.way.feeder.get(name)
        if feeder is not None:
            above = self.clocks[feeder]
            if clock is None or above is None or not whole:
                draft.check(None, f"{base}_HZ")
            else:
                equation = Sides()
                equation.put_left(clock)
                equation.put_right(above)
                equation.put(sides)
                says = f"{clock.above} is not what its clock and its factors make"
                draft.check(equation.balance(clock.above, says, self.values), clock.above)
        return _finish(draft, name, node.title, node.kind, tuple(reasons_of(judgement, name)), judgement.nodes[name])

    def _settings(self, draft: Draft, node: Node, base: str, sides: Sides) -> bool:
        """The settings of a node as constants, put into the equation; False where one could not be written."""
        match node:
            case Selector():
                self._selector(draft, node, base)
            case Divider():
                written = self._ratio(draft, f"{base}_RATIO", node.id)
                if written is None:
                    return False
                sides.put_left(written)
            case Pll():
                return self._pll(draft, node, base, sides)
            case Scaler():
                sides.put_right(factor_of(node, self.judgement.settings))
        return True

    def _selector(self, draft: Draft, node: Selector, base: str) -> None:
        place = node.inputs.index(str(self.judgement.settings[node.id]))
        name, code = self.names.take(f"{base}_INPUT"), code_of(self.judgement, node.id)
        draft.add(name, place, "input", f"{self.judgement.part.nodes[node.inputs[place]].title}, counted from 0")
        pinned = [name]
        if code is not None:
            pinned.append(self.names.take(f"{base}_CODE"))
            draft.add(pinned[-1], code, "code", f"for input {place}")
        self._pin(draft, pinned[-1], "input and code" if code is not None else "input and clock", pinned)

    def _pll(self, draft: Draft, node: Pll, base: str, sides: Sides) -> bool:
        divider = self._ratio(draft, f"{base}_REFERENCE_DIVIDER", f"{node.id}.reference_divider")
        feedback = self._ratio(draft, f"{base}_FEEDBACK", f"{node.id}.feedback")
        fraction = self._ratio(draft, f"{base}_FRACTION", f"{node.id}.fraction") if node.fraction_of > 1 else None
        if divider is None or feedback is None or (node.fraction_of > 1 and fraction is None):
            return False
        sides.put_left(divider)
        if fraction is None:
            sides.put_right(feedback)
        else:
            sides.put_left(Fraction(node.fraction_of))
            sides.right.append(Term((Part(node.fraction_of, feedback.above), Part(1, fraction.above))))
        return True

    def _range_codes(self, draft: Draft, node: Pll, base: str, clock: Written) -> None:
        """The codes of the ranges in which phase detector and VCO run, each pinned to what its clock hangs on."""
        detector = self.judgement.phase_detectors[node.id].clock
        divider = f"{base}_REFERENCE_DIVIDER"
        rows = (
            ("PHASE_DETECTOR", node.phase_detector_ranges, detector, [divider] if divider in self.values else []),
            ("VCO", node.vco_ranges, self.judgement.clocks[node.id], [clock.above]),
        )
        for what, ranges, runs, hangs_on in rows:
            if not ranges or runs is None:
                continue
            row: CodedSpan | None = next((row for row in ranges if runs.nominal in row.span), None)
            name = self.names.take(f"{base}_{what}_RANGE_CODE")
            if row is None:
                draft.left_out.append(f"{name} is left out: no range holds {say_frequency(runs.nominal)}.")
            elif draft.add(name, row.code, "code", f"for {say_frequency(runs.nominal)}"):
                self._pin(draft, name, "range and code", [*hangs_on, name])

    def _ratio(self, draft: Draft, name: str, key: str) -> Written | None:
        """A ratio by the key of its setting, with its code, and the check that they belong together."""
        ratio, code_name = Fraction(self.judgement.settings[key]), f"{name.removesuffix('_RATIO')}_CODE"
        written = write_value(draft, self.names, name, ratio, "ratio", rounded=False)
        try:
            code = code_of(self.judgement, key)
        except Unreadable:
            draft.left_out.append(f"{code_name} is left out: the sheet's codes have no whole number for this ratio.")
            return written
        if code is None or written is None:
            return written
        code_name = self.names.take(code_name)
        if draft.add(code_name, code, "code", f"for {write_exact(ratio)}"):
            self._pin(draft, code_name, "ratio and code", [n for n in (written.above, written.below, code_name) if n])
        return written

    def _add(self, draft: Draft, name: str, value: int, kind: Kind, note: str = "") -> bool:
        return draft.add(self.names.take(name), value, kind, note)

    def _pin(self, draft: Draft, name: str, what: str, names: list[str]) -> None:
        pairs = tuple((each, self.values[each]) for each in names)
        draft.checks.append(Pinned(name, f"{name}: {what} do not belong together on the sheet", pairs))


def _finish(
    draft: Draft, of: str, title: str, kind: str, reasons: tuple[str, ...], judged: Judged | None = None
) -> Block:
    return Block(
        of=of,
        title=title,
        kind=kind,
        reasons=reasons,
        constants=tuple(draft.constants),
        checks=tuple(draft.checks),
        left_out=tuple(draft.left_out),
        judged=judged,
    )
