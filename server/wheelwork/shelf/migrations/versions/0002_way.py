"""The little way down of each revision, beside how it stood; empty for those that were kept before."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the column."""
    op.add_column("plan_revision", sa.Column("way", sa.Text))
