"""Notes: the octaves of A, names in other spellings, and nearest divisions against trying many."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from wheelwork.findings import Unreadable
from wheelwork.links.notes import is_above_note, nearest_note_division, note_frequency, steps_to


@pytest.mark.parametrize(("name", "hertz"), [("A4", 440), ("A5", 880), ("A3", 220), ("A0", Fraction(55, 2))])
def test_an_octave_of_a_is_exact(name: str, hertz: Fraction) -> None:
    assert note_frequency(steps_to(name)) == hertz


@pytest.mark.parametrize(("one", "other"), [("C#4", "Db4"), ("B3", "Cb4"), ("B#3", "C4"), ("E4", "Fb4")])
def test_a_note_of_two_names_is_one(one: str, other: str) -> None:
    assert steps_to(one) == steps_to(other)


@pytest.mark.parametrize("text", ["H4", "A", "a4", "A44", "A#b4", "", "٤A"])
def test_what_is_no_note_is_told_with_what_to_write(text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        steps_to(text)
    assert "A4" in fault.value.allowed


@pytest.mark.parametrize("steps", [-40, -9, 0, 7, 24])
def test_forty_digits_are_on_either_side_of_a_note(steps: int) -> None:
    """Raised to its twelfth power, a note is 440^12 * 2^steps."""
    near = note_frequency(steps)
    assert is_above_note(near * (1 + Fraction(1, 10**38)), steps)
    assert not is_above_note(near * (1 - Fraction(1, 10**38)), steps)


@pytest.mark.parametrize("seed", range(40))
def test_the_nearest_division_is_that_of_trying_all(seed: int) -> None:
    dice = random.Random(seed)
    steps, clock = dice.randint(-20, 40), Fraction(dice.randint(100, 400_000), dice.randint(1, 3))
    note = 440 * 2 ** (steps / 12)
    most = int(clock / 100) + 2
    tried = min(range(1, most + 1), key=lambda division: abs(float(clock) / division - note))
    assert nearest_note_division(clock, steps) == tried
