"""Names of constants: prefixes taken and refused, texts made names, and no name twice."""

from __future__ import annotations

import re
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.compilers import RUST, C, run_tool
from wheelwork.findings import Unreadable
from wheelwork.handover.names import KEYWORDS, LONGEST_PREFIX, Names, read_prefix, slug

REFUSED = {
    "": "nothing stands here",
    "1st_": "starts with a digit",
    "_Clock": "starts with _",
    "__": "starts with _",
    "a__b": "C++ keeps such names",
    "int": "is a keyword",
    "fn": "is a keyword",
    "co_await": "is a keyword",
    "PLAN-": "holds something else",
    "PLAN ": "holds something else",
    "PLÄN_": "holds something else",
    "P\n": "holds something else",
    "x" * (LONGEST_PREFIX + 1): "is too long",
    "x" * 10_000: "is too long",
}


@pytest.mark.parametrize("prefix", ["PLAN_", "clock", "A", "Board3_", "x" * LONGEST_PREFIX, "integer", "fn_"])
def test_a_prefix_that_makes_names_is_taken(prefix: str) -> None:
    assert read_prefix(prefix) == prefix


@pytest.mark.parametrize(("prefix", "said"), REFUSED.items(), ids=lambda text: str(text)[:12])
def test_a_prefix_that_makes_none_is_refused_with_what_is_allowed(prefix: str, said: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read_prefix(prefix)
    assert said in refused.value.what
    assert re.search(r"PLAN_|_ in its place", refused.value.allowed)
    assert len(refused.value.what) < 150


def is_no_name(word: str, language: str) -> bool:
    """Whether a word is no name in a language, as its compiler has it."""
    if language == "Rust":
        with TemporaryDirectory() as folder:  # for root, rustc puts a file in the place of /dev/null
            line = (*RUST[:-2], "-A", "warnings", "--crate-name", "word", "--out-dir", folder)
            return run_tool(*line, "-", given=f"pub fn {word}() {{}}\n")[0] != 0
    return run_tool(*C[language], "-", given=f"extern int {word};\n")[0] != 0


@pytest.mark.parametrize(
    ("word", "language"),
    [
        *((word, "C17") for word in ("int", "typedef", "inline", "restrict", "switch")),
        *((word, "C++17") for word in ("class", "and_eq", "thread_local", "static_assert", "nullptr")),
        *((word, "Rust") for word in ("fn", "crate", "dyn", "abstract", "Self")),
    ],
)
def test_a_word_that_a_compiler_keeps_for_itself_is_refused(word: str, language: str) -> None:
    assert is_no_name(word, language)
    assert not is_no_name(f"{word}_", language)
    assert KEYWORDS.fullmatch(word)


@given(st.text(max_size=300))
def test_any_text_becomes_a_name(text: str) -> None:
    assert re.fullmatch(r"[A-Z0-9]+(_[A-Z0-9]+)*", slug(text, "NONE"))
    assert len(slug(text, "NONE")) <= 40


@given(st.lists(st.sampled_from(["A", "A_2", "A_2_2", "A_3", "B"]), max_size=12))
def test_no_name_is_given_twice(wanted: list[str]) -> None:
    names, again = Names(), Names()
    given_names = [names.take(each) for each in wanted]
    assert len(set(given_names)) == len(wanted)
    assert given_names == [again.take(each) for each in wanted]
