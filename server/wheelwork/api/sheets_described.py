"""What the calls for part sheets take and give, as the OpenAPI text describes it."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from wheelwork.api.described import Answer, RawSheet, ToldProblem
from wheelwork.api.kept_described import Differences, NewRevision, Time


class ReviseBody(BaseModel):
    """A part sheet to keep, as TOML (`sheet`) or as JSON (`part`), and who keeps it."""

    model_config = ConfigDict(extra="forbid")

    sheet: str | None = Field(default=None, examples=['format = "wheelwork-part/1"\nname = "Buoy 16"\n'])
    part: RawSheet | None = None
    kept_by: str = Field(default="", max_length=200, examples=["bench 2"])


class PutInBody(ReviseBody):
    """A part sheet to keep as the first revision of an id, by default one made of its name.

    An id under which a sheet lies in a file of the server is refused unless `instead_of_file` says that the shelf's is
    to go before the file's.
    """

    id: str = Field(default="", max_length=200, examples=["buoy-16"])
    instead_of_file: bool = False


class NewSheet(NewRevision):
    """Which sheet was kept, and as which revision; whether it now goes before one that lies in a file."""

    instead_of_file: bool


class SheetEntry(Answer):
    """A part sheet of the shelf, as its latest revision says."""

    id: str
    name: str
    revision: int = Field(ge=1)
    kept_at: Time
    kept_by: str
    retired: bool


class KeptSheet(Answer):
    """A revision without its text; `hash` is the sha-256 of its values, whatever its text looks like."""

    id: str
    revision: int = Field(ge=1)
    kept_at: Time
    kept_by: str
    hash: str


class OpenedSheet(KeptSheet):
    """A revision as TOML (`sheet`) and as JSON (`part`)."""

    sheet: str
    part: dict[str, Any]


class OvertakenSheet(Answer):
    """Another revision was kept meanwhile: your sheet, theirs, and what differs from theirs to yours."""

    problems: list[ToldProblem] = Field(min_length=1)
    yours: dict[str, Any]
    theirs: dict[str, Any]
    difference: Differences


class ToldStand(Answer):
    """How a plan stands; one that cannot be read is not legal and has problems."""

    legal: bool
    inside: int = Field(ge=0)
    windows: int = Field(ge=0)
    problems: list[ToldProblem]


class ToldChange(Answer):
    """A kept plan that stands otherwise.

    `before` is how it stood when it was kept, judged with `sheet_revision` (null: with none of the shelf's).
    """

    id: str
    name: str
    revision: int = Field(ge=1)
    sheet_revision: int | None
    before: ToldStand
    after: ToldStand


class Verdicts(Answer):
    """The kept plans on a sheet that stand otherwise with a revision of it.

    `not_looked_at` counts those that the time did not suffice for: ask for them with `skip`.
    """

    id: str
    revision: int = Field(ge=1)
    looked_at: int = Field(ge=0)
    not_looked_at: int = Field(ge=0)
    changes: list[ToldChange]
