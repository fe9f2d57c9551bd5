"""Lines of key paths: by hand, and against tomllib on texts written out in every style that TOML 1.0.0 has.

The expected lines of a generated text come from its writer, which counts the line ends it has written so far;
that the writer writes what it says is held by tomllib, which must find just the same paths.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from time import process_time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.part.lines import DEEPEST, find_lines, line_of, line_of_fault

Place = tuple[str | int, ...]

SHEETS = sorted((Path(__file__).resolve().parent.parent / "cases").glob("*/*.toml"))
HALF_A_MEGABYTE = 512 * 1024


def paths_in(value: object, around: Place = ()) -> Iterator[Place]:
    """Every key path in what tomllib has read."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield (*around, key)
        yield from paths_in(item, (*around, key))


# By hand: the text, a path in it, and its line as one counts it.


@pytest.mark.parametrize(
    ("text", "path", "line"),
    [
        ("a = 1\nb = 2", ("b",), 2),
        ("\n\n  a = 1", ("a",), 3),
        ("# a = 1\na = 1 # b = 2\nb = 2", ("b",), 3),
        ("a = 1\r\n\r\nb = 2\r\n", ("b",), 3),
        ("[core]\nclock = 'core'", ("core",), 1),
        ("[core]\nclock = 'core'", ("core", "clock"), 2),
        ("[ core . 'x' ] # [y]\nclock = 1", ("core", "x", "clock"), 2),
        ("[pll.main]\n[pll]\ntitle = 1", ("pll",), 1),
        ("[pll.main]\n[pll]\ntitle = 1", ("pll", "title"), 3),
        ("pll.main.vco = 1\npll.main.input = 2", ("pll", "main"), 1),
        ("pll.main.vco = 1\npll.main.input = 2", ("pll", "main", "input"), 2),
        ("[a]\nb.c = 1\n\nb.d.e = 2", ("a", "b", "d"), 4),
        ("a . b\t.\tc = 1", ("a", "b", "c"), 1),
        ("3.14 = 1", ("3", "14"), 1),
        ("1e3 = 1\ntrue = 2", ("true",), 2),
        ("a = 1\n''.b = 2", ("", "b"), 2),
        ("a = 1\n'' = 2", ("",), 2),
        ('\n"a.b" = 1', ("a.b",), 2),
        ("\n'a\\n' = 1", ("a\\n",), 2),
        ('\n"a\\"\\\\\\t\\u00e9\\U0001F600]=#" = 1', ('a"\\\té😀]=#',), 2),
        ('["a]b"."c\\"d"]\nx = 1', ("a]b", 'c"d', "x"), 2),
        ("[[rule]]\nof = 1\n[[rule]]\nof = 2", ("rule",), 1),
        ("[[rule]]\nof = 1\n[[rule]]\nof = 2", ("rule", 1), 3),
        ("[[rule]]\nof = 1\n[[rule]]\nof = 2", ("rule", 1, "of"), 4),
        ("[[a]]\n[[a.b]]\n[[a.b]]\n[[a]]\n[[a.b]]\nc = 1", ("a", 0, "b", 1), 3),
        ("[[a]]\n[[a.b]]\n[[a.b]]\n[[a]]\n[[a.b]]\nc = 1", ("a", 1, "b", 0, "c"), 6),
        ("[[a]]\n[[a]]\n[a.b.c]\nd = 1", ("a", 1, "b", "c", "d"), 4),
        ("[[a.b]]\nc = 1", ("a",), 1),
        ("a = [ ]\nb = { }\nc = 1", ("c",), 3),
        ("a = [\n  1,\n  2, # 9,\n  # 9,\n  3,\n]\nb = 1", ("a", 2), 5),
        ("a = [\n  1,\n  2, # 9,\n  # 9,\n  3,\n]\nb = 1", ("b",), 7),
        ("a = [1\n,\n2\n]\nb=1", ("a", 1), 3),
        ("a = [[1, 2],\n[3,\n4], []]\n", ("a", 1, 1), 3),
        ("a = [[1, 2],\n[3,\n4], []]\n", ("a", 2), 3),
        ("a = { b = 1, c.d = [\n1,\n2] }", ("a", "c", "d", 1), 3),
        ("a = { b = 1, c.d = [\n1,\n2], e = 3 }", ("a", "e"), 3),
        ("a = [ { 'b]' = ']' },\n{ \"c}\" = '}' } ]", ("a", 1, "c}"), 2),
        ("a = ['#', \"#\", '''\n#''', 1]\nb = 2", ("a", 3), 2),
        ('a = """\n[b]\nc = 1\n"""\nd = 1', ("d",), 5),
        ('a = """x\\"""\n"""\nd = 1', ("d",), 3),
        ('a = """x\\\\"""\nd = 1', ("d",), 2),
        ('a = """"x"""""\nd = 1', ("d",), 2),
        ('a = ["""""""", """\n""]""", 3]', ("a", 2), 2),
        ("a = '''\n\"\"\"\n'''\nd = 1", ("d",), 4),
        ("a = ''''x'''''\nd = 1", ("d",), 2),
        ("a = '''\\'''\nd = 1", ("d",), 2),
        ("a = '\\'\nd = 1", ("d",), 2),
        ("a = ''\nb = \"\"\nd = 1", ("d",), 3),
        ('a = "\\\\"\nd = "\\""\ne = 1', ("e",), 3),
        ("a = [1979-05-27 07:32:00.5-07:00,\n07:32:00, 1979-05-27\n, 1979-05-27T07:32:00Z]", ("a", 3), 3),
        ("a = [+1_000, -0.5e+3, 0xDEAD_beef,\ninf, -nan, true]", ("a", 5), 2),
    ],
)
def test_a_place_has_the_line_it_stands_on(text: str, path: Place, line: int) -> None:
    assert path in set(paths_in(tomllib.loads(text)))
    assert find_lines(text)[path] == line


