"""Decisions about suggestions, to be taken back one by one."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"


def upgrade() -> None:
    """Add one table."""
    op.create_table(
        "tag_decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tag_id", sa.Integer(), nullable=False),
        sa.Column("press", sa.String(length=24), nullable=False),
        sa.Column("was", sa.String(length=10), nullable=False),
        sa.Column("was_by", sa.String(length=80), nullable=True),
        sa.Column("was_at", sa.String(length=32), nullable=True),
        sa.Column("now", sa.String(length=10), nullable=False),
        sa.Column("made", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["tag_id"], ["tag.id"], name=op.f("fk_tag_decision_tag_id_tag")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tag_decision")),
    )
    for column in ("tag_id", "press", "at"):
        op.create_index(op.f(f"ix_tag_decision_{column}"), "tag_decision", [column], unique=False)
