"""The passphrase, and the pass that a browser gets for it."""

from __future__ import annotations

import pytest
from argon2.low_level import Type, hash_secret_raw

from wheelwork.access.passphrase import SECONDS_OF_A_PASS, Passphrase

NOW = 1_800_000_000.0
WORDS = "seven quiet cogs"


@pytest.fixture(scope="module")
def passphrase() -> Passphrase:
    """One that is asked for."""
    return Passphrase(WORDS)


@pytest.mark.parametrize("given", [WORDS, f" {WORDS}\n"])
def test_the_right_one_is_right(passphrase: Passphrase, given: str) -> None:
    assert passphrase.is_right(given)


def test_one_that_was_right_is_known_and_no_other(passphrase: Passphrase) -> None:
    fresh = Passphrase(WORDS)
    assert not fresh.is_known(WORDS)
    assert not fresh.is_right("eight quiet cogs")
    assert not fresh.is_known("eight quiet cogs")
    assert fresh.is_right(WORDS)
    assert [fresh.is_known(given) for given in (WORDS, "", "eight quiet cogs")] == [True, False, False]


@pytest.mark.parametrize("given", ["", "seven quiet cog", WORDS.upper(), WORDS + "\x00", "x" * 100_000, "\ud800"])
def test_every_other_is_wrong(passphrase: Passphrase, given: str) -> None:
    assert passphrase.is_right(WORDS)
    assert not passphrase.is_right(given)


def test_a_letter_is_the_same_from_every_keyboard() -> None:
    """Unicode Standard Annex 15: é is one sign or two, and equivalent."""
    assert Passphrase("caf\u00e9 caf\u00e9").is_right("cafe\u0301 cafe\u0301")


def test_it_is_stretched_as_the_standard_recommends() -> None:
    """RFC 9106, section 4, second option: Argon2id, t=3, p=4, m=2^16 KiB, 128-bit salt, 256-bit tag."""
    whole = hash_secret_raw(WORDS.encode(), b"wheelwork-pass/1", 3, 2**16, 4, 32, Type.ID)
    assert Passphrase(WORDS)._hash == whole
    assert len(b"wheelwork-pass/1") * 8 == 128


def test_a_pass_lasts_thirty_days(passphrase: Passphrase) -> None:
    shown = passphrase.make_pass(NOW)
    ends = int(NOW) + 30 * 24 * 3600
    assert SECONDS_OF_A_PASS == 30 * 24 * 3600
    assert passphrase.pass_ends(shown, NOW) == passphrase.pass_ends(shown, ends - 1) == ends
    assert passphrase.pass_ends(shown, ends) is None


def test_every_process_with_the_passphrase_knows_the_pass(passphrase: Passphrase) -> None:
    assert Passphrase(WORDS).pass_ends(passphrase.make_pass(NOW), NOW) is not None


def test_another_passphrase_ends_every_pass(passphrase: Passphrase) -> None:
    assert Passphrase("eight quiet cogs").pass_ends(passphrase.make_pass(NOW), NOW) is None


def test_no_sign_of_a_pass_can_be_changed(passphrase: Passphrase) -> None:
    shown = passphrase.make_pass(NOW)
    for place, sign in enumerate(shown[:-1]):  # the last one carries two bits only
        other = "7" if sign != "7" else "8"
        assert passphrase.pass_ends(shown[:place] + other + shown[place + 1 :], NOW) is None


@pytest.mark.parametrize("shown", ["", ".", "9999999999", "9999999999.", "9999999999." + "A" * 43, "9" * 5000 + ".A"])
def test_what_is_no_pass_opens_nothing(passphrase: Passphrase, shown: str) -> None:
    assert passphrase.pass_ends(shown, NOW) is None