def test_each_row_of_a_flash_table_has_its_own_line() -> None:
    text = """\
[core_voltage.full]
volts = "1.15 V"
flash = [
  { up_to = "19 MHz", wait_states = 0 },  # { up_to = "9 MHz" },

  { up_to = "39 MHz", wait_states = 1 },
]
"""
    flash = ("core_voltage", "full", "flash")
    assert find_lines(text) == {
        ("core_voltage",): 1,
        ("core_voltage", "full"): 1,
        ("core_voltage", "full", "volts"): 2,
        flash: 3,
        (*flash, 0): 4,
        (*flash, 0, "up_to"): 4,
        (*flash, 0, "wait_states"): 4,
        (*flash, 1): 6,
        (*flash, 1, "up_to"): 6,
        (*flash, 1, "wait_states"): 6,
    }


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_each_place_of_a_sheet_is_found_on_a_line_that_names_it(sheet: Path) -> None:
    text = sheet.read_text("utf-8")
    lines = find_lines(text)
    assert set(lines) == set(paths_in(tomllib.loads(text)))
    for path, line in lines.items():
        last_key = [key for key in path if isinstance(key, str)][-1]
        assert isinstance(path[-1], int) or last_key in text.splitlines()[line - 1]


# Against tomllib: documents written out in styles drawn by hypothesis.


class Plain(str):
    """A value as it is written that is no string, list or table."""

    __slots__ = ()


SIGNS = ["a", "7", "-", "é", " ", "\t", "\n", ".", "=", "#", ",", '"', "'", "\\", "[", "]", "{", "}"]
KEYS = st.sampled_from(["core", "pll", "0", "-_-", ""]) | st.text(st.sampled_from(SIGNS), max_size=5)
PLAIN = ["0", "-1_000", "0xff", "1.5e-3", "-inf", "nan", "true", "1979-05-27", "1979-05-27 07:32:00.25", "07:32:00"]
VALUES = st.text(st.sampled_from(SIGNS), max_size=8) | st.sampled_from(PLAIN).map(Plain)
TREES = st.dictionaries(
    KEYS,
    st.recursive(
        VALUES,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
        max_leaves=8,
    ),
    max_size=4,
)

ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "é": "\\u00E9", "a": "\\U00000061"}
BARE = frozenset("a7-_corepl0")


