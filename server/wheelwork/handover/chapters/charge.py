"""The charge: run current with its parts, one round of phases, how long the battery lasts and what that rests on."""

from __future__ import annotations

from wheelwork.handover.report import Block, Bullets, Chapter, Table
from wheelwork.judge import Judgement
from wheelwork.judge.charge import Charge, Estimate, reckon_charge
from wheelwork.judge.charge_words import say_charge, say_charge_of, say_estimate, say_often, say_span
from wheelwork.plan.cells import CELLS
from wheelwork.quantities.units import TIME, say_quantity

ORDER = 70
PARTS = ("Draws", "Current")
PHASES = ("Phase", "Runs", "Lasts", "How often", "Current", "Charge of one time")
NAMES = {"run_current": "Core, by its clock", "base_current": "Core, offset"}
LITHIUM = (
    "Lithium primary cells: never charge, short or mix them; keep coin cells from children (IEC 60086-4, UN 38.3)."
)
MEAN = "The mean misjudges many real boards: pulses, temperature and cut-off change a life by tens of per cent."
END = "A battery ends at the brown-out threshold plus what the regulator drops, not at its cells' own end voltage."


def write_chapter(judgement: Judgement) -> Chapter:
    """The charge of a plan."""
    charge = reckon_charge(judgement)
    blocks: list[Block] = [f"{say_charge(charge)}. {say_span(charge)}".strip(), _parts(charge)]
    if charge.not_stated:
        blocks.append(f"Not stated and not counted: {', '.join(charge.not_stated)}.")
    if charge.phases:
        blocks.append(Table(PHASES, tuple(_rows(charge)), right=(2, 4, 5)))
    notes = [f"{finding.what} {finding.detail}".strip() for finding in charge.findings]
    notes += [MEAN, END] if charge.mean is not None or charge.life is not None else []
    battery = judgement.plan.battery
    cell = None if battery is None else CELLS.get(battery.cell)
    if cell is not None and cell.chemistry.lithium:
        notes.append(LITHIUM)
    if notes:
        blocks.append(Bullets(tuple(notes)))
    return Chapter("Charge", tuple(blocks))


def _parts(charge: Charge) -> Table:
    nodes = charge.judgement.part.nodes
    rows = []
    for share in charge.judgement.current.parts:
        title = NAMES.get(share.of) or (nodes[share.of].title if share.of in nodes else share.of)
        rows.append((title, say_estimate(Estimate(share.typical, share.highest))))
    return Table(PARTS, (*rows, ("All, running as planned", say_estimate(charge.run))), right=(1,))


def _rows(charge: Charge) -> list[tuple[str, ...]]:
    return [
        (
            phase.name,
            phase.about,
            say_quantity(phase.lasts, TIME),
            say_often(phase, charge.round) or "each round",
            say_estimate(phase.current),
            say_charge_of(phase),
        )
        for phase in charge.phases
    ]
