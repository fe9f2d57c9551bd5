"""The passphrase, and the pass that a browser gets for it.

The passphrase is stretched by Argon2id with the second recommended parameters of RFC 9106, section 4 (3 passes, 4
lanes, 64 MiB). Its salt is the same everywhere: the hash is written nowhere, and all processes and machines with one
passphrase shall sign with one key. A pass is a time and its HMAC-SHA-256 under a key made from that hash; another
passphrase is another key, so that a change ends every pass.
"""

from __future__ import annotations

import hmac
import re
import secrets
import unicodedata
from base64 import urlsafe_b64encode
from hashlib import sha256

from argon2.low_level import Type, hash_secret_raw

from wheelwork.settings import LONGEST_PASSPHRASE

SALT = b"wheelwork-pass/1"
SECONDS_OF_A_PASS = 30 * 24 * 3600

_PASS = re.compile(r"([0-9]{1,12})\.([A-Za-z0-9_-]{43})")


class Passphrase:
    """A passphrase that is asked for. Hashing takes about 0.1 s and 64 MiB: let one be hashed at a time."""

    def __init__(self, text: str) -> None:
        self._hash = _stretched(text)
        self._key = hmac.digest(self._hash, b"pass", sha256)
        self._salt_here = secrets.token_bytes(32)
        self._right = secrets.token_bytes(32)

    def is_known(self, given: str) -> bool:
        """Whether this was right before; told without hashing, so that a script need not wait each time."""
        return hmac.compare_digest(self._mark(given), self._right)

    def is_right(self, given: str) -> bool:
        """Whether this is the passphrase."""
        if len(given) > LONGEST_PASSPHRASE or not hmac.compare_digest(_stretched(given), self._hash):
            return False
        self._right = self._mark(given)
        return True

    def make_pass(self, now: float) -> str:
        """A pass that is good for 30 days from now (seconds since 1970)."""
        ends = int(now) + SECONDS_OF_A_PASS
        return f"{ends}.{self._signed(ends)}"

    def pass_ends(self, shown: str, now: float) -> int | None:
        """When a pass ends; None for one that is not ours or has ended."""
        found = _PASS.fullmatch(shown)
        if not found or not hmac.compare_digest(found[2], self._signed(int(found[1]))):
            return None
        return int(found[1]) if int(found[1]) > now else None

    def _mark(self, given: str) -> bytes:
        return hmac.digest(self._salt_here, _plain(given), sha256)

    def _signed(self, ends: int) -> str:
        return urlsafe_b64encode(hmac.digest(self._key, str(ends).encode(), sha256)).rstrip(b"=").decode()


def _stretched(text: str) -> bytes:
    return hash_secret_raw(
        _plain(text), SALT, time_cost=3, memory_cost=64 * 1024, parallelism=4, hash_len=32, type=Type.ID
    )


def _plain(text: str) -> bytes:
    """The same letters from whatever keyboard (Unicode's NFC)."""
    return unicodedata.normalize("NFC", text.strip()).encode("utf-8", "replace")
