"""What a load offers for links: read by its family, with every problem at its place in the sheet."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

from wheelwork.part.nodes import Load
from wheelwork.part.reading import read_sheet, read_sheet_json

SHEET = """format = "wheelwork-part/1"
name = "Offering"
core.clock = "rc"
core_voltage.only.volts = "1 V"
oscillator.rc.frequency = "8 MHz"

[load.port]
input = "rc"

[load.port.uart]
oversampling = [8, 16]
divisor = "1..4096"
"""


def test_a_generator_is_what_its_family_reads() -> None:
    part, problems = read_sheet(SHEET)
    assert part is not None, problems
    port = part.nodes["port"]
    assert isinstance(port, Load)
    assert list(port.generators["uart"].oversampling) == [8, 16]
    assert port.generators["uart"].divisor.highest == 4096


def test_a_generator_that_cannot_be_read_is_a_problem_of_the_sheet() -> None:
    text = SHEET.replace('"1..4096"', '"0..4096"').replace("oversampling", "oversamplin")
    part, problems = read_sheet(text)
    assert part is None
    assert [problem.sentence() for problem in problems] == [
        "line 11, load.port.uart.oversamplin: 'oversamplin' is no key here; did you mean oversampling? "
        "oversampling, divisor and fraction_of are",
        "line 12, load.port.uart.divisor: '0..4096' holds 0; a ratio is above 0",
    ]


def test_a_generator_of_no_family_is_told_with_the_nearest() -> None:
    raw: dict[str, Any] = {
        "format": "wheelwork-part/1",
        "name": "Offering",
        "core": {"clock": "rc"},
        "core_voltage": {"only": {"volts": "1 V"}},
        "oscillator": {"rc": {"frequency": "8 MHz"}},
        "load": {"port": {"input": "rc", "uarts": {"divisor": 4}}},
    }
    _, [problem] = read_sheet_json(raw)
    assert problem.sentence() == "load.port.uarts: 'uarts' is no key here; did you mean uart?"


FAMILY = '''"""Hourglasses: one rate, the clock over the grains. A family made for a test."""

from fractions import Fraction

from wheelwork.links.family import Allowance, Choice, Family, LinkAnswer


class Hourglass(Family):
    """Runs at clock / grains."""

    name = "hourglass"
    title = "hourglass"
    rule = "rate = clock / grains"
    sources = ("common practice, no source",)
    rate_unit = "Hz"

    def read_generator(self, fields):
        grains = fields.whole("grains", 1, 1000)
        fields.finish()
        return grains

    def read_ask(self, fields):
        fields.finish()

    def answer(self, feed, generator, ask):
        return LinkAnswer((Choice(settings={"grains": generator}, rate=feed.nominal / generator),), None, "inside")


FAMILY = Hourglass()
'''

USE = """
import sys
from wheelwork import links
links.__path__.append(sys.argv[1])
from wheelwork.app import make_app
from wheelwork.judge import judge
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan
part, problems = read_sheet(sys.argv[2])
assert part is not None, problems
plan, problems = read_plan({"in_use": ["port"], "link": [{"load": "port", "family": "hourglass"}]}, part)
assert plan is not None, problems
print(judge(part, plan).links[0].choice.rate)
make_app()
"""


def test_a_new_family_is_one_module_and_touches_nothing_else(tmp_path: Path) -> None:
    """8 MHz over 500 grains is 16 000 Hz."""
    (tmp_path / "hourglass.py").write_text(FAMILY)
    sheet = SHEET.partition("[load.port.uart]")[0] + "[load.port.hourglass]\ngrains = 500\n"
    command = [sys.executable, "-W", "error", "-c", USE, str(tmp_path), sheet]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (done.stdout, done.stderr) == ("16000\n", "")
