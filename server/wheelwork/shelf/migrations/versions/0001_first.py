"""The first tables: plans and part sheets with their revisions."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make all tables."""
    op.create_table(
        "plan",
        sa.Column("id", sa.String(80), primary_key=True),
        sa.Column("latest", sa.Integer, nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("search", sa.String(400), nullable=False),
        sa.Column("part", sa.String(200), nullable=False),
        sa.Column("part_name", sa.String(200), nullable=False),
        sa.Column("kept_at", sa.Float, nullable=False),
        sa.Column("kept_by", sa.String(200), nullable=False),
        sa.Column("legal", sa.Boolean, nullable=False),
        sa.Column("inside", sa.Integer, nullable=False),
        sa.Column("windows", sa.Integer, nullable=False),
        sa.Column("retired_at", sa.Float),
    )
    op.create_index("plan_by_time", "plan", ["kept_at"])
    op.create_index("plan_by_part", "plan", ["part"])
    op.create_table(
        "plan_revision",
        sa.Column("plan_id", sa.String(80), sa.ForeignKey("plan.id"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("kept_at", sa.Float, nullable=False),
        sa.Column("kept_by", sa.String(200), nullable=False),
        sa.Column("part", sa.String(200), nullable=False),
        sa.Column("sheet_revision", sa.Integer),
        sa.Column("sheet_hash", sa.String(64), nullable=False),
        sa.Column("legal", sa.Boolean, nullable=False),
        sa.Column("inside", sa.Integer, nullable=False),
        sa.Column("windows", sa.Integer, nullable=False),
    )
    op.create_table(
        "sheet",
        sa.Column("id", sa.String(80), primary_key=True),
        sa.Column("latest", sa.Integer, nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("kept_at", sa.Float, nullable=False),
        sa.Column("kept_by", sa.String(200), nullable=False),
        sa.Column("retired_at", sa.Float),
    )
    op.create_table(
        "sheet_revision",
        sa.Column("sheet_id", sa.String(80), sa.ForeignKey("sheet.id"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("kept_at", sa.Float, nullable=False),
        sa.Column("kept_by", sa.String(200), nullable=False),
    )
