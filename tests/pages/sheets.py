"""A small part sheet for the tests of the page's rooms, and plans on it."""

from __future__ import annotations

from functools import cache
from typing import Any

from wheelwork.judge import Judgement, judge
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan

SHEET = """
format = "wheelwork-part/1"
name = "Dipper 40"
revision = "2"

[supply]
lowest = "1.8 V"
highest = "3.6 V"

[core]
clock = "core"

[core_voltage.full]
volts = "1.2 V"
flash = [ { up_to = "20 MHz", wait_states = 0 }, { up_to = "40 MHz", wait_states = 1 } ]

[core_voltage.low]
volts = "1 V"
flash = [ { up_to = "10 MHz", wait_states = 0 } ]

[oscillator.rc]
title = "RC oscillator"
kind = "rc"
frequency = "8 MHz"
tolerance = "±2 %"

[oscillator.crystal]
title = "Crystal oscillator"
kind = "crystal"
frequency = "4 MHz .. 16 MHz"

[selector.reference]
title = "Reference"
inputs = ["rc", "crystal"]

[pll.main]
title = "Main PLL"
input = "reference"
reference_divider = "1..4"
feedback = "8..40"
vco = "64 MHz .. 160 MHz"
see = "page 9, row 2"

[divider.tap]
title = "PLL tap"
input = "main"
ratios = [2, 3, 4, 6, 8, 12, 16, 24, 32]

[selector.source]
title = "Core source"
inputs = ["rc", "crystal", "tap"]

[divider.core]
title = "Core clock"
input = "source"
ratios = [1, 2, 4]
limits = "up to 40 MHz"
limits_at.low = "up to 10 MHz"

[divider.bus]
title = "Bus"
input = "core"
ratios = "1..8"
limits = "2 MHz .. 20 MHz"

[scaler.half]
title = "Half clock"
input = "bus"
divide = 2

[load.processor]
title = "Processor"
input = "core"

[divider.port_clock]
title = "Port clock"
input = "bus"
ratios = [1, 2]

[load.port]
title = "Port"
input = "port_clock"

[load.counter]
title = "Counter"
input = "half"
"""


@cache
def dipper() -> Part:
    """The part of the sheet."""
    part, problems = read_sheet(SHEET)
    assert part is not None, problems
    return part


def plan_of(**changes: Any) -> Plan:
    """A plan on the part: core from the RC oscillator, processor in use, and what is changed."""
    raw = {"part": "dipper-40", "core_voltage": "full", "in_use": ["processor"], **changes}
    plan, problems = read_plan(raw, dipper())
    assert plan is not None, problems
    return plan


def judged(**changes: Any) -> Judgement:
    """The judgement of such a plan."""
    return judge(dipper(), plan_of(**changes))
