"""What is handed over of each link: its settings, its rate, and the check of the rate where its rule is a quotient."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from wheelwork.formulas.products import Sum, take_apart
from wheelwork.formulas.rules import NoRule
from wheelwork.handover.checks import Sides
from wheelwork.handover.constants import Block, Check, Draft, Part, Term, Written
from wheelwork.handover.names import Names, slug
from wheelwork.handover.reasons import reasons_of_link
from wheelwork.handover.writing import write_value
from wheelwork.judge import JudgedLink, Judgement
from wheelwork.links.family import Choice, Setting

UNITS = {"Bd": "BAUD", "bit/s": "BITS_PER_SECOND", "Hz": "HZ"}


def link_blocks(
    judgement: Judgement, names: Names, values: dict[str, int], clocks: Mapping[str, Written | None]
) -> Iterator[Block]:
    """A block for each link of the plan, in its order; one that is not judged has no constants and says why."""
    titles = Names()
    for link in judgement.links:
        base = titles.take(f"LINK_{slug(link.title, 'UNNAMED')}")
        draft = Draft(values)
        if link.choice is not None:
            _Link(draft, names, base, link, link.choice, clocks.get(link.link.load)).take()
        yield Block(
            of=link.title,
            title=f"Link {link.title}, {link.family.title}",
            kind="link",
            group="Links",
            reasons=tuple(reasons_of_link(link, judgement.part.nodes[link.node].title)),
            constants=tuple(draft.constants),
            checks=tuple(draft.checks),
            left_out=tuple(draft.left_out),
            verdict=link.verdict,
        )


class _Link:
    """Takes the values of one link; `written` has what was written of each setting by its key."""

    def __init__(
        self, draft: Draft, names: Names, base: str, link: JudgedLink, choice: Choice, clock: Written | None
    ) -> None:
        self.draft, self.names, self.base = draft, names, base
        self.link, self.choice, self.clock = link, choice, clock
        generator = link.load.generators.get(link.family.name)
        self.generator = generator
        self.fraction_of = getattr(generator, "fraction_of", 1)

    def take(self) -> None:
        """Take settings and rate, and those of each part of the hardware that is set apart."""
        self._table(self.base, self.choice.settings, self.choice.rate)
        for key, settings in self.choice.settings.items():
            if isinstance(settings, Mapping):
                rate = self.choice.told.get(f"{key}_rate")
                self._table(f"{self.base}_{key.upper()}", settings, rate if isinstance(rate, Fraction) else None)

    def _table(self, base: str, settings: Mapping[str, Setting], rate: Fraction | None) -> None:
        written = {key: self._setting(f"{base}_{key.upper()}", key, value) for key, value in settings.items()}
        if rate is None:
            return
        unit = self.link.family.rate_unit
        name = f"{base}_{UNITS.get(unit, slug(unit, 'RATE'))}"
        runs = write_value(self.draft, self.names, name, rate, "rate", unit)
        if runs is not None:
            self._check(runs, settings, written)

    def _setting(self, name: str, key: str, value: Setting) -> tuple[Written | None, int]:
        """What was written of a setting, and how many times its value that is."""
        if isinstance(value, str):
            self.draft.add(self.names.take(f"{name}_{slug(value, 'SET')}"), 1, "setting", value)
        elif isinstance(value, int):
            whole = self.names.take(name)
            return (Written(Fraction(value), whole) if self.draft.add(whole, value, "setting") else None), 1
        elif isinstance(value, Fraction):
            return self._fraction(name, key, value)
        return None, 1

    def _fraction(self, name: str, key: str, value: Fraction) -> tuple[Written | None, int]:
        """A setting that need not be whole: in the parts that the hardware counts, where it counts in parts."""
        parts = value * self.fraction_of
        if key != "divisor" or self.fraction_of == 1 or parts.denominator != 1:
            return write_value(self.draft, self.names, name, value, "setting", rounded=False), 1
        times = self.names.take(f"{name}_X{self.fraction_of}")
        note = f"{self.fraction_of} times {value}"
        return (Written(parts, times) if self.draft.add(times, int(parts), "setting", note) else None), self.fraction_of

    def _check(
        self, runs: Written, settings: Mapping[str, Setting], written: Mapping[str, tuple[Written | None, int]]
    ) -> None:
        """The check that the rate is what clock and settings make, where the family's rule is a quotient."""
        rule = self.link.family.rule_of(self.choice)
        try:
            quotient = take_apart(rule)
        except NoRule:
            self.draft.left_out.append(f"{runs.above} is not checked: its rule is no plain quotient, {rule}.")
            return
        for above, below in ((quotient.above, quotient.below), (quotient.below, quotient.above)):
            sides = Sides()
            sides.put_left(runs)
            placed = [self._put(sides, each, written, False) for each in above]
            placed += [self._put(sides, each, written, True) for each in below]
            says = f"{runs.above} is not what its clock and its settings make"
            check: Check | None = sides.balance(runs.above, says, self.draft.values) if all(placed) else None
            if check is not None:
                self.draft.checks.append(check)
                return
        self.draft.left_out.append(f"{runs.above} is not checked: its rule has more in it than is handed over, {rule}.")

    def _put(self, sides: Sides, terms: Sum, written: Mapping[str, tuple[Written | None, int]], left: bool) -> bool:
        """Put a factor of the rule on a side of the equation; False where something of it was not written."""
        put, other = (sides.put_left, sides.put_right) if left else (sides.put_right, sides.put_left)
        if len(terms) == 1:
            found = self._find(terms[0], written)
            if found is None:
                return False
            value, times = found
            put(value)
            other(Fraction(times))
            return True
        parts = [self._part(term, written) for term in terms]
        kept = tuple(part for part in parts if part is not None)
        (sides.left if left else sides.right).append(Term(kept))
        return len(kept) == len(parts)

    def _part(self, key: str, written: Mapping[str, tuple[Written | None, int]]) -> Part | None:
        found = self._find(key, written)
        if found is None or found[1] != 1:
            return None
        value = found[0]
        if isinstance(value, Written):
            return None if value.below else Part(1, value.above)
        return Part(int(value)) if value.denominator == 1 else None

    def _find(
        self, key: str, written: Mapping[str, tuple[Written | None, int]]
    ) -> tuple[Written | Fraction, int] | None:
        """What a name in the rule stands for: the clock, a setting, a number, or what the hardware has once for all."""
        if key == "clock":
            return None if self.clock is None else (self.clock, 1)
        if key in written:
            value, times = written[key]
            return None if value is None else (value, times)
        if key[0].isdigit():
            return Fraction(key), 1
        offered = getattr(self.generator, key, None)
        return (Fraction(offered), 1) if isinstance(offered, int | Fraction) and offered > 0 else None
