"""What hindered someone who came to the page for the first time, with sheets of their own: each fault once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.conftest import serving
from wheelwork.settings import Settings

OpenPage = Callable[..., Page]
PHONE = {"width": 390, "height": 844}
TAP = '[id="f-set.main_converter"]'
LONGEST_WORD = "Donaudampfschifffahrtsgesellschaftskapitaensmuetzenabzeichenverordnung"

OWN_SHEETS = {
    "long-words": f"""
format = "wheelwork-part/1"
name = "Long {LONGEST_WORD}"
core.clock = "core"
core_voltage.only.volts = "1 V"
[oscillator.rc]
frequency = "10 MHz"
[divider.core]
title = "{LONGEST_WORD}{LONGEST_WORD}"
input = "rc"
ratios = "1..8"
limits = "up to 3 MHz"
[load.port]
title = "Port of {LONGEST_WORD}"
input = "core"
limits = "up to 2 MHz"
""",
    "all-outside": """
format = "wheelwork-part/1"
name = "All outside"
core.clock = "core"
core_voltage.only.volts = "1 V"
[oscillator.rc]
frequency = "10 MHz"
tolerance = "±1 %"
[divider.core]
input = "rc"
ratios = [1]
limits = "up to 3 MHz"
"""
    + "".join(
        f'[divider.tap_{n}]\ntitle = "Tap {n}"\ninput = "core"\nratios = [1]\nlimits = "up to 4 MHz"\n'
        f'[load.load_{n}]\ntitle = "Load {n}"\ninput = "tap_{n}"\nlimits = "9 MHz ± 1 %"\n'
        for n in range(20)
    ),
    "slip": 'format = "wheelwork-part/1"\nname = "Slip"\ncore.clok = "core"\n',
}


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder."""
    folder: Path = tmp_path_factory.mktemp("data")
    return folder


@pytest.fixture(scope="module")
def server(data: Path) -> Iterator[str]:
    """A server with these sheets in its data folder."""
    (data / "parts").mkdir()
    for name, text in OWN_SHEETS.items():
        (data / "parts" / f"{name}.toml").write_text(text, "utf-8")
    with serving(Settings(data=data)) as address:
        yield address


def use_all(page: Page) -> None:
    """Put every load in use with one post."""
    page.evaluate("""() => {
        const uses = document.querySelectorAll('[name^="use."]');
        for (const use of uses) use.value = 'yes';
        uses[0].dispatchEvent(new Event('input', { bubbles: true }));
    }""")


def type_in(field: Locator, text: str) -> None:
    """Type as a person does, and go on to the next control."""
    field.fill(text)
    field.press("Tab")


# Taking back


def test_changes_are_taken_back_one_by_one_to_the_plan_that_was_opened(page: Page) -> None:
    for text, inside in (("10", "10 of 10"), ("3", "8 of 10")):  # 232 / 10 = 23.2; 232 / 3 = 77.3 MHz, over 72 and 27
        page.locator(TAP).fill(text)
        expect(page.locator("#sum")).to_contain_text(inside)
    back = page.locator("#back")
    back.click()
    expect(page.locator(TAP)).to_have_value("10")
    expect(page.locator("#kept")).to_contain_text("1 change since it was opened")
    back.click()
    expect(page.locator(TAP)).to_have_value("8")
    expect(page.locator("#kept")).to_contain_text("not on the shelf")
    expect(back).to_have_count(0)


def test_taking_back_keeps_focus_and_then_goes_to_what_it_changed(page: Page) -> None:
    for text in ("10", "9"):
        page.locator(TAP).fill(text)
        expect(page.locator("#sum .v-tight")).to_contain_text("10 of 10")
        expect(page.locator("#said")).to_contain_text("23.2" if text == "10" else "25.777777…")
    page.locator("#back").press("Enter")
    expect(page.locator("#said")).to_have_text("Taken back. PLL converter tap 23.2\u00a0MHz. 10 of 10 clocks inside.")
    expect(page.locator("#back")).to_be_focused()
    page.locator("#back").press("Enter")
    expect(page.locator(TAP)).to_be_focused()


