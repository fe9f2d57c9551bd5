"""A whole plan in an address: compact, versioned, checked; the same plan always gives the same text.

The text is `1.` and the plan's JSON, deflated (RFC 1951 inside RFC 1950, whose Adler-32 tells an altered text from a
whole one) with a dictionary of the format's own words, in base64url (RFC 4648, section 5) without padding.
"""

from __future__ import annotations

import json
import zlib
from base64 import urlsafe_b64decode, urlsafe_b64encode
from binascii import Error as Base64Error
from collections.abc import Mapping
from typing import Any

from wheelwork.findings import Problem
from wheelwork.part.text import find_excess
from wheelwork.plan.reading import MOST_VALUES

VERSION = "1"
LONGEST = 32 * 1024
LARGEST = 64 * 1024
"""A plan with all settings of the largest part takes a third of this."""

_WORDS = (
    '"within":"0.25 %"},"at_least":"at_most":"phase":[{"name":"link":[{"target":[{"node":"frequency":"battery":{'
    '"held":["core_voltage","keep_running":["board_revision":"owner":"board_name":"supply":"3.0 V","temperature":"'
    '-40 °C .. 85 °C","in_use":["processor","board":{"crystal":{"frequency":"8 MHz","tolerance":"±30 ppm"}},"set":{'
    '"reference":"crystal","main":{"reference_divider":1,"feedback":20,"fraction":0},"core_source":"core":1,"slow_bus":2,'
    '{"core_voltage":"full","wait_states":2,"format":"wheelwork-plan/1","name":"","part":"'
).encode()


def write_permalink(written: Mapping[str, Any]) -> str:
    """The text that carries a plan (as `writing.write_plan` gives it) in an address.

    >>> read_permalink(write_permalink({"name": "Tide"}))
    ({'name': 'Tide'}, [])
    """
    packer = zlib.compressobj(9, zdict=_WORDS)
    text = json.dumps(written, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")
    packed = packer.compress(text) + packer.flush()
    return f"{VERSION}.{urlsafe_b64encode(packed).decode().rstrip('=')}"


def read_permalink(text: str) -> tuple[dict[str, Any] | None, list[Problem]]:
    """The raw plan that an address carries, or what is wrong with it: cut short, altered, of another version."""
    version, _, body = text.partition(".")
    if len(text) > LONGEST:
        return None, [_problem(f"it is {len(text)} characters long", f"at most {LONGEST} are read")]
    if not version.isdecimal() or not body:
        return None, [_problem("this is no plan's address", "copy the whole address again")]
    if version != VERSION:
        return None, [_problem(f"it is of version {version[:10]}", f"this server reads version {VERSION}")]
    try:
        packed = urlsafe_b64decode(body.encode("ascii") + b"=" * (-len(body) % 4))
        unpacker = zlib.decompressobj(zdict=_WORDS)
        plain = unpacker.decompress(packed, LARGEST + 1)
        if len(plain) > LARGEST:
            return None, [_problem("it unpacks to far more than a plan", f"at most {LARGEST // 1024} kB are read")]
        if not unpacker.eof or unpacker.unused_data:
            return None, [_problem("it is cut short or altered", "copy the whole address again")]
        raw = json.loads(plain)
    except (Base64Error, UnicodeError, ValueError, zlib.error, RecursionError):
        return None, [_problem("it is cut short or altered", "copy the whole address again")]
    if not isinstance(raw, dict):
        return None, [_problem("it carries no plan", "copy the whole address again")]
    excess = find_excess(raw, "address", MOST_VALUES)
    return (raw, []) if excess is None else (None, [excess])


def _problem(what: str, allowed: str) -> Problem:
    return Problem("address", what, allowed)
