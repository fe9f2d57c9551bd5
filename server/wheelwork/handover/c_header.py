"""The C header: C99 and later, C++11 and later, also for a bare target; nothing is included and nothing is linked.

Checks are `_Static_assert` (ISO/IEC 9899:2011, 6.7.10), `static_assert` (ISO/IEC 14882:2011, clause 7) or, in C99, a
type of an array that would have a negative size where the check fails (6.7.5.2). Constants above 32 bits have the
suffix ULL (6.4.4.1).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from wheelwork.handover.constants import Check, Constant
from wheelwork.handover.forms import Form, Wish
from wheelwork.handover.listing import Dialect, joined, list_all, list_blocks, list_checks, list_head
from wheelwork.handover.names import slug
from wheelwork.handover.safe import WIDTH
from wheelwork.handover.values import take_values
from wheelwork.judge import Judgement

LARGEST_PLAIN = 2**32 - 1
_DEFINED = re.compile(r"^#define[ \t]+(\w+)[ \t]+(\d+)(?:u|ULL)\b", re.M | re.ASCII)


class C(Dialect):
    """C and C++."""

    def comment(self, lines: list[str]) -> Iterable[str]:
        """A comment of some lines."""
        last = len(lines) - 1
        return [f"{'   ' if n else '/* '}{line}{' */' if n == last else ''}" for n, line in enumerate(lines)]

    def remark(self, text: str) -> str:
        """A comment at the end of a line."""
        return f"/* {text} */"

    def constant(self, constant: Constant, width: int) -> str:
        """A macro."""
        return f"#define {self.name(constant.name):<{width}} {self.number(constant.value):>14}"

    def check(self, check: Check, conditions: list[str]) -> Iterable[str]:
        """A check by the macro that stands above them."""
        says = check.says.replace(check.name, self.name(check.name), 1)
        holds = joined(conditions, WIDTH - len(check.name))
        gap = "" if holds.startswith("\n") else " "
        return [f"{self.prefix}CHECK({check.name},{gap}{holds},", f'    "{says}");']

    def number(self, value: int, wide: bool = False) -> str:
        """A number without sign."""
        return f"{value}{'ULL' if wide or value > LARGEST_PLAIN else 'u'}"

    def wide(self, name: str, first: bool = True) -> str:
        """A macro; the first of a product makes it one of 64 bits."""
        return f"1ULL * {self.name(name)}" if first else self.name(name)


def _write(judgement: Judgement, wish: Wish) -> str:
    handed, dialect = take_values(judgement), C(wish.prefix)
    guard = f"{wish.prefix}{slug(judgement.plan.name, 'PLAN')}_CLOCKS_H"
    return list_all(
        list_head(handed, dialect),
        [f"#ifndef {guard}", f"#define {guard}"],
        list_blocks(handed, dialect, wish.reasons),
        ["", *dialect.comment(["Checked when compiled: each frequency again from what feeds it, in whole numbers."])],
        _check_macro(wish.prefix),
        list_checks(handed, dialect),
        [f"#undef {wish.prefix}CHECK", "", "#endif"],
    )


def _check_macro(prefix: str) -> list[str]:
    """What a check is in each language."""
    return [
        "#if defined(__cplusplus) && __cplusplus >= 201103L",
        f"#define {prefix}CHECK(name, holds, says) static_assert(holds, says)",
        "#elif !defined(__cplusplus) && defined(__STDC_VERSION__) && __STDC_VERSION__ >= 201112L",
        f"#define {prefix}CHECK(name, holds, says) _Static_assert(holds, says)",
        "#else",
        f"#define {prefix}CHECK(name, holds, says) typedef char {prefix}check_##name[(holds) ? 1 : -1]",
        "#endif",
    ]


def read_constants(text: str) -> dict[str, str]:
    """The constants of a header by their names."""
    return dict(_DEFINED.findall(text))


FORM = Form(
    name="c",
    title="C header",
    about="every setting as a constant, checked when it is compiled",
    media_type="text/x-c; charset=utf-8",
    ending="h",
    place=10,
    write=_write,
    named=True,
    reasoned=True,
    read_constants=read_constants,
)