def test_another_part_sheet_is_taken_back_to_the_plan_before_it(page: Page) -> None:
    page.locator("#f-part").select_option(label="Whimbrel 132")
    expect(page.locator("#f-name")).to_have_value("New plan on Whimbrel 132")
    page.locator("#back").click()
    expect(page.locator("#f-name")).to_have_value("Skerry 3, steady running")
    expect(page.locator("#f-part")).to_be_focused()


def test_without_script_a_change_is_taken_back_too(open_page: OpenPage) -> None:
    page = open_page("/", java_script_enabled=False)
    page.locator("#sum-mend").click()
    expect(page.locator("#sum")).to_contain_text("10 of 10")
    page.locator("#back").click()
    expect(page.locator("#sum")).to_contain_text("9 of 10")


# What is said


def test_a_fault_is_said_with_the_name_of_its_field(page: Page) -> None:
    page.locator('[id="f-set.main.feedback"]').fill("80")
    expect(page.locator("#said")).to_have_text(
        "Feedback multiplier: 80 is not offered; 10 to 72 are. 9 of 10 clocks inside."
    )


def test_a_fault_that_stands_does_not_drown_the_next_change(page: Page) -> None:
    page.locator('[id="f-set.main.feedback"]').fill("80")
    expect(page.locator("#said")).to_contain_text("80 is not offered")
    page.locator('[id="f-set.slow_bus"]').fill("4")
    expect(page.locator("#said")).to_have_text("Slow bus 14.5\u00a0MHz. 9 of 10 clocks inside.")


def test_the_answer_to_a_wish_is_said(page: Page) -> None:
    """58 MHz from 8 MHz is · 29 / 4; 50 MHz asks for 50 · 4 / 29 = 200/29 = 6.896551… MHz."""
    page.locator("#eq-core").click()
    page.locator('[id="f-wish.core"]').fill("50 MHz")
    page.locator('[id="f-wish.core"]').press("Enter")
    expect(page.locator("#said")).to_contain_text("Fast crystal oscillator at 6.896551…\u00a0MHz")


def test_the_windows_title_follows_the_plans_name(page: Page) -> None:
    type_in(page.locator("#f-name"), "Skerry 4")
    expect(page).to_have_title("Skerry 4 · Wheelwork")


def test_a_ratio_is_heard_as_what_it_does_and_with_all_that_is_allowed(page: Page) -> None:
    """The sheet: core divides by 1, 2, 3, 4, 6, 8, 12, 16, 24, 32 or 64; the crystal input takes 3 to 38 MHz."""
    core = page.locator('[id="f-set.core"]')
    expect(core).to_have_accessible_name("Core clock: divided by")
    expect(core).to_have_accessible_description("1 to 64, 11 values (1 to 4, 6, 8, 12, 16, 24, 32, 64)")
    crystal = page.locator('[id="f-board.crystal.frequency"]')
    expect(crystal).to_have_accessible_name("Fast crystal oscillator: frequency fitted, 3 to 38\u00a0MHz")


# What cannot be taken


def test_a_name_that_cannot_be_taken_is_kept_as_typed_and_said(page: Page) -> None:
    type_in(page.locator("#f-name"), "x" * 2500)
    fault = page.locator("#w-name")
    expect(fault).to_contain_text("(2500 characters) is too long; at most 2000 characters.")
    expect(fault).to_contain_text("The plan still shows Skerry 3, steady running.")
    expect(page.locator("#f-name")).to_have_value("x" * 2500)
    expect(page.locator("#f-name")).to_have_attribute("aria-invalid", "true")


@pytest.mark.parametrize("text", ["", "x", "1e3"])
def test_what_is_no_ratio_is_told_with_the_ratios_of_this_setting(page: Page, text: str) -> None:
    page.locator('[id="f-set.main.feedback"]').fill(text)
    expect(page.locator('[id="w-set.main.feedback"]')).to_contain_text("; 10 to 72 are offered.")


