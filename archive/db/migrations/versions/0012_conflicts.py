"""Where a newer hearing and people's corrections differ: decided one by one."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Add one table."""
    op.create_table(
        "conflict",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("version_id", sa.Integer(), nullable=False),
        sa.Column("spans", sa.JSON(), nullable=False),
        sa.Column("speaker_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("decided", sa.String(length=8), server_default="", nullable=False),
        sa.Column("decided_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("decided_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_conflict_recording_id_recording")),
        sa.ForeignKeyConstraint(["version_id"], ["version.id"], name=op.f("fk_conflict_version_id_version")),
        sa.ForeignKeyConstraint(["speaker_id"], ["person.id"], name=op.f("fk_conflict_speaker_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_conflict")),
    )
    op.create_index(op.f("ix_conflict_recording_id"), "conflict", ["recording_id"], unique=False)
