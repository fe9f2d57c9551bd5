"""A handed-over text with its marks: comments quiet, what is outside loud, the words of the language bold."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Look = Literal["plain", "quiet", "loud", "bold"]


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a line that looks alike."""

    look: Look
    text: str


Line = tuple[Piece, ...]

_SLASHES = re.compile(r"/\*.*?\*/|//[^\n]*", re.DOTALL)
_HASH = re.compile(r"^[ \t]*#[^\n]*", re.MULTILINE)
_NOTHING = re.compile(r"(?!)")
COMMENTS = {"h": _SLASHES, "rs": _SLASHES, "dts": _SLASHES, "dtsi": _SLASHES, "toml": _HASH}
"""What a comment looks like, by the ending of a file; where it is not told there are none."""
_LOUD = re.compile(r"\b(?:NOTICE|OUTSIDE)\b")
_BOLD = re.compile(
    r"^\s*(#\s*[a-z]+|_Static_assert|static_assert|typedef|(?:pub )?const(?= )|\[\[?[^\]\n]*\]\]?(?=\s*$))"
)


def mark(text: str, ending: str) -> Iterator[Line]:
    """The lines of a text in pieces."""
    line: list[Piece] = []
    for look, part in _parts(text, COMMENTS.get(ending, _NOTHING)):
        for number, piece in enumerate(part.split("\n")):
            if number:
                yield tuple(line)
                line = []
            if piece:
                line += _look(look, piece, not line and ending in COMMENTS)
    if line:
        yield tuple(line)


def _parts(text: str, comment: re.Pattern[str]) -> Iterator[tuple[Look, str]]:
    """The text between comments and the comments."""
    place = 0
    for found in comment.finditer(text):
        yield "plain", text[place : found.start()]
        yield "quiet", found[0]
        place = found.end()
    yield "plain", text[place:]


def _look(look: Look, piece: str, first: bool) -> Iterator[Piece]:
    """A piece of one line: a comment quiet or loud; of the rest the word at the start of a line bold."""
    if look == "quiet":
        yield Piece("loud" if _LOUD.search(piece) else "quiet", piece)
        return
    found = _BOLD.match(piece) if first else None
    if found is None:
        yield Piece("plain", piece)
        return
    yield from (Piece(*each) for each in (("plain", piece[: found.start(1)]), ("bold", found[1])) if each[1])
    if piece[found.end() :]:
        yield Piece("plain", piece[found.end() :])
