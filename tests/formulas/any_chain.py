"""Chains of every make, for laws that hold for all of them."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from wheelwork.formulas import Chain, Factor, Letter, Link

WHOLE = st.integers(1, 4096).map(Fraction)
BROKEN = st.fractions(Fraction(1, 64), 64, max_denominator=64)
FREQUENCY = st.fractions(1, 10**9, max_denominator=1000)


def factor(letter: Letter, value: Fraction, key: str = "") -> Factor:
    return Factor(letter, value, letter, key)


def of(letter: Letter, values: st.SearchStrategy[Fraction]) -> st.SearchStrategy[Factor]:
    return st.builds(factor, st.just(letter), values)


FACTORS: st.SearchStrategy[tuple[Factor, ...]] = st.one_of(
    st.just(()),
    st.tuples(of("R", WHOLE), of("N", WHOLE)),
    st.tuples(of("R", WHOLE), of("N", WHOLE), of("k", WHOLE), of("m", WHOLE)),
    st.tuples(of("D", BROKEN)),
    st.tuples(of("S", BROKEN)),
)


@st.composite
def any_chain(draw_one: st.DrawFn) -> Chain:
    """Chains of up to four links, every factor a setting of its own."""
    links = []
    for number, factors in enumerate(draw_one(st.lists(FACTORS, max_size=4))):
        keyed = (Factor(f.letter, f.value, f.title, f"{number}.{f.letter}") for f in factors)
        links.append(Link(f"link {number}", tuple(keyed)))
    return Chain("source", draw_one(FREQUENCY), tuple(links))
