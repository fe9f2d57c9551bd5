"""Printing: what the commands say, also where a terminal cannot show it all or a pipe is not read to its end.

Signs that an encoding lacks are written as this program also reads them: `+-` for ±, `u` for µ, `-` for U+2212.
"""

from __future__ import annotations

import codecs
import io
import json
import os
import re
import sys
from collections.abc import Callable
from typing import Any, TextIO

from wheelwork.quantities.plain import PLAIN

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""What a terminal would obey instead of showing it: control characters, marks that turn the direction of text."""


class Unwritten(Exception):
    """What was to be printed could not be written; the text says why."""


def show(text: str) -> None:
    """Print to standard output. Raises Unwritten where that cannot take it; a reader that leaves early is no fault."""
    _write(text, sys.stdout)


def show_fault(text: str) -> None:
    """Print where faults go."""
    _write(text, sys.stderr)


def show_json(value: Any) -> None:
    """Print as JSON; signs beyond ASCII are escaped where the output is not UTF-8, so that it stays the same JSON."""
    spelled = (getattr(sys.stdout, "encoding", None) or "utf-8").lower().startswith("utf")
    show(json.dumps(value, indent=2, ensure_ascii=not spelled))


def show_text(text: str) -> None:
    """Print a text as it is, in UTF-8 whatever the terminal's own, so that a file made of it is the same everywhere."""

    def put(stream: TextIO) -> None:
        stream.flush()
        stream.buffer.write(text.encode("utf-8", "replace"))
        stream.flush()

    _give(put, sys.stdout)


def _write(text: str, stream: TextIO | None) -> None:
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors="wheelwork.plainly")
    _give(lambda stream: print(_CONTROL.sub(_as_escape, text), file=stream, flush=True), stream)


def _give(put: Callable[[TextIO], None], stream: TextIO | None) -> None:
    if stream is None:  # it was closed before we began
        return
    try:
        put(stream)
    except BrokenPipeError:
        _let_go(stream)
    except OSError as fault:
        _let_go(stream)
        raise Unwritten(fault.strerror or str(fault)) from fault


def _let_go(stream: TextIO) -> None:
    """Nothing more is written, not even what is left in the buffer at the end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _as_escape(found: re.Match[str]) -> str:
    return f"\\u{ord(found[0]):04x}"


def _plainly(fault: UnicodeError) -> tuple[str, int]:
    """Stand-ins for signs that the output's encoding lacks."""
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    return "".join(PLAIN.get(sign, "?") for sign in fault.object[fault.start : fault.end]), fault.end


codecs.register_error("wheelwork.plainly", _plainly)