class Writer:
    """Writes a tree as TOML, each piece in a style that is drawn, and notes the line of every key path."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        self.text = ""
        self.lines: dict[Place, int] = {}

    def choose(self, *styles: str) -> str:
        return self.draw(st.sampled_from(styles))

    def note(self, path: Place) -> None:
        self.lines.setdefault(path, self.text.count("\n") + 1)

    def blank(self) -> None:
        self.text += self.choose("", " ", "\t ")

    def gap(self) -> None:
        self.text += self.choose("", " ", "\n", "\n\n\t", " # ] } a = [\n", "#\n#'''\n")

    def end_of_line(self) -> None:
        self.text += self.choose("\n", " \n", "\n\n", ' # """\n', "\n#[a]\n\t")

    def document(self, tree: dict[str, Any]) -> None:
        self.gap()
        self.body((), tree, self.sections_of(tree))

    def sections_of(self, tree: dict[str, Any]) -> list[str]:
        """The keys whose tables are written under headers of their own."""
        tables = [key for key, value in tree.items() if isinstance(value, dict) or is_list_of_tables(value)]
        return [key for key in tables if self.choose("header", "header", "here") == "header"]

    def body(self, path: Place, tree: dict[str, Any], sections: list[str]) -> None:
        self.pairs(path, tree, sections)
        for key in sections:
            self.section((*path, key), tree[key])

    def pairs(self, path: Place, tree: dict[str, Any], sections: list[str]) -> None:
        for key, value in tree.items():
            if key not in sections:
                self.pair(path, (key,), value)
                self.end_of_line()

    def section(self, path: Place, value: Any) -> None:
        if isinstance(value, list):
            for position, table in enumerate(value):
                self.header((*path, position))
                self.body((*path, position), table, self.sections_of(table))
            return
        sections = self.sections_of(value)
        order = self.choose("first", "last", "none") if sections else "first"
        if order == "none" and len(sections) == len(value):
            self.body(path, value, sections)
        elif order == "last":
            self.body(path, {key: value[key] for key in sections}, sections)
            self.header(path)
            self.pairs(path, value, sections)
        else:
            self.header(path)
            self.body(path, value, sections)

    def header(self, path: Place) -> None:
        for length in range(1, len(path) + 1):
            self.note(path[:length])
        is_item = isinstance(path[-1], int)
        self.text += "[[" if is_item else "["
        self.blank()
        self.keys(tuple(key for key in path if isinstance(key, str)))
        self.blank()
        self.text += "]]" if is_item else "]"
        self.end_of_line()

    def keys(self, keys: tuple[str, ...]) -> None:
        for position, key in enumerate(keys):
            if position:
                self.blank()
                self.text += "."
                self.blank()
            self.text += self.key(key)

    def key(self, key: str) -> str:
        styles = ["basic"]
        styles += ["bare", "bare"] if key and BARE.issuperset(key) else []
        styles += ["literal"] if not {"'", "\n"} & set(key) else []
        style = self.choose(*styles)
        return key if style == "bare" else f"'{key}'" if style == "literal" else self.basic(key)

    def basic(self, text: str) -> str:
        needed = '\\"\n' + self.choose("", "\taé")
        return '"' + "".join(ESCAPES[sign] if sign in needed else sign for sign in text) + '"'

    def pair(self, path: Place, keys: tuple[str, ...], value: Any, inline: bool = False) -> None:
        """`key = value`, or one such pair for each key inside, dotted."""
        if isinstance(value, dict) and value and self.choose("dotted", "inline") == "dotted":
            for position, key in enumerate(value):
                if position:
                    self.text += "," if inline else "\n"
                    self.blank()
                self.pair(path, (*keys, key), value[key], inline)
            return
        for length in range(1, len(keys) + 1):
            self.note((*path, *keys[:length]))
        self.keys(keys)
        self.blank()
        self.text += "="
        self.blank()
        self.value((*path, *keys), value)

    def value(self, path: Place, value: Any) -> None:
        if isinstance(value, Plain):
            self.text += value
        elif isinstance(value, str):
            self.string(value)
        elif isinstance(value, list):
            self.list(path, value)
        else:
            self.inline_table(path, value)

    def list(self, path: Place, items: list[Any]) -> None:
        self.text += "["
        self.gap()
        for position, item in enumerate(items):
            self.note((*path, position))
            self.value((*path, position), item)
            self.gap()
            self.text += "," if position + 1 < len(items) else self.choose("", ",")
            self.gap()
        self.text += "]"

    def inline_table(self, path: Place, table: dict[str, Any]) -> None:
        self.text += "{"
        self.blank()
        for position, key in enumerate(table):
            if position:
                self.text += ","
                self.blank()
            self.pair(path, (key,), table[key], inline=True)
            self.blank()
        self.text += "}"

    def string(self, text: str) -> None:
        styles = ["basic", "long basic"]
        styles += ["literal"] if not {"'", "\n"} & set(text) else []
        styles += ["long literal"] if "'''" not in text else []
        style = self.choose(*styles)
        if style == "basic":
            self.text += self.basic(text)
        elif style == "literal":
            self.text += f"'{text}'"
        elif style == "long literal":
            self.text += "'''\n" + text + "'''"
        else:
            joined = self.choose("\n", "\\\n \n") if text[:1] not in (" ", "\t", "\n") else "\n"
            self.text += '"""' + joined + text.replace("\\", "\\\\").replace('"""', '""\\"') + '"""'


