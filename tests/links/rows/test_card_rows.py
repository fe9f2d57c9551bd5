"""Published clocks of memory cards, row by row."""

from __future__ import annotations

from typing import Any

import pytest

from tests.links.published import each_row, exact
from tests.links.test_dividing import answer, feed, refused_at
from wheelwork.links.spi import STANDARDS

BY_NAME = {each.name: each for each in STANDARDS}
MODES = {
    "identification": "memory-card-identification",
    "default speed": "memory-card-default-speed",
    "high speed": "memory-card-high-speed",
    "MultiMediaCard, high speed": "memory-card-multimedia",
    "MultiMediaCard, backward compatible": "memory-card-multimedia-compatible",
}


@each_row("sd.clock")
def test_a_memory_card_bears_the_published_clock(entry: Any, row: Any) -> None:
    """The 100 kHz and the two of MultiMediaCards are from memory."""
    known = BY_NAME[MODES[row["mode"]]]
    assert (known.slowest or 0, known.fastest) == (row["min_hz"], row["max_hz"])
    asked = {"standard": known.name}
    assert answer("spi", feed(row["max_hz"] * 2), {"ratios": [1, 2, 4]}, asked).choices[0].settings == {"ratio": 2}
    assert answer("spi", feed(row["max_hz"] * 3), {"ratios": [2]}, asked).verdict == "none fits"


@each_row("sd.divisions")
def test_the_least_division_keeps_a_card_s_clock_within_its_limit(entry: Any, row: Any) -> None:
    asked = {"at_most": f"{row['limit_hz']} Hz"}
    for offered, division, clock in (
        ("1..1000", "derived_least_division", "derived_clock_hz"),
        ("2..1000 step 2", "derived_least_even_division", "derived_clock_even_hz"),
    ):
        best = answer("spi", feed(row["source_hz"]), {"ratios": offered}, asked).choices[0]
        assert (best.settings, best.rate) == ({"ratio": row[division]}, exact(row[clock]))


def test_a_card_being_identified_has_a_slowest_clock() -> None:
    """48 MHz / 480 is 100 kHz, / 512 is 93.75 kHz."""
    asked = {"standard": "memory-card-identification"}
    assert answer("spi", feed(48_000_000), {"ratios": [480]}, asked).verdict == "inside"
    assert answer("spi", feed(48_000_000), {"ratios": [512]}, asked).choices[0].verdict == "under"


@pytest.mark.parametrize("at_most", ["26 MHz", "50 kHz"])
def test_what_a_card_does_not_bear_is_named(at_most: str) -> None:
    name = "memory-card-default-speed" if at_most == "26 MHz" else "memory-card-identification"
    asked = {"standard": name, "at_most": at_most}
    assert refused_at("spi", {"ratios": [1, 2, 4, 8]}, asked) == ["ask.at_most"]
