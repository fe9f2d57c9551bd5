"""Where things stand in a TOML text: the line of every table, key and list item.

The text is scanned once, without recursion; its values are skipped, not read (`tomllib` reads them). Tests hold the
places found against `tomllib`. Source of the grammar: TOML 1.0.0, toml.io.

>>> lines = find_lines('[pll.main]\\nvco = "84 MHz .. 276 MHz"\\nfeedback = [\\n  10,\\n  12,\\n]')
>>> lines[("pll", "main", "vco")], lines[("pll", "main", "feedback", 1)]
(2, 5)
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import count
from tomllib import TOMLDecodeError

Path = tuple[str | int, ...]

DEEPEST = 32
"""Longer paths are not listed, which bounds time and memory; sheets and plans nested so deeply are refused anyway."""

MOST_OPEN = 1000
"""A text with more lists and tables open at once is left there: tomllib, which is recursive, refuses it."""

# The grammar in pieces. Strings are written so that each text has one way to match: a long one costs its length only.
# Possessive repeats stand on single characters alone: on groups they go wrong before Python 3.11.5 (CPython gh-106052).
_BASIC = r'"[^"\\\n]*+(?:\\[^\n][^"\\\n]*+)*"'
_LITERAL = r"'[^'\n]*+'"
_LONG_BASIC = r'"""[^"\\]*+(?:(?:\\[\s\S]|"(?!""))[^"\\]*+)*"{3,5}+'
_LONG_LITERAL = r"'''[^']*+(?:'(?!'')[^']*+)*'{3,5}+"
_BARE_VALUE = r"[\w.:+\-]++(?: \d[\w.:+\-]*+)?"  # the blank: between a date and its time
_ONE_KEY = rf"(?:[A-Za-z0-9_\-]++|{_BASIC}|{_LITERAL})"
_DOTTED_KEY = rf"{_ONE_KEY}(?:[ \t]*+\.[ \t]*+{_ONE_KEY})*"
_TO_NEXT = r"[ \t\n]*+(?:#[^\n]*+[ \t\n]*+)*"  # blanks, line ends, comments
_AFTER_VALUE = rf"{_TO_NEXT}(?:,{_TO_NEXT})?"

_START = re.compile(_TO_NEXT)
_KEY = re.compile(_ONE_KEY)
_HEADER = re.compile(rf"(\[\[?)[ \t]*+({_DOTTED_KEY})[ \t]*+\]\]?{_TO_NEXT}")
_PAIR = re.compile(rf"({_DOTTED_KEY})[ \t]*+=[ \t]*+")
_VALUE = re.compile(rf"(?:([\[{{])|{_BARE_VALUE}|{_LONG_BASIC}|{_BASIC}|{_LONG_LITERAL}|{_LITERAL}){_AFTER_VALUE}")
_CLOSE = re.compile(rf"[\]}}]{_AFTER_VALUE}")

_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))")
_ESCAPED = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}

_FAULT = re.compile(r"\(at line (\d+), column \d+\)\Z")


def find_lines(text: str) -> dict[Path, int]:
    """The line, counted from 1, of each key path of a TOML text; list items by their position.

    A table has the line that first names it. Of a text that is not TOML: the paths before its first fault and
    perhaps some after it.

    >>> find_lines('[[rule]]\\nof = "core"')
    {('rule',): 1, ('rule', 0): 1, ('rule', 0, 'of'): 2}
    """
    scanner = _Scanner(text.replace("\r\n", "\n"))
    scanner.run()
    return scanner.lines


def line_of(lines: Mapping[Path, int], path: Path) -> int | None:
    """The line of a path, else of the nearest table or list around it: for a key of no table, line 1.

    None where there is no place to name: no path, or a text that holds nothing.

    >>> line_of({("pll",): 3}, ("pll", "main"))
    3
    """
    found = (lines[path[:length]] for length in range(len(path), 0, -1) if path[:length] in lines)
    return next(found, 1 if lines and path else None)


