"""Links: rates wanted on a plan's loads, held against the part's generators, written and told in words.

The keys of a `[[link]]` beside `name`, `load`, `family` and `chosen` are what is asked; its family reads them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from wheelwork.findings import Problem, Unreadable, name_list, nearest, quote
from wheelwork.links.families import families, standards_of
from wheelwork.links.family import Family, Feed
from wheelwork.links.fields import Fields, Refused
from wheelwork.part.faults import Gatherer
from wheelwork.part.nodes import Load, Part
from wheelwork.part.schema import read_text
from wheelwork.quantities.spans import EXACT

OWN_KEYS = ("name", "load", "family", "chosen")
ANY_FEED = Feed(Fraction(10**9), EXACT)
"""Whether a setting is offered does not hang on the clock; this one stands in until the plan's is reckoned."""


@dataclass(frozen=True, slots=True)
class Link:
    """A wanted rate on a load: what is asked of the family's generator, and the settings chosen (none: the best)."""

    name: str
    load: str
    family: str
    ask: Mapping[str, Any] = field(default_factory=dict)
    chosen: Mapping[str, Any] = field(default_factory=dict)


def hold_links(gatherer: Gatherer, tables: Iterable[Mapping[str, Any]], part: Part) -> tuple[Link, ...]:
    """The links; what the part does not have and what a family cannot read is noted in the gatherer."""
    links: list[Link] = []
    for place, table in enumerate(tables):
        reader = _Reader(gatherer, table, part, f"link.{place}")
        link = reader.read()
        if link.name and link.name in [before.name for before in links]:
            gatherer.fault(f"{reader.where}.name", f"{quote(link.name)} names two links", "give each a name of its own")
        links.append(link)
    return tuple(links)


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads one link's table at its place."""

    gatherer: Gatherer
    table: Mapping[str, Any]
    part: Part
    where: str

    def read(self) -> Link:
        """The link; what is wrong with it is in the gatherer afterwards."""
        chosen = self.table.get("chosen", {})
        if not isinstance(chosen, Mapping):
            self.gatherer.fault(f"{self.where}.chosen", f"{quote(chosen)} is no table", "write { divisor = 4 }")
            chosen = {}
        ask = {key: value for key, value in self.table.items() if key not in OWN_KEYS}
        link = Link(self._text("name"), self._text("load", "serial_port"), self._text("family", "uart"), ask, chosen)
        load, family = self._load(link), self._family(link)
        if load is not None and family is not None and self._has(load, family):
            self._hold(link, family, load.generators[family.name])
        return link

    def _text(self, key: str, example: str = "") -> str:
        """A text; with an example it must be given, and a key misspelt is named."""
        if key not in self.table:
            if example:
                like = nearest(key, (each for each in self.table if each not in OWN_KEYS))
                instead = f" in place of {like}" if like else ""
                self.gatherer.fault(f"{self.where}.{key}", "is missing", f'write {key} = "{example}"{instead}')
            return ""
        try:
            text = read_text(self.table[key])
        except Unreadable as fault:
            self.gatherer.note(fault.at(f"{self.where}.{key}"))
            return ""
        if example and not text:
            self.gatherer.fault(f"{self.where}.{key}", "nothing stands here", f'write {key} = "{example}"')
        return text

    def _load(self, link: Link) -> Load | None:
        loads = {load.id: load for load in self.part.loads}
        if link.load:
            self.gatherer.note_unknown(f"{self.where}.load", [link.load], loads, f"load of {self.part.name}")
        return loads.get(link.load)

    def _family(self, link: Link) -> Family[Any, Any] | None:
        if link.family:
            self.gatherer.note_unknown(f"{self.where}.family", [link.family], families(), "family of links")
        return families().get(link.family)

    def _has(self, load: Load, family: Family[Any, Any]) -> bool:
        """Whether the sheet states such a generator for the load."""
        if family.name in load.generators:
            return True
        own = list(load.generators)
        others = [each.id for each in self.part.loads if family.name in each.generators]
        offers = f"it has {name_list(own)}" if own else "it has none"
        allowed = f"{offers}; {name_list(others)} {'have' if len(others) > 1 else 'has'} one" if others else offers
        self.gatherer.fault(f"{self.where}.family", f"{load.title} has no {family.name} generator", allowed)
        return False

    def _hold(self, link: Link, family: Family[Any, Any], generator: Any) -> None:
        """What the family says of the asking and, where that can be read, of the settings chosen."""
        try:
            asked = family.read_ask(Fields(link.ask, self.where))
            if link.chosen:
                family.settle(ANY_FEED, generator, asked, link.chosen, f"{self.where}.chosen")
        except Refused as refused:
            for problem in refused.problems:
                self.gatherer.note(_at_its_key(problem, self.where))


def _at_its_key(problem: Problem, where: str) -> Problem:
    """A problem of a link; one that a family placed elsewhere is told at the link."""
    return problem if problem.where.startswith(where) else Problem(where, problem.what, problem.allowed)


def write_link(link: Link) -> dict[str, Any]:
    """A link as a table of a plan's `link` list, in which it reads back the same."""
    named = {"name": link.name} if link.name else {}
    chosen = {"chosen": dict(link.chosen)} if link.chosen else {}
    return {**named, "load": link.load, "family": link.family, **link.ask, **chosen}


BARE = ("rate", "standard", "mode", "period", "time_out", "sample_rate")
"""What is asked under these keys says by itself what it is."""


def say_asked(link: Link) -> str:
    """What a link asks, in words: the main thing first, further ones by their key.

    >>> say_asked(Link("", "port", "can", {"sample_point": "87.5 %", "rate": "500 kbit/s"}))
    '500 kbit/s, sample point 87.5 %'
    """
    bare = [_say_bare(link, key) for key in BARE if key in link.ask]
    further = [f"{key.replace('_', ' ')} {value}" for key, value in link.ask.items() if key not in (*BARE, "allowance")]
    return ", ".join([*bare, *further])


def _say_bare(link: Link, key: str) -> str:
    """What is asked under a key; a standard by its title, a mode as such."""
    asked = str(link.ask[key])
    if key == "mode":
        return f"{asked} mode"
    known = standards_of(link.family) if key == "standard" else {}
    return known[asked].title if asked in known else asked
