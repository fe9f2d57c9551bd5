"""The Hand-over page: each form as text with its marks, the file as it is saved, the print sheet, faults told."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from tests.conftest import axe_violations
from tests.demo import load_demo
from wheelwork.handover.forms import Wish, forms
from wheelwork.judge import judge
from wheelwork.pages.handover_marks import mark
from wheelwork.pages.plan import permalink_of

OpenPage = Callable[..., Page]
PART, PLAN = load_demo("01-skerry-3-steady-running")
PIER = load_demo("05-pier-head-logging")
NAMES = [*forms()]


def address(form: str = "", at: str = "/hand-over", **more: str) -> str:
    return f"{at}?{urlencode({'plan': permalink_of(PLAN, PART), 'form': form, **more})}"


def text_on(html: str) -> str:
    """The text of the sheet, its marks taken off."""
    found = re.search(r'<pre class="text"[^>]*>(.*?)</pre>', html, re.DOTALL)
    assert found is not None
    return unescape(re.sub(r"<[^>]+>", "", found[1]))


@pytest.mark.parametrize("name", NAMES)
def test_the_page_shows_each_form_as_it_is_saved(client: TestClient, name: str) -> None:
    page = client.get(address(name))
    saved = client.get(address(name, "/hand-over/file"))
    assert (page.status_code, saved.status_code) == (200, 200)
    written = forms()[name].write(judge(PART, PLAN), Wish())
    assert saved.content == written.encode()
    assert text_on(page.text).replace("\r", "") == written.replace("\r", "")
    assert saved.headers["content-type"] == forms()[name].media_type
    assert re.fullmatch(r'attachment; filename="[a-z0-9_]+\.[a-z]+"', saved.headers["content-disposition"])


@pytest.mark.parametrize("name", NAMES)
def test_marks_change_nothing_of_a_text(name: str) -> None:
    text = forms()[name].write(judge(*PIER), Wish())
    lines = ["".join(piece.text for piece in line) for line in mark(text, forms()[name].ending)]
    assert "\n".join(lines) == text.removesuffix("\n")


def test_what_is_outside_is_loud_and_the_words_of_the_language_bold() -> None:
    lines = list(mark("#define A 1 /* NOTICE: over */\n/* one\n   OUTSIDE two */\nb // c\n", "h"))
    assert [[(piece.look, piece.text) for piece in line] for line in lines] == [
        [("bold", "#define"), ("plain", " A 1 "), ("loud", "/* NOTICE: over */")],
        [("quiet", "/* one")],
        [("loud", "   OUTSIDE two */")],
        [("plain", "b "), ("quiet", "// c")],
    ]


def test_a_plan_with_something_outside_is_not_handed_over_in_silence(client: TestClient) -> None:
    page = client.get(address("c")).text
    assert "1 clock is outside its window and 1 link misses what is asked." in page
    assert 't-loud">' in page
    fine = urlencode({"plan": permalink_of(PIER[1], PIER[0])})
    assert "note-outside" not in client.get(f"/hand-over?{fine}").text


def test_a_prefix_names_the_constants(client: TestClient) -> None:
    assert "BOARD_CORE_HZ" in text_on(client.get(address("c", prefix="BOARD_")).text)
    page = client.get(address("c", prefix="int")).text
    assert 'value="int"' in page
    assert "is a keyword of C, C++ or Rust; write INT_ in its place" in page
    assert "PLAN_CORE_HZ" in text_on(page)
    refused = client.get(address("c", "/hand-over/file", prefix="9"))
    assert refused.status_code == 422
    assert "starts with a digit" in refused.text


def test_reasons_are_left_out_where_the_box_is_not_ticked(client: TestClient) -> None:
    with_reasons, without = (text_on(client.get(address("c", **more)).text) for more in ({}, {"sent": "yes"}))
    assert len(without) < len(with_reasons)
    assert "PLAN_CORE_HZ" in without
    assert text_on(client.get(address("c", sent="yes", reasons="yes")).text) == with_reasons


def test_the_print_sheet_holds_the_whole_report(client: TestClient) -> None:
    page = unescape(client.get(address("print")).text)
    for words in ("The job", "8 MHz / 1 × 29 / 4 = 58\u00a0MHz", "Measuring on the board", "Cautions"):
        assert words in page
    assert 'class="loud"' in page


def test_a_form_that_is_not_known_is_the_first_one(client: TestClient) -> None:
    assert text_on(client.get(address("fortran")).text) == text_on(client.get(address(NAMES[0])).text)


def test_an_address_that_carries_no_plan_is_told(client: TestClient) -> None:
    assert client.get("/hand-over?plan=1.nothing").status_code in (400, 404, 422)
    assert client.get("/hand-over", follow_redirects=False).headers["location"].startswith("/hand-over?plan=1.")


def test_a_form_is_chosen_and_copied(open_page: OpenPage) -> None:
    page = open_page(address("c"))
    page.get_by_role("radio", name="Report").check()
    expect(page.locator("#text")).to_contain_text("# Skerry 3")
    assert "form=markdown" in page.url
    expect(page.locator("#said")).to_contain_text("Report,")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.locator("#copy-text").click()
    expect(page.locator("#copy-text")).to_have_text("Copied")
    assert page.evaluate("navigator.clipboard.readText()") == forms()["markdown"].write(judge(PART, PLAN), Wish())
    page.locator("#copy-address").click()
    assert page.evaluate("navigator.clipboard.readText()").startswith("http://")
    with page.expect_download() as download:
        page.locator("#save").click()
    assert download.value.suggested_filename == "skerry_3_steady_running_clocks.md"


def test_the_page_is_for_everyone(open_page: OpenPage) -> None:
    for form in ("c", "print"):
        page = open_page(address(form, prefix="int" if form == "c" else "PLAN_"))
        assert axe_violations(page) == []
        for width in (1440, 900, 390):
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
