"""Plain signs: what this program prints, written with the signs of ASCII that it also reads."""

from __future__ import annotations

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


def write_plainly(text: str) -> str:
    """The text with our signs beyond ASCII replaced; those of others stay as they are.

    >>> write_plainly("×29, ±30\\u00a0ppm, Prüfstand")
    'x29, +-30 ppm, Prüfstand'
    """
    return text.translate(_TABLE)
