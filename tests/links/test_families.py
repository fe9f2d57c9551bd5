from __future__ import annotations

import doctest
import importlib
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from wheelwork import links
from wheelwork.links.families import answer_link, families, standards_of
from wheelwork.links.family import Allowance, Family, Feed, used_share, verdict_of
from wheelwork.links.fields import Refused
from wheelwork.quantities.spans import EXACT

TIDE = '''"""Tide bells: strokes an hour = clock / ratio. Made for a test."""
from fractions import Fraction

from wheelwork.links.allowances import within
from wheelwork.links.family import Choice, Family, LinkAnswer, best_verdict, errors_of, verdict_of
from wheelwork.links.standards import Standard, take_rate, take_standard

STANDARDS = (Standard(name="harbour", family="tide", title="Harbour bell", rate=Fraction(60), line="once a minute"),)


class Tide(Family):
    name, title, rule, rate_unit = "tide", "tide bells", "rate = clock / ratio", "Bd"
    sources = ("made for a test",)

    def read_generator(self, fields):
        ratio = fields.counts("ratio")
        fields.finish()
        return ratio

    def read_ask(self, fields):
        rate = take_rate(fields, take_standard(fields, STANDARDS))
        fields.finish()
        return rate

    def answer(self, feed, generator, ask):
        allowance = within("1", "made for a test")
        made = []
        for ratio in generator:
            errors = errors_of(feed.nominal / ratio, ask, feed.tolerance)
            made.append(Choice(settings={"ratio": int(ratio)}, rate=feed.nominal / ratio, error=errors[0],
                               verdict=verdict_of(*errors, allowance)))
        made.sort(key=lambda choice: abs(choice.error))
        return LinkAnswer(tuple(made), allowance, best_verdict(made))


FAMILY = Tide()
'''


@pytest.fixture
def with_tide(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A family in a module of its own, in a folder beside those that the package walks."""
    (tmp_path / "tide.py").write_text(TIDE, encoding="utf-8")
    monkeypatch.setattr(links, "__path__", [*links.__path__, str(tmp_path)])
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    families.cache_clear()
    standards_of.cache_clear()
    yield
    sys.modules.pop("wheelwork.links.tide", None)
    vars(links).pop("tide", None)
    families.cache_clear()
    standards_of.cache_clear()


@pytest.mark.usefixtures("with_tide")
def test_a_new_family_is_found_and_answers_without_being_named_anywhere() -> None:
    tide = families()["tide"]
    answer, _ = answer_link(tide, Feed(Fraction(3600), EXACT), {"ratio": [59, 60]}, {"standard": "harbour"})
    assert [choice.settings["ratio"] for choice in answer.choices] == [60, 59]
    assert answer.verdict == "inside"
    assert list(standards_of("tide")) == ["harbour"]


def test_the_family_made_for_the_test_is_gone_again() -> None:
    assert "tide" not in families()


def test_problems_of_generator_and_asking_are_told_together() -> None:
    with pytest.raises(Refused) as refused:
        answer_link(families()["uart"], Feed(Fraction(1), EXACT), {"divisor": []}, {"rate": "0 Bd"})
    assert [problem.where for problem in refused.value.problems] == ["generator.divisor", "ask.rate"]


EVERY = [pytest.param(name, family, id=name) for name, family in families().items()]


@pytest.mark.parametrize(("name", "family"), EVERY)
def test_a_family_has_its_title_rule_sources_and_unit(name: str, family: Family[Any, Any]) -> None:
    assert name == family.name
    assert family.title
    assert "=" in family.rule or "≤" in family.rule or "≥" in family.rule
    assert family.sources
    assert all(family.sources)
    assert family.rate_unit


@pytest.mark.parametrize(("name", "family"), EVERY)
def test_a_family_tells_a_worked_value_that_is_reckoned_again(name: str, family: Family[Any, Any]) -> None:
    """A module's own docstring has a doctest, and it is run here."""
    module = importlib.import_module(type(family).__module__)
    tests = doctest.DocTestFinder(recurse=False).find(module)
    examples = [example for test in tests for example in test.examples]
    assert [example for example in examples if example.want], f"{module.__name__} shows no worked value"
    assert "worked value" in (module.__doc__ or "").lower()
    assert doctest.DocTestRunner(verbose=False).run(tests[0]).failed == 0


@pytest.mark.parametrize(("name", "family"), EVERY)
def test_a_familys_standards_are_known_by_their_names(name: str, family: Family[Any, Any]) -> None:
    known = standards_of(name)
    assert sorted(known) == sorted(family.standards)
    assert all(standard.title and standard.line for standard in known.values())
    assert all(standard.allowance.source for standard in known.values() if standard.allowance)


SIDES = Allowance(Fraction(-1, 100), Fraction(1, 50), "hand-made")


@pytest.mark.parametrize(
    ("lowest", "error", "highest", "verdict"),
    [
        ("-0.01", "0", "0.02", "inside"),  # the edges belong to it
        ("0.01", "0.02", "0.03", "tight"),
        ("-0.02", "-0.01", "0", "tight"),
        ("0", "0.0201", "0.03", "over"),
        ("-0.02", "-0.0101", "0", "under"),
    ],
)
def test_the_edges_of_an_allowance_belong_to_it(lowest: str, error: str, highest: str, verdict: str) -> None:
    assert verdict_of(Fraction(error), Fraction(lowest), Fraction(highest), SIDES) == verdict


def test_no_allowance_is_never_left_and_an_open_side_never_passed() -> None:
    high, low = Fraction(10), Fraction(-1, 2)
    assert verdict_of(high, low, high, None) == "inside"
    assert verdict_of(high, low, high, Allowance(Fraction(-1, 2), None, "")) == "inside"
    assert verdict_of(low, low, high, Allowance(None, Fraction(0), "")) == "tight"


@pytest.mark.parametrize(
    ("error", "share"), [("0.01", "1/2"), ("0.02", "1"), ("-0.005", "-1/2"), ("-0.02", "-2"), ("0", "0")]
)
def test_a_share_is_of_the_side_that_the_error_is_on(error: str, share: str) -> None:
    assert used_share(Fraction(error), SIDES) == Fraction(share)