def test_fields_that_cannot_be_taken_are_listed_from_top_to_bottom(open_page: OpenPage) -> None:
    page = open_page("/plan?part=whimbrel-132")
    for factor in ("fraction", "feedback"):
        page.locator(f'[id="f-set.audio.{factor}"]').fill("x")
        expect(page.locator(f'[id="w-set.audio.{factor}"]')).to_be_visible()
    expect(page.locator(".told li a")).to_have_text(["3.2 Feedback multiplier", "3.3 Fraction"])


def test_a_question_is_not_followed_by_a_full_stop(open_page: OpenPage) -> None:
    page = open_page("/plans")
    expect(page.locator(".problems")).to_contain_text("did you mean clock?")
    expect(page.locator("main")).not_to_contain_text("?.")


def test_a_sheet_that_becomes_faulty_while_one_plans_on_it_loses_nothing(open_page: OpenPage, data: Path) -> None:
    page = open_page("/plan?part=all-outside")
    file = data / "parts" / "all-outside.toml"
    right = file.read_text("utf-8")
    file.write_text(right.replace('title = "Load 3"', 'titel = "Load 3"'), "utf-8")
    try:
        page.locator('[id="f-use.load_5"]').select_option(label="In use")
        expect(page.locator(".notice")).to_contain_text("did you mean title?")
        expect(page.locator(".notice")).to_contain_text("What was read of it last is used until this is mended")
        expect(page.locator('[id="f-use.load_5"]')).to_have_value("yes")
    finally:
        file.write_text(right, "utf-8")
    page.locator('[id="f-use.load_5"]').select_option(label="Not in use")
    expect(page.locator(".notice")).to_have_count(0)


# A first plan


def test_a_plan_without_loads_says_what_to_do(open_page: OpenPage) -> None:
    page = open_page("/plan?part=turnstone-58")
    expect(page.locator(".findings")).to_contain_text("No load is in use yet")
    page.get_by_role("link", name="Show 5.1").click()
    expect(page.locator('[id="f-use.processor"]')).to_be_focused()


def test_an_empty_field_shows_an_example_that_is_no_value(open_page: OpenPage) -> None:
    page = open_page("/plan?part=turnstone-58")
    expect(page.locator("#f-supply")).to_have_attribute("placeholder", "like 3.0 V")
    expect(page.locator("#f-temperature")).to_have_attribute("placeholder", "like \u221220 to 50\u00a0°C")


def test_a_current_of_which_nothing_is_stated_is_no_zero(open_page: OpenPage) -> None:
    page = open_page("/plan?part=all-outside")
    expect(page.locator(".s-current .val")).to_have_text("not stated")


def test_a_phase_detector_is_mended_in_its_own_row(page: Page) -> None:
    """16 MHz / 1 is 5 MHz over 11 MHz; / 3 is 5.333333… MHz, less 30 ppm 3.93 MHz above 1.4 MHz."""
    type_in(page.locator('[id="f-board.crystal.frequency"]'), "16 MHz")
    mend = page.locator('[id="row-main.reference_divider-more"] .mend')
    expect(mend).to_contain_text("gives 5.333333…\u00a0MHz, 3.93\u00a0MHz above the floor.")
    expect(mend.get_by_role("button")).to_have_text("Set ÷3")


# Long names, little room


@pytest.mark.parametrize("width", [1440, 900, 390, 320])
def test_long_words_do_not_widen_the_page(open_page: OpenPage, width: int) -> None:
    page = open_page("/plan?part=long-words", viewport={"width": width, "height": 844})
    use_all(page)
    expect(page.locator(".findings li")).to_have_count(3)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    page.goto("/plans")
    assert page.evaluate("document.documentElement.scrollWidth") == width


HIDDEN = """() => {
    const at = document.activeElement, box = at.getBoundingClientRect();
    if (at === document.body || at.closest('#sum')) return '';
    const top = at.closest('.outline') ? document.getElementById('axis').getBoundingClientRect().bottom : 0;
    const hidden = box.bottom > document.getElementById('sum').getBoundingClientRect().top || box.top < top;
    return hidden ? at.id || at.textContent : '';
}"""


