"""Supply current of a plan: slope times core clock, plus offset, plus every node that is on.

Source: I = k * f + I_0, common practice, no single source; 100 µA/MHz at 64 MHz is 6.4 mA. The core's part of it goes
through the regulator (`regulator`); oscillators and PLLs are taken as the sheet states them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.clocks.propagate import Clock
from wheelwork.part.nodes import Amount, Oscillator, Part, Pll, Step
from wheelwork.power.regulator import core_factor, not_known

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Share:
    """One part of the supply current: whose it is, typical and highest (A); highest None where no span is stated."""

    of: str
    typical: Fraction
    highest: Fraction | None


@dataclass(frozen=True, slots=True)
class SupplyCurrent:
    """The supply current (A) with its parts. `not_stated` names what the sheet is silent about; it is not counted."""

    parts: tuple[Share, ...]
    not_stated: tuple[str, ...]

    @property
    def typical(self) -> Fraction:
        """The sum of the typical figures."""
        return sum((part.typical for part in self.parts), ZERO)

    @property
    def highest(self) -> Fraction | None:
        """The sum of the highest figures, the typical one where a part states none; None where no part states any."""
        if all(part.highest is None for part in self.parts):
            return None
        return sum((part.typical if part.highest is None else part.highest for part in self.parts), ZERO)


def estimate_current(
    part: Part, step: Step, clocks: Mapping[str, Clock], supply: Fraction | None = None
) -> SupplyCurrent:
    """The supply current with these clocks running at a core-voltage step, from a supply (V; None: not named)."""
    shares: list[Share] = []
    missing: list[str] = []
    missing.extend(not_known(part, supply))
    for name, amount, factor in _amounts(part, step, clocks, core_factor(part, step, supply)):
        if amount is None:
            missing.append(name)
        else:
            shares.append(
                Share(name, amount.typical * factor, None if amount.highest is None else amount.highest * factor)
            )
    return SupplyCurrent(tuple(shares), tuple(dict.fromkeys(missing)))


def _amounts(
    part: Part, step: Step, clocks: Mapping[str, Clock], through: Fraction
) -> Iterator[tuple[str, Amount | None, Fraction]]:
    """Each share by whose it is, with what it is multiplied by; `through` is what the regulator makes of the core's."""
    yield "run_current", step.run_current, through * clocks[part.core_clock].nominal
    yield "base_current", step.base_current, through
    for name, clock in clocks.items():
        node = part.nodes[name]
        steady, slope = node.current_while_on(step.id), node.current_per_hertz(step.id)
        if steady is not None or (slope is None and isinstance(node, Oscillator | Pll)):
            yield name, steady, Fraction(1)
        if slope is not None:
            yield name, slope, clock.nominal