def is_list_of_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


@st.composite
def written_trees(draw: st.DrawFn) -> tuple[str, dict[Place, int]]:
    writer = Writer(draw)
    writer.document(draw(TREES))
    text = writer.text if draw(st.booleans()) else writer.text.replace("\n", "\r\n")
    return text, writer.lines


@given(written_trees())
def test_every_place_of_a_written_document_has_the_line_it_was_written_on(
    written: tuple[str, dict[Place, int]],
) -> None:
    text, lines = written
    assert set(lines) == set(paths_in(tomllib.loads(text)))
    assert find_lines(text) == lines


# Against tomllib: texts that may be TOML or not.

PIECES = [
    *("a", "b", "1", "-", "'", '"', "'''", '"""', "\\", "=", ".", ",", " ", "\n", "#", "[", "]", "[[", "]]", "{", "}"),
    *("a = ", "[a]\n", "[[a]]\n", "a.b = 1\n", "b = [", "{a = 1}", '"\\""', "\\u0061", "\\uD800", "\\UFFFFFFFF", "\r"),
]


@given(st.lists(st.sampled_from(PIECES), max_size=20).map("".join))
def test_what_tomllib_reads_is_found_and_the_rest_is_left(text: str) -> None:
    lines = find_lines(text)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert set(lines) == set(paths_in(read))


@given(st.sampled_from(SHEETS), st.integers(0, 20_000), st.integers(0, 20), st.sampled_from(PIECES))
def test_a_sheet_with_a_slip_keeps_the_places_before_it(sheet: Path, at: int, length: int, slip: str) -> None:
    """Something on one line is put over by something else: the lines before it stay as they were."""
    text = sheet.read_text("utf-8")
    at %= len(text)
    slipped = find_lines(text[:at] + slip + text[at + length :])
    line = text.count("\n", 0, at) + 1
    before = {path: there for path, there in find_lines(text).items() if there < line}
    assert {path: there for path, there in slipped.items() if there < line} == before


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("a = 1\nb c\nd = 1", {("a",): 1}),
        ("a = 1\n[b\nd = 1", {("a",): 1}),
        ("a = 1\nb = \nd = 1", {("a",): 1, ("b",): 2}),
        ("a = [\n1\n", {("a",): 1, ("a", 0): 2}),
        ('a = 1\n"\\UFFFFFFFF".b = 1', {("a",): 1, ("",): 2, ("", "b"): 2}),
        ('a = """\nb = 1', {("a",): 1}),
    ],
)
def test_what_stands_before_a_fault_is_found(text: str, lines: dict[Place, int]) -> None:
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    assert lines.items() <= find_lines(text).items()


