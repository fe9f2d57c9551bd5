"""What a reader has to bear in mind."""

from __future__ import annotations

from wheelwork.handover.report import Bullets, Chapter
from wheelwork.judge import Judgement

ORDER = 100
CAUTIONS = (
    "The part's own datasheet and errata rule; a part sheet is a person's copy of them.",
    "Limits are guaranteed corners: what works beyond them on a bench proves nothing.",
    "Typical is not highest: currents rise with temperature, leakage many times over.",
    "What is not stated is not counted: it is named where it is missing, and is no zero.",
    "A plan is one state. The way from one plan to another has states of its own, which have to be legal too.",
    "This is no substitute for licensed or functional-safety work (IEC 61508, IEC 60730 annex H).",
)


def write_chapter(judgement: Judgement) -> Chapter:
    """The cautions, the same for every plan."""
    return Chapter("Cautions", (Bullets(CAUTIONS),))
