"""Tables written as TOML: Python's reader reads them back the same, whatever stands in them."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.demo import PLANS, SCENARIOS
from wheelwork.part.writing import write_toml

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
PLAIN = TEXT | st.integers(-(2**63), 2**63 - 1) | st.booleans()
VALUE = st.recursive(
    PLAIN,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(TEXT, VALUE, max_size=5))
def test_any_table_reads_back_the_same(table: dict[str, Any]) -> None:
    """tomllib, which follows TOML 1.0.0."""
    assert tomllib.loads(write_toml(table)) == table


@given(st.dictionaries(TEXT, st.lists(st.dictionaries(TEXT, VALUE, max_size=3), max_size=3), max_size=3))
def test_lists_of_tables_read_back_the_same(table: dict[str, Any]) -> None:
    assert tomllib.loads(write_toml(table)) == table


@pytest.mark.parametrize("path", [*PLANS, *(SCENARIOS / "parts").glob("*.toml")], ids=lambda path: path.stem)
def test_every_plan_and_sheet_of_the_demo_reads_back_the_same(path: Any) -> None:
    table = tomllib.loads(path.read_text())
    assert tomllib.loads(write_toml(table)) == table


@pytest.mark.parametrize("sign", ["\u202e", "\u0085", "\x7f", "\ufeff", "\U000e0001"])
def test_what_cannot_be_seen_is_written_as_an_escape(sign: str) -> None:
    text = write_toml({"name": f"a{sign}b"})
    assert text.isascii()
    assert tomllib.loads(text)["name"] == f"a{sign}b"


def test_a_number_with_a_point_has_no_place_there() -> None:
    with pytest.raises(TypeError, match="float has no place"):
        write_toml({"name": 1.5})
