"""Where each master lies a second time, who listened to a recording's start, middle and end, and field notes."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Add three tables and a column; nothing that is on record changes."""
    op.add_column("master", sa.Column("trouble", sa.Text(), server_default="", nullable=False))
    op.create_table(
        "second_copy",
        sa.Column("master_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(length=40), nullable=False),
        sa.Column("copied_at", sa.String(length=32), nullable=False),
        sa.Column("read_back_at", sa.String(length=32), nullable=True),
        sa.Column("checked_at", sa.String(length=32), nullable=True),
        sa.Column("trouble", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["master_id"], ["master.id"], name=op.f("fk_second_copy_master_id_master")),
        sa.PrimaryKeyConstraint("master_id", "place", name=op.f("pk_second_copy")),
    )
    op.create_table(
        "listened",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(length=8), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_listened_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_listened")),
    )
    op.create_index(op.f("ix_listened_recording_id"), "listened", ["recording_id"], unique=False)
    op.create_table(
        "field_note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=12), nullable=False),
        sa.Column("interview_id", sa.Integer(), nullable=True),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("where", sa.Text(), server_default="", nullable=False),
        sa.Column("when", sa.Text(), server_default="", nullable=False),
        sa.Column("with_what", sa.Text(), server_default="", nullable=False),
        sa.Column("in_the_room", sa.Text(), server_default="", nullable=False),
        sa.Column("remarks", sa.Text(), server_default="", nullable=False),
        sa.Column("written_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("written_at", sa.String(length=32), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["interview_id"], ["interview.id"], name=op.f("fk_field_note_interview_id_interview")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_field_note_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_field_note")),
        sa.UniqueConstraint("code", name=op.f("uq_field_note_code")),
    )
    op.create_index(op.f("ix_field_note_interview_id"), "field_note", ["interview_id"], unique=False)
    op.create_index(op.f("ix_field_note_recording_id"), "field_note", ["recording_id"], unique=False)
