"""What the shelf's calls take and give, as the OpenAPI text describes it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from wheelwork.api.described import Answer, RawPlan, RawSheet, ToldProblem

Time = Annotated[str, Field(description="RFC 3339, UTC.", pattern=r"^\d{4,}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")]


class KeepBody(BaseModel):
    """A plan to keep, and who keeps it; perhaps a whole sheet in place of a stored part."""

    model_config = ConfigDict(extra="forbid")

    plan: RawPlan = Field(examples=[{"name": "Skerry 3", "part": "turnstone-58", "in_use": ["processor"]}])
    part: RawSheet | None = None
    kept_by: str = Field(default="", max_length=200, examples=["bench 2"])


class NewRevision(Answer):
    """Which plan was kept, and as which revision."""

    id: str
    revision: int = Field(ge=1)


class PlanEntry(Answer):
    """A kept plan, as its latest revision says."""

    id: str
    name: str
    part: str
    revision: int = Field(ge=1)
    kept_at: Time
    kept_by: str
    legal: bool
    retired: bool


class Kept(Answer):
    """A revision without its text.

    `sheet_revision` is that of the part sheet it was judged with, null for a sheet that is none of the shelf's;
    `sheet_hash` the sha-256 of the sheet.
    """

    id: str
    revision: int = Field(ge=1)
    kept_at: Time
    kept_by: str
    legal: bool
    sheet_revision: int | None
    sheet_hash: str


class KeptPlan(Kept):
    """A revision with the plan as it was kept."""

    plan: dict[str, Any]


class Differing(Answer):
    """A place in which two plans differ, with what stands there in each; null: nothing does."""

    where: str
    from_: Any = Field(alias="from")
    to: Any


class Differences(Answer):
    """Two plans beside each other: what differs, and how many places are the same."""

    differs: list[Differing]
    same: int = Field(ge=0)


class Overtaken(Answer):
    """Another revision was kept meanwhile: your plan, theirs, and what differs from theirs to yours."""

    problems: list[ToldProblem] = Field(min_length=1)
    yours: dict[str, Any]
    theirs: dict[str, Any]
    difference: Differences
