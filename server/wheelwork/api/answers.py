"""A judgement in JSON's shape: exact hertz as strings, currents in ampere."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from wheelwork.clocks.verdicts import Judged
from wheelwork.findings import Finding, Mend
from wheelwork.judge import Judgement
from wheelwork.part.nodes import Part
from wheelwork.plan.writing import write_settings
from wheelwork.quantities.spans import Window


def exact(value: Fraction | None) -> str | None:
    """An exact number as a string: an integer, or `p/q` in lowest terms."""
    return None if value is None else str(value)


def tell_judgement(judgement: Judgement) -> dict[str, Any]:
    """The whole answer of `POST /api/check`."""
    return {
        "legal": judgement.legal,
        "nodes": {name: _tell_node(judgement, name) for name in judgement.part.nodes},
        "core_voltage": {"chosen": judgement.plan.core_voltage, "lowest_that_does": judgement.lowest_that_does},
        "wait_states": {"chosen": judgement.wait_states_chosen, "needed": judgement.wait_states_needed},
        "current": {
            "typical": float(judgement.current.typical),
            "highest": None if judgement.current.highest is None else float(judgement.current.highest),
            "not_stated": list(judgement.current.not_stated),
        },
        "findings": [tell_finding(judgement.part, finding) for finding in judgement.findings],
    }


def _tell_node(judgement: Judgement, name: str) -> dict[str, Any]:
    node = judgement.part.nodes[name]
    told = {"title": node.title, "kind": node.kind, **_tell_judged(judgement.nodes[name])}
    if name in judgement.phase_detectors:
        told["phase_detector"] = _tell_judged(judgement.phase_detectors[name])
    return told


def _tell_judged(judged: Judged) -> dict[str, Any]:
    clock = judged.clock
    return {
        "verdict": judged.verdict,
        "nominal": exact(clock.nominal) if clock else None,
        "lowest": exact(clock.lowest) if clock else None,
        "highest": exact(clock.highest) if clock else None,
        "window": _tell_window(judged.window),
        "margin": exact(judged.margin),
    }


def _tell_window(window: Window | None) -> dict[str, str | None] | None:
    return None if window is None else {"lowest": exact(window.lowest), "highest": exact(window.highest)}


def tell_finding(part: Part | None, finding: Finding) -> dict[str, Any]:
    """A finding with its mends; where there is no part there are none."""
    told = {
        "node": finding.node,
        "severity": finding.severity,
        "what": finding.what,
        "detail": finding.detail,
        "also": list(finding.also),
        "mend": [] if part is None else [_tell_mend(part, mend) for mend in finding.mend],
    }
    further = {key: value for key in ("tried", "link") if (value := getattr(finding, key))}
    return {**told, **further}


def _tell_mend(part: Part, mend: Mend) -> dict[str, Any]:
    return {
        "set": write_settings(mend.set, part),
        "core_voltage": mend.core_voltage,
        "wait_states": mend.wait_states,
        "what": mend.what,
    }