# Bounds: a text as long as a sheet may be, made to be slow or to nest deeply.

DOTTED = ".".join("a" * 31)
HOSTILE = {
    "rows": "a=[\n" + "{ up_to = '1 MHz', wait_states = 0 },\n" * 13_000 + "]",
    "short items": "a=[" + "1," * 262_000 + "]",
    "dotted keys in inline tables": "a=[" + ("{" + DOTTED + "={" + DOTTED + "=1}},") * 4000 + "]",
    "deep dotted keys": "a=[" + (("{" + DOTTED + "=") * 60 + "1" + "}" * 60 + ",") * 133 + "]",
    "deep headers": "".join(f"[k{number}.{DOTTED}]\n" for number in range(7500)),
    "one key of many dots": "a." * 262_000 + "a=1",
    "lists in lists": "a=" + "[" * 262_000 + "]" * 262_000,
    "lists never closed": "a=" + "[" * 524_000,
    "tables never closed": "a=" + "{a=" * 174_000,
    "quotes": '"' * 524_000,
    "strings never closed": 'a="""\n' * 87_000,
    "backslashes": 'a="' + "\\" * 524_000,
    "escapes": 'a="' + '\\"' * 262_000 + '"',
    "quotes in a long string": 'a="""' + '""a' * 174_000 + '"""',
    "comments": "#\n" * 262_000 + "?",
    "blanks": " " * 524_000 + "?",
    "blanks in a key": "a" + " " * 524_000 + "?",
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_no_text_takes_long_or_leads_too_deep(text: str) -> None:
    """Two seconds is many times what it takes; a scan that looks at each character again for each would take hours."""
    assert len(text) <= HALF_A_MEGABYTE * 1.01
    start = process_time()
    lines = find_lines(text)
    assert process_time() - start < 2
    assert max(map(len, lines), default=0) <= DEEPEST


def test_a_place_nested_too_deeply_has_the_line_of_what_is_around_it() -> None:
    text = "b = 0\na = [\n" + "[" * 50 + "1\n,\n2" + "]" * 50 + "\n]\nc = 1"
    lines = find_lines(text)
    assert line_of(lines, ("a", *[0] * 50, 1)) == 3
    assert lines[("c",)] == 7


def test_a_text_is_left_where_more_is_open_than_tomllib_can_bear() -> None:
    text = "a = " + "[" * 1001 + "]" * 1001 + "\nb = 1"
    with pytest.raises(RecursionError):
        tomllib.loads(text)
    assert ("b",) not in find_lines(text)


# Nearest place, and tomllib's own.

RULES = {("rule",): 2, ("rule", 0): 2, ("rule", 0, "of"): 3, ("core",): 7}


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("rule", 0, "of"), 3),
        (("rule", 0, "node"), 2),
        (("rule", 1, "of"), 2),
        (("core", "clock", "x", "y"), 7),
        (("name",), 1),
        ((), None),
    ],
)
def test_a_missing_place_has_the_line_of_what_is_around_it(path: Place, line: int | None) -> None:
    assert line_of(RULES, path) == line


def test_a_text_that_holds_nothing_has_no_line() -> None:
    assert line_of({}, ("name",)) is None


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a = 1\n\nb = = 2\n", 3),
        ("[a]\nb = 1\n[a]\n", 3),
        ("a = 1\r\nb c\r\n", 2),
        ("['(at line 8, column 8)']\n['(at line 8, column 8)']\n", 2),
        ("a = ", None),
        ('a = """\n', None),
    ],
)
def test_a_fault_has_the_line_that_tomllib_names(text: str, line: int | None) -> None:
    """tomllib says "(at end of document)" of a text that stops too early."""
    with pytest.raises(tomllib.TOMLDecodeError) as fault:
        tomllib.loads(text)
    assert line_of_fault(fault.value) == line
