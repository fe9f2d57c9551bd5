"""The page that asks for the passphrase, in a real browser: nothing that was chosen is lost on the way."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.conftest import axe_violations, serving
from wheelwork.settings import Settings

WORDS = "seven quiet cogs"


@pytest.fixture
def guarded(browser: Browser, tmp_path: Path) -> Iterator[Page]:
    """A page of a server that asks for a passphrase."""
    with serving(Settings(data=tmp_path, passphrase=WORDS)) as address:
        context = browser.new_context(base_url=address, viewport={"width": 1000, "height": 800})
        yield context.new_page()
        context.close()


def test_whoever_keeps_is_asked_and_comes_back_to_the_plan(guarded: Page) -> None:
    guarded.goto("/plan?part=turnstone-58")
    guarded.locator("[name=name]").fill("Skerry 9")
    guarded.locator("[name=name]").press("Enter")
    expect(guarded).to_have_url(re.compile(r"plan=1\."))
    before = guarded.url
    guarded.locator("#keep").click()

    expect(guarded.get_by_role("heading", name="Keeping here needs the passphrase")).to_be_visible()
    guarded.get_by_label("Passphrase").fill("another one")
    guarded.get_by_role("button", name="Give the passphrase").click()
    expect(guarded.locator("#w-passphrase")).to_contain_text("This is not the passphrase")
    assert axe_violations(guarded) == []

    guarded.get_by_label("Passphrase").fill(WORDS)
    guarded.get_by_label("Passphrase").press("Enter")
    expect(guarded).to_have_url(before)
    expect(guarded.locator("[name=name]")).to_have_value("Skerry 9")
    guarded.locator("#keep").click()
    expect(guarded.locator("#kept")).to_contain_text("revision 1")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_form_is_for_everyone(guarded: Page, scheme: str) -> None:
    guarded.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    guarded.goto("/who")
    assert axe_violations(guarded) == []
    guarded.get_by_label("Passphrase").fill(WORDS)
    guarded.get_by_label("Passphrase").press("Enter")
    guarded.goto("/who")
    expect(guarded.get_by_role("heading", name="You may keep")).to_be_visible()
    assert axe_violations(guarded) == []
    guarded.get_by_role("button", name="Forget it in this browser").click()
    expect(guarded.get_by_role("heading", name="Keeping here needs the passphrase")).to_be_visible()