@pytest.mark.parametrize(("width", "height"), [(390, 844), (320, 640), (900, 800), (1440, 900)])
def test_what_has_focus_is_never_behind_the_sum_line_or_the_axis(open_page: OpenPage, width: int, height: int) -> None:
    page = open_page("/", viewport={"width": width, "height": height})
    hidden = []
    for key in ["Tab"] * 60 + ["Shift+Tab"] * 60:
        page.keyboard.press(key)
        hidden.append(page.evaluate(HIDDEN))
    assert [name for name in hidden if name] == []


def test_a_low_window_is_left_to_the_rows(open_page: OpenPage) -> None:
    """320 × 256 px is a page of 1280 × 1024 at four times its size (WCAG 2.2, 1.4.10)."""
    page = open_page("/", viewport={"width": 320, "height": 256})
    page.locator(TAP).scroll_into_view_if_needed()
    assert page.locator("#sum").bounding_box()["y"] > 256  # type: ignore[index]
    assert page.locator("#axis").bounding_box()["y"] < -46  # type: ignore[index]


def test_a_phones_sum_line_leaves_three_quarters_of_the_page(open_page: OpenPage) -> None:
    page = open_page("/", viewport={"width": 320, "height": 640})
    box = page.locator("#sum").bounding_box()
    assert box is not None
    assert box["height"] <= 160


REACH = """([from, x, y]) => {
    const at = document.querySelector(from), box = at.getBoundingClientRect();
    const hit = document.elementFromPoint(box.left + box.width / 2 + x, box.top + box.height / 2 + y);
    return hit === at || at.contains(hit);
}"""


def test_a_fault_on_a_phone_stands_above_the_sum_line(open_page: OpenPage) -> None:
    page = open_page("/", viewport=PHONE)
    field = page.locator('[id="f-set.main.feedback"]')
    field.evaluate("at => { at.select(); at.scrollIntoView({ block: 'end' }); }")
    page.keyboard.type("99")
    fault, line = page.locator('[id="w-set.main.feedback"]'), page.locator("#sum")
    expect(fault).to_be_visible()
    expect(fault).to_be_in_viewport(ratio=1)
    below, above = fault.bounding_box(), line.bounding_box()
    assert below is not None
    assert above is not None
    assert below["y"] + below["height"] <= above["y"]


ROUND = (0, -21), (0, 21), (-21, 0), (21, 0)


@pytest.mark.parametrize(
    ("what", "points"),
    [(what, ROUND) for what in ("#sum-mend", "#eq-core", ".mark", "#find-1", ".ways-on a")]
    + [(".s-first a", ((0, -28), (0, 14), (-21, 0), (21, 0)))],  # it stands at the lower edge of the window
)
def test_a_finger_finds_44_px(open_page: OpenPage, what: str, points: tuple[tuple[int, int], ...]) -> None:
    page = open_page("/", viewport=PHONE, has_touch=True)
    page.locator(what).first.evaluate("at => at.scrollIntoView({ block: 'center' })")
    for x, y in points:
        assert page.evaluate(REACH, [what, x, y]), (x, y)


# Paper


def test_a_long_list_of_findings_begins_on_the_first_sheet(open_page: OpenPage) -> None:
    """Forty findings need more than one sheet; none the less they start below the title, 186 mm wide as on A4."""
    page = open_page("/plan?part=all-outside", viewport={"width": 703, "height": 1033})
    use_all(page)
    expect(page.locator(".findings li")).to_have_count(41)
    page.emulate_media(media="print")
    assert page.locator(".top").evaluate("at => getComputedStyle(at).breakInside") == "auto"
    assert page.locator(".findings li").first.evaluate("at => getComputedStyle(at).breakInside") == "avoid"


def test_a_long_part_name_leaves_the_findings_their_half_of_the_paper(open_page: OpenPage) -> None:
    page = open_page("/plan?part=long-words", viewport={"width": 703, "height": 1033})
    page.emulate_media(media="print")
    facts, findings = page.locator(".facts").bounding_box(), page.locator("section.findings").bounding_box()
    assert facts is not None
    assert findings is not None
    assert abs(facts["width"] - findings["width"]) < 1
