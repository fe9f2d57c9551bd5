"""Text of others inside ours: a title may hold anything, and stands in a comment without ending it or misleading.

What could end a comment, join lines or turn the direction of text is taken apart: comment marks, trigraphs (ISO/IEC
9899:1999, 5.2.1.1), a backslash before a line's end (5.1.1.2), line ends, control signs, marks of direction and
signs that cannot be seen (Boucher and Anderson, Trojan Source: Invisible Vulnerabilities, 2021).
"""

from __future__ import annotations

import re
from textwrap import wrap

from wheelwork.quantities.plain import UNSEEN, write_plainly

LONGEST = 160
WIDTH = 100

_SPACES = re.compile("[\\s\u0085\u2028\u2029]+")
_BREAKS = re.compile("[\t-\r\x1c-\x1f \u0085\u2028\u2029]+")
_KEPT = str.maketrans("\u00a0\u2009\u202f", "\0\0\0")
"""Spaces at which no line is broken, and what stands for them until lines are broken."""
_TAKEN_APART = ((re.compile(r"\*(?=/)"), "* "), (re.compile(r"/(?=\*)"), "/ "), (re.compile(r"\?(?=\?)"), "? "))


def show_unseen(text: str) -> str:
    """The text in one line; each sign that cannot be seen, or turns the direction of text, is named.

    >>> show_unseen("one\\ntwo\\u202e")
    'one two<U+202E>'
    """
    return _name_unseen(_SPACES.sub(" ", text).strip())


def _name_unseen(text: str) -> str:
    return UNSEEN.sub(lambda found: f"<U+{ord(found[0]):04X}>", text)


def in_comment(text: str) -> str:
    """The text as it may stand in a comment of C, C++, Rust or Devicetree; a backslash is written as a stroke.

    >>> in_comment("end */ of ??/ it\\\\")
    'end * / of ? ?/ it/'
    """
    return _unbroken(text).replace("\0", " ")


def wrapped(text: str, width: int = WIDTH) -> list[str]:
    """The text as it may stand in a comment, in lines."""
    lines = wrap(_unbroken(text), width, break_long_words=False, break_on_hyphens=False) or [""]
    return [line.replace("\0", " ") for line in lines]


def _unbroken(text: str) -> str:
    """The text safe in a comment, with a sign for each space at which no line may be broken."""
    safe = write_plainly(_name_unseen(_BREAKS.sub(" ", text).strip()).translate(_KEPT)).replace("\\", "/")
    for pattern, apart in _TAKEN_APART:
        safe = pattern.sub(apart, safe)
    return safe


def cut(text: str, most: int = LONGEST) -> str:
    """A text of a bearable length, with how long it is where it was cut.

    >>> cut("tide" * 100, 8)
    'tidetide... (400 characters)'
    """
    return text if len(text) <= most else f"{text[:most].rstrip()}... ({len(text)} characters)"
