"""The controls of a row: what stands in them, what is allowed, and what was typed where that cannot be taken."""

from __future__ import annotations

from tests.pages.sheets import SHEET, dipper, plan_of
from wheelwork.pages.controls import Faults, Field, chooser_field, no_setting, row_fields
from wheelwork.part.nodes import Part
from wheelwork.part.outline import OutlineRow, outline_of
from wheelwork.part.reading import read_sheet


def row(key: str, part: Part | None = None) -> OutlineRow:
    return outline_of(part or dipper()).row_of[key]


def fields(key: str) -> tuple[Field, ...]:
    return row_fields(dipper(), plan_of(), row(key))


def test_a_ratio_stands_beside_its_sign_with_what_is_allowed_in_words() -> None:
    (field,) = fields("bus")
    assert (field.sign, field.value, field.allowed, field.runs) == ("÷", "1", "1 to 8", "1:8:1")


def test_a_feedback_multiplies() -> None:
    (field,) = fields("main.feedback")
    assert (field.name, field.sign, field.value) == ("set.main.feedback", "×", "8")


def test_a_long_list_is_told_by_its_ends_and_its_size_and_in_full_where_one_points() -> None:
    (field,) = fields("tap")
    assert field.allowed == "2 to 32, 9 values"
    assert field.in_full == "2 to 4, 6, 8, 12, 16, 24, 32"


def test_a_load_is_in_use_or_not() -> None:
    (field,) = fields("processor")
    assert [(option.value, option.label, option.chosen) for option in field.options] == [
        ("yes", "In use", True),
        ("no", "Not in use", False),
    ]


def test_an_oscillator_that_is_fitted_has_its_frequency_and_its_tolerance() -> None:
    names = [field.name for field in fields("crystal")]
    assert names == ["board.crystal.frequency", "board.crystal.tolerance"]


def test_an_oscillator_on_the_chip_can_be_kept_running() -> None:
    (field,) = fields("rc")
    assert [option.label for option in field.options] == ["Runs when used", "Kept running"]


def test_a_choice_that_stands_in_a_row_offers_its_inputs_by_title() -> None:
    field = chooser_field(dipper(), plan_of(), row("core"))
    assert field is not None
    assert field.name == "set.source"
    assert [option.label for option in field.options] == ["RC oscillator", "Crystal oscillator", "PLL tap"]


def test_a_row_with_nothing_to_set_says_so() -> None:
    assert no_setting(dipper(), row("half")) == "÷2, no setting"


def test_a_source_that_is_always_on_has_nothing_to_set() -> None:
    part, _ = read_sheet(SHEET.replace('tolerance = "±2 %"', 'tolerance = "±2 %"\nalways_on = true'))
    assert part is not None
    assert row_fields(part, plan_of(), row("rc", part)) == ()
    assert no_setting(part, row("rc", part)) == "always on"


def test_a_faulty_field_keeps_what_was_typed_and_says_what_still_counts() -> None:
    faults = Faults({"set.bus": "80"}, {"set.bus": "80 is not offered; 1 to 8 are"})
    marked = faults.mark(fields("bus")[0])
    assert (marked.value, marked.counted, marked.still) == ("80", "1", "The plan still shows ÷1.")


def test_a_field_without_fault_is_left_as_it_is() -> None:
    field = fields("bus")[0]
    assert Faults({"set.tap": "80"}, {"set.tap": "80 is not offered; …"}).mark(field) is field
