"""Long work done beside the pages, and what was worked out of each paddle."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Take the step."""
    op.create_table(
        "job", sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("uid", sa.String(36), nullable=False, unique=True),
        sa.Column("made_at", sa.String(27), nullable=False),
        sa.Column("made_by", sa.Text, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("arguments", sa.JSON, nullable=False),
        sa.Column("state", sa.String(10), nullable=False, index=True),
        sa.Column("claims", sa.Integer, nullable=False), sa.Column("beat_at", sa.String(27)),
        sa.Column("share", sa.Float, nullable=False), sa.Column("saying", sa.Text, nullable=False),
        sa.Column("name", sa.Text), sa.Column("media_type", sa.Text),
        sa.Column("content", sa.LargeBinary), sqlite_autoincrement=True,
    )
    op.create_table(
        "summary", sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("paddle_id", sa.Integer, sa.ForeignKey("paddle.id"), nullable=False,
                  unique=True),
        sa.Column("key", sa.String(64), nullable=False),
        sa.Column("data", sa.JSON, nullable=False), sqlite_autoincrement=True,
    )
