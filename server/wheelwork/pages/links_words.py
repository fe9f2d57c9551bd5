"""What a link's form calls its fields, and the value of a choice in it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction

LABELS = {
    "rate": "Wanted rate",
    "period": "Wanted period",
    "sample_rate": "Wanted sample rate",
    "time_out": "Wanted time-out",
    "data_rate": "Wanted data rate",
    "settle_to": "Settles to",
}
"""What is asked, by its key, where the key's own words do not say enough."""


def label_of(key: str) -> str:
    """A key of what is asked, as its field is called.

    >>> label_of("rate"), label_of("sample_point")
    ('Wanted rate', 'Sample point')
    """
    return LABELS.get(key, key.replace("_", " ").capitalize())


def name_settings(settings: Mapping[str, object]) -> str:
    """Settings as the value of a choice, the same text for the same settings: numbers exact, `139/8` as text."""
    return json.dumps({key: _write_setting(value) for key, value in settings.items()}, separators=(",", ":"))


def _write_setting(value: object) -> object:
    if isinstance(value, Mapping):
        return {key: _write_setting(each) for key, each in value.items()}
    if not isinstance(value, Fraction):
        return value
    return int(value) if value.denominator == 1 else str(value)
