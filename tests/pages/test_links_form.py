"""The form of the Links page: what is typed becomes a plan's link, or is told at its field and leaves it as it was."""

from __future__ import annotations

import json

import pytest

from tests.pages.boards import PART, RADIO, TIDE, Raw, plan_with
from wheelwork.links.families import families
from wheelwork.pages.links_form import LinksRead, keys_of, overlay, read_links_form, without_link
from wheelwork.pages.links_source import say_gave_way
from wheelwork.pages.links_words import name_settings
from wheelwork.plan.links import write_link

TWO = plan_with(RADIO, TIDE)


def read(**fields: str) -> LinksRead:
    """The form of a plan with two links, with fields of the first (`rate`) or of one to add (`new_rate`)."""
    named = {f"new.{key[4:]}" if key.startswith("new_") else f"0.{key}": text for key, text in fields.items()}
    return read_links_form(PART, TWO, {f"link.{name.replace('source', 'from')}": text for name, text in named.items()})


def first(told: LinksRead) -> Raw:
    return write_link(told.plan.links[0])


def test_a_form_in_which_nothing_was_changed_leaves_the_plan_as_it_is() -> None:
    told = read(name="Radio modem", on="serial_port/uart", rate="921600 Bd", frame="", source="own", allowance="±2 %")
    assert told.plan == TWO
    assert (told.problems, told.draft, told.added) == ((), None, None)


def test_another_rate_is_taken_and_the_divisors_stay() -> None:
    told = first(read(rate="460800 Bd"))
    assert told == {**RADIO, "rate": "460800 Bd"}


def test_a_name_a_frame_and_an_empty_field_are_taken() -> None:
    told = first(read(name="  Modem ", frame="7E1"))
    assert (told["name"], told["frame"]) == ("Modem", "7E1")
    assert "frame" not in first(read(frame=" "))
    assert "name" not in first(read(name=""))


@pytest.mark.parametrize(
    ("fields", "where", "what", "allowed"),
    [
        ({"rate": "921600"}, "link.0.rate", "'921600' has no unit", "921600 Bd"),
        ({"rate": "0 Bd"}, "link.0.rate", "is not above zero", "above zero"),
        ({"rate": ""}, "link.0.rate", "is missing", "a rate such as"),
        ({"frame": "8X1"}, "link.0.frame", "'8X1' is no frame", "8N1"),
        ({"allowance": "some"}, "link.0.allowance", "'some'", ""),
        ({"name": "Tide sensor"}, "link.1.name", "names two links", "a name of its own"),
        ({"choice": '{"oversampling":16,"divisor":"1/3"}'}, "link.0.choice", "'1/3' is not offered", "1/16"),
        ({"choice": "{nonsense"}, "link.0.choice", "is no table", "write { divisor = 4 }"),
        ({"source": "standard:mdi"}, "link.0.from", "'mdi' is not known here", "midi"),
        ({"on": "processor/uart"}, "link.0.on", "no uart generator", "serial_port"),
        ({"on": "nowhere/uart"}, "link.0.on", "'nowhere' is no load", "serial_port"),
        ({"on": "serial_port/tape"}, "link.0.on", "'tape' is no family", "uart"),
    ],
)
def test_what_cannot_be_taken_is_told_at_its_field_and_the_link_stays(
    fields: dict[str, str], where: str, what: str, allowed: str
) -> None:
    told = read(**fields)
    assert told.plan == TWO
    field, fault = next(iter(told.faults.told.items()))
    assert field == where.replace("link.1", "link.0")
    assert what in fault
    assert allowed in fault
    typed = {name: text for name, text in told.faults.typed.items() if name.startswith("link.0.")}
    assert set(typed.values()) == set(fields.values())


def test_a_right_change_beside_a_wrong_one_in_another_link_is_taken() -> None:
    fields = {"link.0.rate": "fast", "link.1.rate": "19200 Bd"}
    told = read_links_form(PART, TWO, fields)
    assert [write_link(link)["rate"] for link in told.plan.links] == ["921600 Bd", "19200 Bd"]
    assert list(told.faults.told) == ["link.0.rate"]


def test_a_choice_is_kept_in_the_plan_and_the_nearest_is_none() -> None:
    settings = {"oversampling": 8, "divisor": "63/16"}
    assert first(read(choice=json.dumps(settings)))["chosen"] == settings
    assert "chosen" not in first(read(choice="nearest"))


def test_the_value_of_a_choice_reads_back_as_its_settings() -> None:
    from fractions import Fraction

    assert json.loads(name_settings({"oversampling": 16, "divisor": Fraction(139, 8)})) == {
        "oversampling": 16,
        "divisor": "139/8",
    }


def test_an_allowance_comes_from_a_standard_from_what_is_usual_or_is_the_links_own() -> None:
    assert {"standard", "allowance"} & first(read(source="standard:midi")).keys() == {"standard"}
    assert not {"standard", "allowance"} & first(read(source="common")).keys()
    assert first(read(source="own", allowance="±1.5 %"))["allowance"] == "±1.5 %"


def plain(text: str) -> str:
    return text.replace("\u2009", " ").replace("\u00a0", " ")


def test_a_standard_that_is_chosen_brings_its_rate_and_says_what_gave_way() -> None:
    told = read(source="standard:midi", rate="921600 Bd", frame="", allowance="±2 %")
    assert told.problems == ()
    assert told.plan.links[0].ask == {"rate": "31250 Bd", "standard": "midi"}
    assert plain(told.gave_way) == "Wanted rate is now 31 250 Bd, by MIDI 1.0, and no longer 921 600 Bd."


