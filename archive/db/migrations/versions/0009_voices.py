"""What voices are like, inside one recording, until it is decided who speaks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add one table."""
    op.create_table(
        "voice_heard",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("windows", sa.JSON(), nullable=False),
        sa.Column("vectors", sa.LargeBinary(), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_voice_heard_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_voice_heard")),
    )
    op.create_index(op.f("ix_voice_heard_recording_id"), "voice_heard", ["recording_id"], unique=False)
