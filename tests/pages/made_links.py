"""Judged links made by hand: a family that tells what the test says, on a clock that the test names."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from wheelwork.clocks.propagate import Clock
from wheelwork.judge.rates import JudgedLink
from wheelwork.links.family import Allowance, Choice, Family, Feed, LinkAnswer, Told, Verdict, errors_of
from wheelwork.links.fields import Fields
from wheelwork.part.nodes import Load
from wheelwork.plan.links import Link
from wheelwork.quantities.spans import Span

PPM = Fraction(1, 10**6)


class MadeFamily(Family[dict[str, Any], dict[str, Any]]):
    """A family of nothing in particular."""

    name = "made"
    title = "made for the test"
    rule = "rate = clock / ratio"
    sources = ("this test",)
    rate_unit = "Hz"

    def read_generator(self, fields: Fields) -> dict[str, Any]:
        return dict(fields.raw)

    def read_ask(self, fields: Fields) -> dict[str, Any]:
        return dict(fields.raw)

    def answer(self, feed: Feed, generator: dict[str, Any], ask: dict[str, Any]) -> LinkAnswer:
        raise NotImplementedError


def made(
    *choices: Choice,
    allowance: Allowance | None,
    clock: int = 29_000_000,
    ppm: int = 30,
    family: MadeFamily | None = None,
    ask: dict[str, Any] | None = None,
) -> JudgedLink:
    """A link with these choices, on a clock with its tolerance."""
    verdict: Verdict = choices[0].verdict if choices else "none fits"
    return JudgedLink(
        place=0,
        link=Link("Made", "load", "made", ask or {}),
        title="Made",
        load=Load(id="load", title="Load", input="core", generators={"made": {}}),
        family=family or MadeFamily(),
        node="core",
        clock=Clock(Fraction(clock), Span(-ppm * PPM, ppm * PPM), "crystal"),
        wanted="something",
        answer=LinkAnswer(choices, allowance, verdict),
    )


A_MILLISECOND = {"period": "1 ms"}


def chosen_time(ratio: int, time: Fraction, wanted: Fraction, verdict: Verdict = "inside", ppm: int = 30) -> Choice:
    """A choice for a link that asks for a time: its rate is one over it, its error that of the time."""
    low, high = time / (1 - ppm * PPM), time / (1 + ppm * PPM)
    return Choice(
        settings={"ratio": ratio},
        rate=1 / time,
        error=time / wanted - 1,
        error_lowest=low / wanted - 1,
        error_highest=high / wanted - 1,
        verdict=verdict,
    )


def chosen(
    ratio: int | Fraction, rate: Fraction, wanted: Fraction, verdict: Verdict = "inside", ppm: int = 30, **told: Told
) -> Choice:
    """A choice with its errors, the clock to either side of its tolerance."""
    error, low, high = errors_of(rate, wanted, Span(-ppm * PPM, ppm * PPM))
    return Choice(
        settings={"ratio": ratio},
        rate=rate,
        error=error,
        error_lowest=low,
        error_highest=high,
        verdict=verdict,
        told=told,
    )
