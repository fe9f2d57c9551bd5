"""Where things stand in a TOML text: the line of every table, key and list item.

The text is scanned once, without recursion; its values are skipped, not read (`tomllib` reads them). Tests hold the
places found against `tomllib`. Source of the grammar: TOML 1.0.0, toml.io.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from tomllib import TOMLDecodeError

Path = tuple[str | int, ...]

DEEPEST = 64
"""Places nested deeper than this are not looked for; such a text is refused anyway."""

_BLANK = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}\r\n#]+")
_FAULT = re.compile(r"\(at line (\d+), column \d+\)")
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


def find_lines(text: str) -> dict[Path, int]:
    """The line, counted from 1, of each key path of a TOML text; list items by their position.

    >>> find_lines('[pll.main]\\nvco = "84 MHz"')[("pll", "main", "vco")]
    2
    """
    scanner = _Scanner(text.replace("\r\n", "\n"))
    scanner.run()
    return scanner.lines


def line_of(lines: Mapping[Path, int], path: Path) -> int | None:
    """The line of a path, else of the nearest table or list around it.

    >>> line_of({("pll",): 3}, ("pll", "main"))
    3
    """
    found = (lines[path[:length]] for length in range(len(path), 0, -1) if path[:length] in lines)
    return next(found, 1 if lines and path else None)


def line_of_fault(fault: TOMLDecodeError) -> int | None:
    """The line that tomllib names in what it says."""
    found = _FAULT.search(str(fault))
    return int(found[1]) if found else None


class _Scanner:
    """Walks over the text once; `lines` has what was found."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[Path, int] = {}
        self.lists: dict[Path, int] = {}

    def run(self) -> None:
        """Scan statement by statement until the end or to the first place that is no TOML."""
        table: Path = ()
        while self._skip_to_statement():
            if self.text.startswith("[", self.at):
                found = self._header()
            else:
                found = table if self._pair(table) else None
            if found is None:
                return
            table = found

    def _note(self, path: Path) -> None:
        self.lines.setdefault(path, self.line)

    def _skip_blank(self) -> None:
        found = _BLANK.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def _skip_to_statement(self) -> bool:
        """Over blanks, line ends and comments; False at the end of the text."""
        while self.at < len(self.text):
            sign = self.text[self.at]
            if sign == "\n":
                self.line += 1
                self.at += 1
            elif sign in " \t":
                self._skip_blank()
            elif sign == "#":
                self._skip_line()
            else:
                return True
        return False

    def _skip_line(self) -> None:
        end = self.text.find("\n", self.at)
        self.at = len(self.text) if end < 0 else end

    def _header(self) -> Path | None:
        """A table's or list's header; gives the path that its keys belong to."""
        is_list = self.text.startswith("[[", self.at)
        self.at += 2 if is_list else 1
        keys = self._keys()
        if keys is None:
            return None
        path = self._open(keys[:-1])
        if is_list:
            path = (*path, keys[-1])
            self._note(path)
            self.lists[path] = self.lists.get(path, -1) + 1
            path = (*path, self.lists[path])
            self._note(path)
        else:
            path = self._open(keys)
        self._skip_line()
        return path

    def _open(self, keys: list[str]) -> Path:
        """The path of some keys from the top, the newest item taken where a key names a list of tables."""
        path: Path = ()
        for key in keys:
            path = (*path, key)
            self._note(path)
            if path in self.lists:
                path = (*path, self.lists[path])
        return path

    def _keys(self) -> list[str] | None:
        """A dotted key; None where none stands."""
        keys: list[str] = []
        while len(keys) <= DEEPEST:
            self._skip_blank()
            key = self._key()
            if key is None:
                return None
            keys.append(key)
            self._skip_blank()
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1
        return None

    def _key(self) -> str | None:
        sign = self.text[self.at : self.at + 1]
        if sign and sign in "\"'":
            start = self.at + 1
            self._skip_string()
            inner = self.text[start : self.at - 1]
            return inner if sign == "'" else _unescape(inner)
        found = _BARE_KEY.match(self.text, self.at)
        if found is None:
            return None
        self.at = found.end()
        return found.group()

    def _pair(self, table: Path) -> bool:
        """`key = value`; False where it is none."""
        path = self._pair_key(table)
        return path is not None and self._value(path)

    def _pair_key(self, table: Path) -> Path | None:
        keys = self._keys()
        if keys is None or not self.text.startswith("=", self.at):
            return None
        self.at += 1
        path = table
        for key in keys:
            path = (*path, key)
            self._note(path)
        return path

    def _value(self, path: Path) -> bool:
        """One value with everything nested in it; the open lists and tables are kept on a stack."""
        open_ones: list[tuple[Path, int | None]] = []
        here: Path | None = path
        while True:
            if here is not None:
                if not self._start_of_value(here, open_ones):
                    return False
            if not open_ones:
                return True
            if len(open_ones) > DEEPEST:
                return False
            here = self._next_inside(open_ones)
            if here is None and self.at >= len(self.text):
                return False

    def _start_of_value(self, path: Path, open_ones: list[tuple[Path, int | None]]) -> bool:
        self._skip_blank()
        sign = self.text[self.at : self.at + 1]
        if sign == "":
            return False
        if sign == "[":
            open_ones.append((path, 0))
            self.at += 1
        elif sign == "{":
            open_ones.append((path, None))
            self.at += 1
        elif sign in "\"'":
            self._skip_string()
        else:
            found = _BARE_VALUE.match(self.text, self.at)
            self.at = found.end() if found else self.at + 1
        return True

    def _next_inside(self, open_ones: list[tuple[Path, int | None]]) -> Path | None:
        """Inside the innermost list or table: the path of the next value, None after a close."""
        if not self._skip_to_statement():
            return None
        path, position = open_ones[-1]
        if self.text[self.at] == ",":
            self.at += 1
            if not self._skip_to_statement():
                return None
        if self.text[self.at] in "]}":
            self.at += 1
            open_ones.pop()
            return None
        if position is None:
            found = self._pair_key(path)
            if found is None:
                self.at = len(self.text)
            return found
        open_ones[-1] = (path, position + 1)
        item = (*path, position)
        self._note(item)
        return item

    def _skip_string(self) -> None:
        """Over a string of any of the four kinds, its line ends counted."""
        sign = self.text[self.at]
        fence = sign * 3 if self.text.startswith(sign * 3, self.at) else sign
        at = self.at + len(fence)
        while True:
            end = self.text.find(fence, at)
            if end < 0:
                end = len(self.text)
                break
            if sign == '"' and _is_escaped(self.text, end, self.at):
                at = end + 1
                continue
            while len(fence) == 3 and self.text.startswith(sign, end + 3):
                end += 1
            break
        stop = min(end + len(fence), len(self.text))
        self.line += self.text.count("\n", self.at, stop)
        self.at = stop


def _is_escaped(text: str, at: int, start: int) -> bool:
    count = 0
    while at - 1 - count > start and text[at - 1 - count] == "\\":
        count += 1
    return count % 2 == 1


def _unescape(text: str) -> str:
    return re.sub(r"\\(u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|.)", lambda found: _escape(found[1]), text)


def _escape(code: str) -> str:
    if code[0] in "uU" and len(code) > 1:
        number = int(code[1:], 16)
        return chr(number) if number < 0x110000 else ""
    return _ESCAPES.get(code, code)
