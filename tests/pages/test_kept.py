"""What is kept of what was drawn."""

from __future__ import annotations

from wheelwork.pages.kept import Kept


def test_a_value_is_made_once() -> None:
    made: list[str] = []

    def make() -> str:
        made.append("value")
        return "value"

    kept: Kept[str] = Kept(3)
    assert [kept.get("key", make), kept.get("key", make)] == ["value", "value"]
    assert made == ["value"]


def test_a_full_store_starts_anew_and_never_grows_past_its_bound() -> None:
    kept: Kept[int] = Kept(3)
    for number in range(10):
        kept.keep(number, number)
        assert sum(kept.find(each) is not None for each in range(10)) <= 3
    assert kept.find(9) == 9
