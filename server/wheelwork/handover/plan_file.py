"""The plan as its file: the TOML that `wheelwork check` and `wheelwork header` read, and that reads back the same.

Each setting that matters is written out, also where it is the value after reset: the file then says the same whatever
becomes of the sheet, and the same whether the plan came from a file or from an address.
"""

from __future__ import annotations

from dataclasses import replace

from wheelwork.handover.forms import Form, Wish
from wheelwork.judge import Judgement
from wheelwork.part.writing import write_toml
from wheelwork.plan.plan import Plan
from wheelwork.plan.writing import write_plan


def settled(judgement: Judgement) -> Plan:
    """The plan with every setting on which something hangs, in the sheet's order: what matters, what is no reset."""
    part, plan, matter = judgement.part, judgement.plan, set(judgement.way.order)
    settings = {
        key: judgement.settings[key]
        for key, reset in part.resets.items()
        if judgement.settings[key] != reset or key.partition(".")[0] in matter
    }
    fitted = {name: plan.fitted[name] for name in part.nodes if name in plan.fitted}
    return replace(plan, settings=settings, fitted=fitted)


def _write(judgement: Judgement, wish: Wish) -> str:
    return write_toml(write_plan(settled(judgement), judgement.part))


FORM = Form(
    name="toml",
    title="Plan file",
    about="the plan itself, to keep beside the firmware and to read back",
    media_type="application/toml; charset=utf-8",
    ending="toml",
    place=70,
    write=_write,
)
