"""What others made and we hand on: unchanged, each with its licence beside it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from tests.house.tree import ROOT

# sha-256 of the files as published: htmx.org 4.0.1, axe-core 4.14.1, and the variable Latin subsets of Atkinson
# Hyperlegible Next and Mono. A new version is a new line here.
PUBLISHED = {
    "static/vendor/htmx-4.0.1.min.js": "a0abb04f2f45a1f89d1d4844023245537e5e6014c87b144553e0607b4cc32130",
    "static/vendor/atkinson-hyperlegible-next-latin-wght-normal.woff2": (
        "18b2a1a39a2fa298b0ba5390aca68462669826c90925656f1c1f6796e0e1bbaf"
    ),
    "static/vendor/atkinson-hyperlegible-mono-latin-wght-normal.woff2": (
        "2706b1ee4f452e744ea91f7e4908cbde9c5d35521bf5ffffc71a382a2de89613"
    ),
    "tests/vendor/axe-4.14.1.min.js": "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c",
}
LICENCES = {
    "htmx": "Zero-Clause BSD",
    "atkinson-hyperlegible-next": "SIL OPEN FONT LICENSE Version 1.1",
    "atkinson-hyperlegible-mono": "SIL OPEN FONT LICENSE Version 1.1",
    "axe": "Mozilla Public License, version 2.0",
}
FOLDERS = ("static/vendor", "tests/vendor")


def vendored() -> list[Path]:
    """Every file in the folders of what others made."""
    return [path for folder in FOLDERS for path in (ROOT / folder).iterdir()]


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_vendored_file_is_the_published_one(name: str) -> None:
    assert hashlib.sha256((ROOT / name).read_bytes()).hexdigest() == PUBLISHED[name]


def test_nothing_is_vendored_but_what_is_listed_and_its_licences() -> None:
    names = {path.relative_to(ROOT).as_posix() for path in vendored() if not path.name.endswith("LICENSE.txt")}
    assert names == set(PUBLISHED)


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_vendored_file_has_its_licence_beside_it(name: str) -> None:
    thing = next(thing for thing in LICENCES if Path(name).name.startswith(f"{thing}-"))
    text = (ROOT / name).with_name(f"{thing}-LICENSE.txt").read_text()
    assert LICENCES[thing].lower() in " ".join(text.split()).lower()
