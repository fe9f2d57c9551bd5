"""Tables written as TOML (version 1.0.0), for people to read and change; they read back the same."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from wheelwork.quantities.plain import UNSEEN

_BARE = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_MARKS = re.compile(r'["\\]')
_SHORT = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def write_toml(table: Mapping[str, Any]) -> str:
    """A table of texts, whole numbers, truths, lists and tables as TOML; None has no place there.

    >>> print(write_toml({"name": 'A "b"', "set": {"core": 2, "main": {"feedback": 29}}, "link": [{"load": "port"}]}))
    name = "A \\"b\\""
    <BLANKLINE>
    [set]
    core = 2
    main.feedback = 29
    <BLANKLINE>
    [[link]]
    load = "port"
    <BLANKLINE>
    """
    plain = {key: value for key, value in table.items() if not _stands_alone(value)}
    lines = [*_lines(plain)]
    for key, value in table.items():
        if isinstance(value, Mapping) and value:
            lines += _table(_key(key), value)
        elif _stands_alone(value):
            for each in value:
                lines += ["", f"[[{_key(key)}]]", *(f"{_key(k)} = {_value(v)}" for k, v in each.items())]
    return "\n".join(lines).lstrip("\n") + "\n"


def _stands_alone(value: Any) -> bool:
    """Whether a value has a head of its own: a table with something in it, a list of such tables."""
    if isinstance(value, Mapping):
        return bool(value)
    return _is_list(value) and bool(value) and all(isinstance(each, Mapping) for each in value)


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _table(path: str, table: Mapping[str, Any]) -> Iterator[str]:
    """A table under its head; where it holds nothing but tables, each of them under its own."""
    if all(isinstance(value, Mapping) and value for value in table.values()):
        for key, value in table.items():
            yield from ("", f"[{path}.{_key(key)}]", *_lines(value))
    else:
        yield from ("", f"[{path}]", *_lines(table))


def _lines(table: Mapping[str, Any], before: str = "") -> Iterator[str]:
    for key, value in table.items():
        name = f"{before}{_key(key)}"
        if isinstance(value, Mapping) and value:
            yield from _lines(value, f"{name}.")
        else:
            yield f"{name} = {_value(value)}"


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _value(value: Any) -> str:
    match value:
        case bool():
            return str(value).lower()
        case int():
            return str(value)
        case str():
            return _text(value)
        case Mapping():
            inner = ", ".join(f"{_key(key)} = {_value(each)}" for key, each in value.items())
            return f"{{ {inner} }}" if inner else "{}"
    if _is_list(value):
        return f"[{', '.join(_value(each) for each in value)}]"
    raise TypeError(f"{type(value).__name__} has no place in a plan or a sheet")


def _text(text: str) -> str:
    return f'"{UNSEEN.sub(_escape, _MARKS.sub(_escape, text))}"'


def _escape(found: re.Match[str]) -> str:
    code = ord(found[0])
    return _SHORT.get(found[0]) or (f"\\u{code:04x}" if code < 2**16 else f"\\U{code:08x}")
