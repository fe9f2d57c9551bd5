"""The one pure call: `judge(part, plan)` says where every clock stands and what is wrong or worth knowing."""

from dataclasses import replace

from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.judge.rates import JudgedLink, judge_links
from wheelwork.judge.remarks import remark
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan

__all__ = ["JudgedLink", "Judgement", "judge"]


def judge(part: Part, plan: Plan) -> Judgement:
    """Judge a plan, with its findings (their mends are `find.mends`'). Every oscillator in use must be fitted."""
    judgement = reckon(part, plan)
    judgement = replace(judgement, links=judge_links(judgement))
    return replace(judgement, findings=tuple(remark(judgement)))
