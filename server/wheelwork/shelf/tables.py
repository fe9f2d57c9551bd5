"""The tables of the shelf: plans and part sheets, each with revisions that are only ever added.

A plan's row repeats what its latest revision says, so that a long shelf is listed from one table. Times are seconds
since 1970, UTC.
"""

from __future__ import annotations

from sqlalchemy import Boolean, Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text

METADATA = MetaData()
LONGEST_ID = 80
LONGEST_NAME = 200

PLANS = Table(
    "plan",
    METADATA,
    Column("id", String(LONGEST_ID), primary_key=True),
    Column("latest", Integer, nullable=False),
    Column("name", String(LONGEST_NAME), nullable=False),
    Column("search", String(LONGEST_NAME * 2), nullable=False),
    Column("part", String(LONGEST_NAME), nullable=False),
    Column("part_name", String(LONGEST_NAME), nullable=False),
    Column("kept_at", Float, nullable=False),
    Column("kept_by", String(LONGEST_NAME), nullable=False),
    Column("legal", Boolean, nullable=False),
    Column("inside", Integer, nullable=False),
    Column("windows", Integer, nullable=False),
    Column("retired_at", Float),
    Index("plan_by_time", "kept_at"),
    Index("plan_by_part", "part"),
)

PLAN_REVISIONS = Table(
    "plan_revision",
    METADATA,
    Column("plan_id", String(LONGEST_ID), ForeignKey("plan.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("text", Text, nullable=False),
    Column("kept_at", Float, nullable=False),
    Column("kept_by", String(LONGEST_NAME), nullable=False),
    Column("part", String(LONGEST_NAME), nullable=False),
    Column("sheet_revision", Integer),
    Column("sheet_hash", String(64), nullable=False),
    Column("legal", Boolean, nullable=False),
    Column("inside", Integer, nullable=False),
    Column("windows", Integer, nullable=False),
    Column("way", Text),
)

SHEETS = Table(
    "sheet",
    METADATA,
    Column("id", String(LONGEST_ID), primary_key=True),
    Column("latest", Integer, nullable=False),
    Column("name", String(LONGEST_NAME), nullable=False),
    Column("kept_at", Float, nullable=False),
    Column("kept_by", String(LONGEST_NAME), nullable=False),
    Column("retired_at", Float),
)

SHEET_REVISIONS = Table(
    "sheet_revision",
    METADATA,
    Column("sheet_id", String(LONGEST_ID), ForeignKey("sheet.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("text", Text, nullable=False),
    Column("hash", String(64), nullable=False),
    Column("kept_at", Float, nullable=False),
    Column("kept_by", String(LONGEST_NAME), nullable=False),
)
