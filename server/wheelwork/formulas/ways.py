"""Ways: a source and the steps that make a clock of it, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Letter = Literal["R", "N", "k", "D", "M"]
"""Reference divider, feedback, fraction, divider, fixed factor."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its letter, its value, its title in a sentence; `of` is the m of a fraction k / m."""

    letter: Letter
    value: Fraction
    title: str
    of: int = 1
    node: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """From a source's frequency (Hz) down through its steps; `target` is the title of the clock at the end."""

    source: str
    frequency: Fraction
    steps: tuple[Step, ...]
    target: str = ""

    @property
    def local(self) -> Way:
        """The last step alone (a PLL's three belong together), from the clock that feeds it."""
        if not self.steps:
            return self
        last = self.steps[-1].node
        cut = next(i for i, step in enumerate(self.steps) if step.node == last and all(s.node == last for s in self.steps[i:]))
        feeder = self.frequency
        for step, following in zip(self.steps[:cut], self.steps[1 : cut + 1], strict=False):
            feeder = pass_step(feeder, step, following)
        return Way(self.source if cut == 0 else "", feeder, self.steps[cut:], self.target)


def pass_step(frequency: Fraction, step: Step, following: Step | None) -> Fraction:
    """The clock after one step; a feedback followed by its fraction is taken with it."""
    match step.letter:
        case "R" | "D":
            return frequency / step.value
        case "N" if following is not None and following.letter == "k":
            return frequency * (step.value + following.value / following.of)
        case "k":
            return frequency
    return frequency * step.value
