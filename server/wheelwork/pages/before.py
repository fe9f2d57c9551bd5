"""The plans that stood on a page before, as their addresses in one field: what can be taken back, step by step."""

from __future__ import annotations

from wheelwork.plan.permalink import LONGEST

MOST_STEPS = 20


def put_before(before: str, link: str) -> str:
    """The earlier plans with one more; the oldest give way where there are too many, or too long ones.

    >>> put_before("1.first 1.second", "1.third")
    '1.first 1.second 1.third'
    """
    links = [*before.split(), link][-MOST_STEPS:]
    while links and sum(map(len, links)) + len(links) > LONGEST:
        del links[0]
    return " ".join(links)


def take_before(before: str) -> tuple[str, str]:
    """The plan that stood last, and what stood before it; nothing where there is none.

    >>> take_before("1.first 1.second"), take_before("")
    (('1.second', '1.first'), ('', ''))
    """
    *earlier, last = before.split() or [""]
    return last, " ".join(earlier)
