"""Plain signs: what this program prints, written with the signs of ASCII that it also reads; and signs never seen."""

from __future__ import annotations

import re

PLAIN = {
    "\u00a0": " ",
    "\u2009": " ",
    "\u202f": " ",
    "\u2212": "-",
    "–": "-",
    "…": "...",
    "±": "+-",
    "×": "x",
    "÷": "/",
    "µ": "u",
    "Ω": "ohm",
    "°": "deg",
    "→": "->",
    "’": "'",
}
"""Stand-ins for the signs that we use beyond ASCII; `+-` for ±, `u` for µ and `-` for U+2212 are read as well."""
_TABLE = str.maketrans(PLAIN)

UNSEEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164"
    "\ud800-\uf8ff\ufdd0-\ufdef\ufeff\uffa0\ufff0-\uffff\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U0010ffff]"
)
"""Control signs, marks that turn the direction of text, and signs that take no place or have no meaning."""


def write_plainly(text: str) -> str:
    """The text with our signs beyond ASCII replaced; those of others stay as they are.

    >>> write_plainly("×29, ±30\\u00a0ppm, Prüfstand")
    'x29, +-30 ppm, Prüfstand'
    """
    return text.translate(_TABLE)
