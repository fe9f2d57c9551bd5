"""The report: every line of it reckoned again by hand, and its Markdown read by a reader that is not ours."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token

from tests.demo import PLANS, load_demo
from wheelwork.handover.forms import Wish, forms
from wheelwork.handover.markdown import write_markdown
from wheelwork.handover.report import Bullets, Chapter, Facts, Report, Table, write_report
from wheelwork.judge import judge

UNITS = {"Hz": 1, "kHz": 10**3, "MHz": 10**6, "GHz": 10**9}
NAMES = [path.stem for path in PLANS]
READER = MarkdownIt("commonmark").enable("table")
CHAPTERS = [
    "The job",
    "Findings",
    "Oscillators",
    "Clocks",
    "Core voltage and flash",
    "Charge",
    "Measuring on the board",
    "Cautions",
]


def chapter_of(report: Report, title: str) -> Chapter:
    return next(chapter for chapter in report.chapters if chapter.title == title)


def table_of(report: Report, title: str) -> Table:
    return next(block for block in chapter_of(report, title).blocks if isinstance(block, Table))


def frequency(text: str) -> Fraction:
    number, unit = text.replace("\u00a0", " ").split(" ")
    return Fraction(number) * UNITS[unit]


def reckoned(line: str) -> tuple[Fraction, Fraction]:
    """Both sides of `8 MHz / 1 × 29 / 4 = 58 MHz`, reckoned from left to right; the last side is the exact one."""
    first, *sides = line.replace("\u00a0", " ").split(" = ")
    words = re.sub(r"\((\S+) \+ (\S+)\)", r"(\1+\2)", first).split(" ")
    value = frequency(" ".join(words[:2]))
    for sign, number in zip(words[2::2], words[3::2], strict=True):
        factor = sum((Fraction(each) for each in number.strip("()").split("+")), Fraction(0))
        value = value / factor if sign == "/" else value * factor
    return value, frequency(sides[-1]) if sides else value


@pytest.mark.parametrize("name", NAMES)
def test_every_clock_can_be_followed_from_its_oscillator(name: str) -> None:
    part, plan = load_demo(name)
    judgement = judge(part, plan)
    rows = table_of(write_report(judgement), "Clocks").rows
    told = {row[1]: reckoned(row[3]) for row in rows}
    for left, right in told.values():
        assert left == right
    for node in part.nodes.values():
        title = f"{node.title}, feedback multiplier" if node.kind == "pll" else node.title
        if node.id in judgement.clocks and title in told:
            assert told[title][1] == judgement.clocks[node.id].nominal
    assert len(told) == len(rows)


@pytest.mark.parametrize("name", NAMES)
def test_a_counter_reads_between_the_ends_of_the_tolerance(name: str) -> None:
    judgement = judge(*load_demo(name))
    for row in table_of(write_report(judgement), "Measuring on the board").rows:
        lowest, highest = (int(re.sub(r"\D", "", cell.removesuffix("Hz"))) for cell in row[4:])
        ends = [(each.lowest, each.highest) for each in judgement.clocks.values()]
        ends += [(each.clock.lowest, each.clock.highest) for each in judgement.phase_detectors.values() if each.clock]
        assert any(0 <= low - lowest < 1 and 0 <= highest - high < 1 for low, high in ends)


@pytest.mark.parametrize("name", NAMES)
def test_a_report_has_its_chapters_and_says_what_is_outside(name: str) -> None:
    judgement = judge(*load_demo(name))
    report = write_report(judgement)
    assert [chapter.title for chapter in report.chapters if chapter.title != "Links"] == CHAPTERS
    text = write_markdown(report)
    loud = table_of(report, "Clocks").loud
    assert len(loud) == sum(judged.outside for judged in judgement.windows)
    for finding in judgement.findings:
        assert any(finding.what in line for line in bullets(report, "Findings"))
    assert text == write_markdown(write_report(judge(*load_demo(name))))


def bullets(report: Report, title: str) -> list[str]:
    return [line for block in chapter_of(report, title).blocks if isinstance(block, Bullets) for line in block.lines]


def spaced(text: str) -> str:
    """A text with plain spaces."""
    return " ".join(text.split())


def texts(tokens: list[Token]) -> list[str]:
    """What a reader sees of each line."""
    inline = [token.children or [] for token in tokens if token.type == "inline"]
    return ["".join(child.content for child in children) for children in inline]


@pytest.mark.parametrize("name", NAMES)
def test_markdown_is_read_as_it_was_meant(name: str) -> None:
    """Read by markdown-it-py, which follows CommonMark 0.31 and knows GitHub's tables."""
    report = write_report(judge(*load_demo(name)))
    tokens = READER.parse(write_markdown(report))
    seen = texts(tokens)
    for chapter in report.chapters:
        for block in chapter.blocks:
            if isinstance(block, Table):
                cells = [spaced(cell) for row in (block.head, *block.rows) for cell in row]
                assert cells in [seen[place : place + len(cells)] for place in range(len(seen))]
            elif isinstance(block, Bullets):
                assert all(spaced(line) in seen for line in block.lines)
            elif isinstance(block, Facts):
                assert all(spaced(f"{label}: {text}") in seen for label, text in block.pairs)
            else:
                assert spaced(block) in seen


@given(st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=60))
def test_a_title_marks_nothing_up(title: str) -> None:
    """Whatever a title holds, it stays text: no emphasis, link, code, markup or cell comes of it."""
    table = Table(("a", "b"), ((title, "next"),))
    report = Report(title, (Chapter(title, (title, Bullets((title,)), Facts(((title, title),)), table)),))
    tokens = READER.parse(write_markdown(report))
    kinds = {child.type for token in tokens for child in token.children or []}
    assert kinds <= {"text", "text_special", "strong_open", "strong_close", "softbreak"}
    assert {token.type for token in tokens} <= {
        f"{kind}_{end}"
        for kind in ("heading", "paragraph", "bullet_list", "list_item", "table", "thead", "tbody", "tr", "th", "td")
        for end in ("open", "close")
    } | {"inline"}
    assert sum(token.type == "td_open" for token in tokens) == 2


def test_a_plan_from_the_shelf_says_which_revision_it_was_opened_as() -> None:
    part, plan = load_demo(NAMES[0])
    judgement = judge(part, replace(plan, kept="skerry-3/7"))
    assert "skerry-3, revision 7 of the shelf" in write_markdown(write_report(judgement)).replace("\\", "")
    assert "Kept as skerry-3, revision 7." in forms()["c"].write(judgement, Wish())
