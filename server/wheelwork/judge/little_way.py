"""Which clocks stand on the little way down of a plan, in a table where one row is one plan."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wheelwork.charts.ways import WayStop
from wheelwork.clocks.propagate import factor_of
from wheelwork.judge.judgement import Judgement
from wheelwork.part.nodes import Divider, Load, Part, Pll, Scaler, Selector

MOST_STOPS = 8


def stops_towards(judgement: Judgement, wanted: Iterable[str]) -> list[WayStop]:
    """The way down to some clocks, the first of them before all; what changes nothing on the way is left out."""
    chosen: list[str] = []
    for node in wanted:
        if node in judgement.clocks:
            longer = [name for name in judgement.way.order if name in names_above(judgement, (node,)) or name in chosen]
            if chosen and _count_stops(judgement, longer) > MOST_STOPS:
                break
            chosen = longer
    return _draw_stops(judgement, chosen)


def names_above(judgement: Judgement, wanted: Iterable[str]) -> set[str]:
    """The nodes on the ways to some nodes, these included, as far as they run."""
    found: set[str] = set()
    for node in wanted:
        name: str | None = node if node in judgement.clocks else None
        while name is not None and name not in found:
            found.add(name)
            name = judgement.way.feeder.get(name)
    return found


def _moves(part: Part, judgement: Judgement, name: str) -> bool:
    """Whether a node has a place of its own on the little way: a source, or a ratio other than 1."""
    node = part.nodes[name]
    match node:
        case Divider():
            return judgement.settings[name] != 1
        case Scaler():
            return factor_of(node, judgement.settings) != 1
        case Selector() | Load():
            return False
    return True


def _count_stops(judgement: Judgement, names: Sequence[str]) -> int:
    part = judgement.part
    return sum(1 + isinstance(part.nodes[name], Pll) for name in names if _moves(part, judgement, name))


def _draw_stops(judgement: Judgement, names: Sequence[str]) -> list[WayStop]:
    """The stops of some nodes, feeders first; a PLL has two, its phase detector's and its VCO's."""
    stops: list[WayStop] = []
    place: dict[str, int] = {}
    for name in names:
        feeder = judgement.way.feeder.get(name)
        above = None if feeder is None else place.get(feeder)
        if not _moves(judgement.part, judgement, name) and above is not None:
            place[name] = above
            continue
        detector = judgement.phase_detectors.get(name)
        if detector is not None and detector.clock is not None:
            stops.append(WayStop(detector.clock.nominal, above))
            above = len(stops) - 1
        stops.append(WayStop(judgement.clocks[name].nominal, above))
        place[name] = len(stops) - 1
    return stops