def test_a_standard_that_is_chosen_brings_its_frame() -> None:
    plan = plan_with({**TIDE, "frame": "7E1"})
    told = read_links_form(PART, plan, {"link.0.from": "standard:modbus", "link.0.frame": "7E1"})
    assert told.plan.links[0].ask == {"rate": "9600 Bd", "frame": "7E1", "standard": "modbus"}
    told = read_links_form(PART, plan, {"link.0.from": "standard:knx", "link.0.frame": "7E1"})
    assert told.plan.links[0].ask == {"rate": "9600 Bd", "frame": "8E1", "standard": "knx"}
    assert plain(told.gave_way) == "Frame is now 8E1, by KNX twisted pair, and no longer 7E1."


def test_what_is_typed_together_with_a_standard_does_not_give_way() -> None:
    told = read(source="standard:midi", rate="9600 Bd")
    assert (told.plan, told.gave_way) == (TWO, "")
    assert told.faults.told == {"link.0.rate": "'9600 Bd' is no rate of MIDI 1.0; 31250 Bd is"}
    assert told.faults.typed["link.0.rate"] == "9600 Bd"


def test_a_rate_stays_where_a_standard_has_several_and_not_this_one() -> None:
    told = read(source="standard:profibus", rate="921600 Bd")
    assert (told.plan, told.gave_way) == (TWO, "")
    assert list(told.faults.told) == ["link.0.rate"]


def test_what_the_standard_bears_does_not_give_way() -> None:
    told = read(source="standard:modbus", rate="921600 Bd")
    assert (first(told)["rate"], told.gave_way) == ("921600 Bd", "")


def test_a_mode_gives_way_to_a_standard_that_stands_in_its_place() -> None:
    family = families()["i2c"]
    given = {"from": "standard:smbus", "mode": "fast", "rise": ""}
    before = {"family": "i2c", "mode": "fast"}
    after = overlay(before | {"load": "bus"}, {**given, "on": "bus/i2c"})
    assert {key: after[key] for key in after if key not in ("load", "family")} == {"standard": "smbus", "mode": "smbus"}
    assert keys_of(family, {"standard": "smbus"}).problems == ()
    assert say_gave_way(before, after, given) == "Mode is now smbus, by System management bus, and no longer fast."
    back = overlay(after | {"load": "bus"}, {"from": "common", "mode": "smbus", "on": "bus/i2c"})
    assert (back["mode"], "standard" in back) == ("smbus", False)


def test_what_another_family_is_not_asked_is_told() -> None:
    before = {"load": "port", "family": "uart", "rate": "9600 Bd", "frame": "8N1"}
    after = overlay(before, {"on": "bus/i2c", "rate": "9600 Bd", "frame": "8N1"})
    told = plain(say_gave_way(before, after, {"rate": "9600 Bd", "frame": "8N1"}))
    assert (
        told
        == "Wanted rate 9600 Bd is no longer asked of a two-wire bus. Frame 8N1 is no longer asked of a two-wire bus."
    )


def test_a_standard_that_goes_from_an_open_row_leaves_its_rate() -> None:
    plan = plan_with({"load": "serial_port", "family": "uart", "standard": "midi"})
    told = read_links_form(PART, plan, {"link.0.from": "common", "link.0.rate": "", "link.0.frame": ""})
    assert told.plan.links[0].ask == {"rate": "31250 Bd"}


def test_an_allowance_of_ones_own_begins_with_that_of_the_standard() -> None:
    plan = plan_with({"load": "serial_port", "family": "uart", "standard": "midi"})
    told = read_links_form(PART, plan, {"link.0.from": "own"})
    assert told.plan.links[0].ask == {"standard": "midi", "allowance": "±1 %"}


def test_a_standard_that_goes_leaves_its_rate() -> None:
    plan = plan_with({"load": "serial_port", "family": "uart", "standard": "midi"})
    told = read_links_form(PART, plan, {"link.0.from": "common"})
    assert told.plan.links[0].ask == {"rate": "31250 Bd"}


def test_a_link_that_is_half_typed_waits_and_says_nothing_of_what_is_still_empty() -> None:
    told = read(new_on="serial_port/uart", new_name="Console", new_rate="", new_frame="")
    assert told.plan == TWO
    assert told.draft == {"name": "Console", "load": "serial_port", "family": "uart"}
    assert told.faults.told == {}


def test_a_link_that_is_wrongly_typed_is_told_at_its_field() -> None:
    told = read(new_on="serial_port/uart", new_rate="115200")
    assert told.plan == TWO
    assert list(told.faults.told) == ["link.new.rate"]
    assert "115200 Bd" in told.faults.told["link.new.rate"]


def test_a_link_that_is_whole_joins_the_plan() -> None:
    told = read(new_on="serial_port/uart", new_name="Console", new_rate="115200 Bd")
    assert told.added == 2
    assert told.draft is None
    assert write_link(told.plan.links[2]) == {
        "name": "Console",
        "load": "serial_port",
        "family": "uart",
        "rate": "115200 Bd",
    }


def test_a_link_is_taken_out_of_its_place() -> None:
    assert [link.name for link in without_link(PART, TWO, 0).links] == ["Tide sensor"]
    assert [link.name for link in without_link(PART, TWO, 1).links] == ["Radio modem"]


def test_a_family_tells_what_it_can_be_asked() -> None:
    keys = keys_of(families()["uart"], {})
    assert {"rate", "frame"} <= set(keys.typed)
    assert not {"standard", "allowance"} & set(keys.typed)
    assert "midi" in keys.words["standard"]
    assert [problem.where for problem in keys.problems] == ["ask.rate"]
