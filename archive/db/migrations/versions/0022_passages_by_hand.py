"""Passages that a person made by splitting or joining."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0019"


def upgrade() -> None:
    """Add one table."""
    op.create_table(
        "passage_by_hand",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("act", sa.Integer(), nullable=False),
        sa.Column("ended_by_act", sa.Integer(), nullable=True),
        sa.Column("how", sa.String(length=8), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.CheckConstraint("end_ms > start_ms", name=op.f("ck_passage_by_hand_stretch")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_passage_by_hand_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_passage_by_hand")),
    )
    op.create_index(op.f("ix_passage_by_hand_recording_id"), "passage_by_hand", ["recording_id"], unique=False)