def line_of_fault(fault: TOMLDecodeError) -> int | None:
    """The line that tomllib names in what it says; None where it names the end of the text."""
    found = _FAULT.search(str(fault))
    return int(found[1]) if found else None


class _Scanner:
    """Walks over the text once, `at` never going back; `lines` has what was found."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.newest: dict[Path, int] = {}  # of each list of tables, the position of its latest one
        self.line = 1
        self.counted_to = 0

    def run(self) -> None:
        """Scan statement by statement, until the end or the first place that is no TOML."""
        table: Path | None = ()
        self._take(_START)
        while table is not None and self.at < len(self.text):
            table = self._header() if self.text.startswith("[", self.at) else self._statement(table)

    def _take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Go over what the pattern matches here."""
        found = pattern.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return found

    def _step(self, path: Path, key: str | int) -> Path:
        """The path one step further in, listed where it is new; never longer than the deepest."""
        if len(path) == DEEPEST:
            return path
        path = (*path, key)
        if path not in self.lines:
            self.line += self.text.count("\n", self.counted_to, self.at)
            self.counted_to = self.at
            self.lines[path] = self.line
        return path

    def _header(self) -> Path | None:
        """A header of a table or of a list's next table: the path that its keys belong to; None where it is none."""
        header = _HEADER.match(self.text, self.at)
        if header is None:
            return None
        *outer, last = _keys_of(header[2])
        path: Path = ()
        for key in outer:
            path = self._step_into_newest(path, key)
        path = self._next_table(path, last) if header[1] == "[[" else self._step(path, last)
        self.at = header.end()
        return path

    def _step_into_newest(self, path: Path, key: str) -> Path:
        """One step further in and, where that is a list of tables, into its latest one."""
        path = self._step(path, key)
        return self._step(path, self.newest[path]) if path in self.newest else path

    def _next_table(self, path: Path, key: str) -> Path:
        """The path of the table that a `[[header]]` adds to its list."""
        path = self._step(path, key)
        self.newest[path] = self.newest.get(path, -1) + 1
        return self._step(path, self.newest[path])

    def _statement(self, table: Path) -> Path | None:
        """`key = value` in a table: that table again; None where it is none."""
        path = self._pair_key(table)
        return table if path is not None and self._skip_value(path) else None

    def _pair_key(self, path: Path) -> Path | None:
        """`key =` in a table at that path: the path of its value; None where it is none."""
        pair = _PAIR.match(self.text, self.at)
        if pair is None:
            return None
        for key in _keys_of(pair[1]):
            path = self._step(path, key)
        self.at = pair.end()
        return path

    def _skip_value(self, path: Path | None) -> bool:
        """Go over one value, listing what is nested in it; False where it is none.

        Lists and inline tables still open wait on a stack, each with its path and, for a list, its next positions.
        """
        around: list[tuple[Path, Iterator[int] | None]] = []
        while path is not None:
            value = self._take(_VALUE)
            if value is None or len(around) == MOST_OPEN:
                return False
            if value[1]:
                around.append((path, count() if value[1] == "[" else None))
            while around and self.text.startswith(("]", "}"), self.at):
                self._take(_CLOSE)
                around.pop()
            if not around:
                return True
            outer, positions = around[-1]
            path = self._step(outer, next(positions)) if positions else self._pair_key(outer)
        return False


def _keys_of(dotted: str) -> list[str]:
    """The keys of a dotted key, as they are without quotes and escapes."""
    return [_unquoted(key) if key[0] in "\"'" else key for key in _KEY.findall(dotted)]


def _unquoted(key: str) -> str:
    inner = key[1:-1]
    return _ESCAPE.sub(_unescaped, inner) if key[0] == '"' else inner


def _unescaped(escape: re.Match[str]) -> str:
    code = escape[1] or escape[2]
    if code is None:
        return _ESCAPED.get(escape[3], escape[3])
    return chr(int(code, 16)) if int(code, 16) <= 0x10FFFF else ""
