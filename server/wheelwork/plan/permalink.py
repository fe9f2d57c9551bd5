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
_LINK_WORDS = (
    '"sample_rate":"44.1 kHz"},{"name":"Watchdog","load":"watchdog","family":"watchdog","time_out":"2 s"},'
    '{"name":"USB","load":"usb_link","family":"reference","standard":"usb-full-speed"},"ethernet-rmii"},'
    '"load":"audio_out","family":"audio","sample_rate":"48 kHz"},'
    '"load":"pulse_timer","family":"pwm","rate":"20 kHz","steps":1000},'
    '"load":"field_bus","family":"can","rate":"500 kbit/s","sample_point":"87.5 %",'
    '"chosen":{"prescaler":1,"segment_1":13,"segment_2":2,"jump":'
    '"load":"sensor_bus","family":"i2c","mode":"fast","rise":"120 ns","fall":"30 ns"},'
    '"load":"radio","family":"spi","at_most":"8 MHz"},'
    '"load":"level_converter","family":"adc","source_resistance":"10 kΩ"},"settle_to":'
    '"load":"capture_timer","family":"timer","period":"1 ms","chosen":{"prescaler":1,"reload":'
    '"name":"Calendar","load":"calendar","family":"rtc","rate":"1 Hz"},"frame":"8N1","allowance":"±2 %"},'
    '"name":"Console","load":"serial_port","family":"uart","rate":"115200 Bd","chosen":{"oversampling":16,"divisor":"'
).encode()
_CHARGE_WORDS = (
    '"kept":"skerry-3/7","cycles":1000,"mode":"doze"},"plan":{"needs":["calendar"],"pin":"strong"}],'
    '"capacitor":"2 mF","pulse":"20 ms","capacity":"225 mAh","self_discharge":"2 %","ends_at":"2.2 V",'
    '"resistance":"300 mΩ","peak":"30 mA"},"cell":"CR2032","cell":"LR6","series":2,"usable":"85 %",'
    '"lasts":"40 ms","every":"1 s","draws":[{"of":"radio","current":"29 mA"}]},'
    '{"name":"Pause","mode":"hold"}],"battery":{"phase":[{"name":"Rest",'
).encode()
_DICTIONARIES = (_CHARGE_WORDS + _LINK_WORDS + _WORDS, _LINK_WORDS + _WORDS, _WORDS)
"""What is written with, and what was before phases, and before links, had words of their own; a text names which."""


def write_permalink(written: Mapping[str, Any]) -> str:
    """The text that carries a plan (as `writing.write_plan` gives it) in an address.

    >>> read_permalink(write_permalink({"name": "Tide"}))
    ({'name': 'Tide'}, [])
    """
    packer = zlib.compressobj(9, zdict=_DICTIONARIES[0])
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
        unpacker = zlib.decompressobj(zdict=_dictionary_of(packed))
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


def _dictionary_of(packed: bytes) -> bytes:
    """The dictionary whose Adler-32 stands after the header (RFC 1950, section 2.2); the present one for any other."""
    named = int.from_bytes(packed[2:6], "big")
    return next((each for each in _DICTIONARIES if zlib.adler32(each) == named), _DICTIONARIES[0])


def _problem(what: str, allowed: str) -> Problem:
    return Problem("address", what, allowed)
