"""The findings, worst first, each with its mend."""

from __future__ import annotations

from collections.abc import Iterator

from wheelwork.findings import Finding
from wheelwork.handover.report import Bullets, Chapter
from wheelwork.judge import Judgement

ORDER = 20
SAID = {"stop": "Outside", "caution": "Caution", "note": "Note"}


def write_chapter(judgement: Judgement) -> Chapter:
    """All findings; a sentence where there are none."""
    if not judgement.findings:
        return Chapter("Findings", ("None.",))
    return Chapter("Findings", (Bullets(tuple(_say(finding) for finding in judgement.findings)),))


def _say(finding: Finding) -> str:
    return " ".join(_sentences(finding))


def _sentences(finding: Finding) -> Iterator[str]:
    yield f"{SAID[finding.severity]}: {finding.what}"
    if finding.detail:
        yield finding.detail
    if finding.mend:
        yield f"Mend: {finding.mend[0].what}."
