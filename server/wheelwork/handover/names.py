"""Names of constants: valid in C, C++ and Rust whatever ids, titles and link names there are, each name once.

A constant is called prefix + the node's id in capitals + what it is: `PLAN_MAIN_CORE_HZ`. Sources: ISO/IEC 9899:1999,
6.4.1, 6.4.2 and 7.1.3 (keywords, identifiers, reserved ones); ISO/IEC 14882:2017, [lex.key] and [lex.name]; The Rust
Reference, chapters Keywords and Identifiers.
"""

from __future__ import annotations

import re
import unicodedata

from wheelwork.findings import Unreadable, quote

PREFIX = "PLAN_"
LONGEST_PREFIX = 40
LONGEST_SLUG = 40
EXAMPLE = f"write letters, digits and _ with a letter first, such as {PREFIX} or CLOCK_"

_WORD = re.compile(r"[A-Za-z0-9_]+", re.ASCII)
_OTHER = re.compile(r"[^A-Za-z0-9]+", re.ASCII)
KEYWORDS = re.compile(
    r"abstract|alignas|alignof|and|and_eq|as|asm|async|auto|await|become|bitand|bitor|bool|box|break|"
    r"case|catch|char|char16_t|char32_t|char8_t|class|co_await|co_return|co_yield|compl|"
    r"concept|const|const_cast|consteval|constexpr|constinit|continue|crate|decltype|default|"
    r"delete|do|double|dyn|dynamic_cast|else|enum|explicit|export|extern|false|final|float|"
    r"fn|for|friend|goto|if|impl|in|inline|int|let|long|loop|macro|match|mod|module|move|"
    r"mut|mutable|namespace|new|noexcept|not|not_eq|nullptr|operator|or|or_eq|override|priv|"
    r"private|protected|pub|public|ref|register|reinterpret_cast|requires|restrict|return|self|"
    r"short|signed|sizeof|static|static_assert|static_cast|struct|super|switch|template|this|"
    r"thread_local|throw|trait|true|try|type|typedef|typeid|typename|typeof|typeof_unqual|"
    r"union|unsafe|unsigned|unsized|use|using|virtual|void|volatile|wchar_t|where|while|xor|"
    r"xor_eq|yield|Self"
)
"""Words that C, C++ or Rust keep for themselves (C's with a leading underscore are refused as reserved)."""


def read_prefix(given: str) -> str:
    """A prefix for names of constants. Raises Unreadable for one that would make names no compiler takes.

    >>> read_prefix("CLOCK_")
    'CLOCK_'
    """
    if not given:
        raise Unreadable("nothing stands here", EXAMPLE)
    if len(given) > LONGEST_PREFIX:
        raise Unreadable(f"{quote(given)} is too long", f"at most {LONGEST_PREFIX} characters, such as {PREFIX}")
    if _WORD.fullmatch(given) is None:
        raise Unreadable(f"{quote(given)} holds something else than letters, digits and _", EXAMPLE)
    if given[0].isdigit():
        raise Unreadable(f"{quote(given)} starts with a digit, and no name in C, C++ or Rust may", EXAMPLE)
    if given[0] == "_":
        raise Unreadable(f"{quote(given)} starts with _, and such names are the compiler's own", EXAMPLE)
    if "__" in given:
        raise Unreadable(f"{quote(given)} holds __, and C++ keeps such names for itself", EXAMPLE)
    if KEYWORDS.fullmatch(given):
        raise Unreadable(f"{quote(given)} is a keyword of C, C++ or Rust", f"write {given.upper()}_ in its place")
    return given


def slug(text: str, otherwise: str) -> str:
    """A text as capitals, digits and single underscores; what has none of these becomes `otherwise`.

    >>> slug("Tide sensor (±2 %)", "LINK"), slug("Prüfstand", "LINK"), slug("潮", "LINK")
    ('TIDE_SENSOR_2', 'PRUFSTAND', 'LINK')
    """
    letters = unicodedata.normalize("NFKD", text[:400])
    plain = "".join(sign for sign in letters if not unicodedata.combining(sign))
    return _OTHER.sub("_", plain)[: LONGEST_SLUG + 1].strip("_")[:LONGEST_SLUG].strip("_").upper() or otherwise


class Names:
    """Gives each name once: one that is taken is told apart by `_2`, `_3` and so on, in the order of asking."""

    def __init__(self, join: str = "_") -> None:
        self._join = join
        self._taken: set[str] = set()

    def take(self, wanted: str) -> str:
        """The name, or the first free one made of it.

        >>> names = Names()
        >>> names.take("LINK_CONSOLE"), names.take("LINK_CONSOLE")
        ('LINK_CONSOLE', 'LINK_CONSOLE_2')
        """
        name, number = wanted, 1
        while name in self._taken:
            number += 1
            name = f"{wanted}{self._join}{number}"
        self._taken.add(name)
        return name
