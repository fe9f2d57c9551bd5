"""Mends in words: the act, what it gives where the finding stands, and the label of its button."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.clocks.verdicts import STOPPED, Judged
from wheelwork.clocks.words import say_verdict
from wheelwork.find.mends import apply_mend, say_value
from wheelwork.findings import Finding, Mend, lower_first
from wheelwork.judge import Judgement
from wheelwork.judge.judgement import reckon
from wheelwork.pages.kept import Kept
from wheelwork.pages.words import say_clock
from wheelwork.part.nodes import Part, Value
from wheelwork.part.outline import Outline, OutlineRow
from wheelwork.quantities.numbers import write_exact

MOST_KEPT = 500


@dataclass(frozen=True, slots=True)
class MendView:
    """A mend at its row: the act in words, what it gives, and the button that does it."""

    named: str
    sentence: str
    label: str
    act: str


@dataclass(frozen=True, slots=True)
class MendWords:
    """Puts the mends of one judgement into words; `permalink` names its plan."""

    judgement: Judgement
    outline: Outline
    permalink: str

    def view(self, finding: Finding, at: str) -> MendView:
        """The nearest mend of a finding, as shown in the row `at`, or in the list of findings where that is empty."""
        mend, part = finding.mend[0], self.judgement.part
        named = name_acts(part, mend)
        return MendView(
            named, self._sentence(finding, mend, named), mend_label(part, self.outline, mend, at), write_act(mend)
        )

    def _sentence(self, finding: Finding, mend: Mend, named: str) -> str:
        """What a mend gives where its finding stands: `Converter tap ÷9 gives 25.777777… MHz, 1.22 MHz of headroom.`"""
        if finding.node not in self.judgement.nodes:
            return ""
        sentences = _SENTENCES.get((self.outline, self.permalink, write_act(mend)), lambda: self._say_all(mend, named))
        return sentences[_place(finding)]

    def _say_all(self, mend: Mend, named: str) -> dict[Place, str]:
        """What a mend gives wherever something is found, told from one reckoning."""
        after = reckon(self.judgement.part, apply_mend(self.judgement.plan, mend))
        found = (f for f in self.judgement.findings if f.node in after.nodes)
        return {_place(f): _say_given(named, _judged_at(after, f)) for f in found}


Place = tuple[str, bool]

_SENTENCES: Kept[dict[Place, str]] = Kept(MOST_KEPT)


def row_of(outline: Outline, finding: Finding) -> OutlineRow | None:
    """The row in which a finding stands; a phase detector is judged in its reference divider's."""
    return outline.row_of.get(f"{finding.node}.reference_divider" if finding.detector else finding.node)


def _place(finding: Finding) -> Place:
    return finding.node, finding.detector


def _judged_at(judgement: Judgement, finding: Finding) -> Judged:
    return (judgement.phase_detectors if finding.detector else judgement.nodes).get(finding.node, STOPPED)


def _say_given(named: str, after: Judged) -> str:
    if after.clock is None:
        return f"With {named} it does not run."
    gives = "give" if " and " in named else "gives"
    return f"{named} {gives} {say_clock(after.clock.nominal)}, {lower_first(say_verdict(after))}."


def name_acts(part: Part, mend: Mend) -> str:
    """A mend's settings by name: `PLL converter tap ÷9 and 1.15 V`."""
    return " and ".join(_named_acts(part, mend)) or "That"


def _named_acts(part: Part, mend: Mend) -> Iterator[str]:
    for key, value in mend.set.items():
        name, _, factor = key.partition(".")
        factor_words = f" {factor.replace('_', ' ')}" if factor else ""
        joint = " from" if isinstance(value, str) else ""
        yield f"{part.nodes[name].title}{factor_words}{joint} {say_value(part, key, value)}"
    if mend.core_voltage is not None:
        yield f"{write_exact(part.step(mend.core_voltage).volts)}\u00a0V"
    if mend.wait_states is not None:
        yield _say_waits(mend.wait_states)


def _say_waits(count: int) -> str:
    return f"{count} wait {'state' if count == 1 else 'states'}"


def mend_label(part: Part, outline: Outline, mend: Mend, at: str) -> str:
    """The button's words: the act itself, with the row's number where it acts in another row."""
    acts = [_act(part, outline, key, value, at) for key, value in mend.set.items()]
    said = ["Set " + " and ".join(acts)] if acts else []
    if mend.core_voltage is not None:
        said.append(f"Go to {write_exact(part.step(mend.core_voltage).volts)}\u00a0V")
    if mend.wait_states is not None:
        said.append(f"Use {_say_waits(mend.wait_states)}")
    return " and ".join([said[0], *(act[0].lower() + act[1:] for act in said[1:])])


def _act(part: Part, outline: Outline, key: str, value: Value, at: str) -> str:
    row = outline.row_of.get(key)
    said = say_value(part, key, value)
    return said if row is None or row.key == at else f"{row.number} to {said}"


def write_act(mend: Mend) -> str:
    """A mend as the value of its button: `set.main_converter=9;core_voltage=full`."""
    parts = [f"set.{key}={_plain(value)}" for key, value in mend.set.items()]
    if mend.core_voltage is not None:
        parts.append(f"core_voltage={mend.core_voltage}")
    if mend.wait_states is not None:
        parts.append(f"wait_states={mend.wait_states}")
    return ";".join(parts)


def _plain(value: Value) -> str:
    if isinstance(value, str):
        return value
    return write_exact(value) if value < 10**5 else f"{write_exact(Fraction(value))} Hz"
