"""The table of events: who did what to which mark, and when."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "events",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("mark", sa.Text, nullable=False),
        sa.Column("stage", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_index("events_by_mark", "events", ["mark"])
