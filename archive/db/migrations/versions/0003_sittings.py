"""Sittings: what a person changes in a transcript is kept at once; how far each utterance has come."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add tables and columns; every utterance on record is the machine's, untouched."""
    op.add_column("version", sa.Column("edits_to", sa.Integer(), server_default="0", nullable=False))
    op.add_column("version_block", sa.Column("state", sa.String(length=10), server_default="machine", nullable=False))
    op.add_column("version_block", sa.Column("state_by", sa.String(length=80), server_default="", nullable=False))
    op.add_column("version_block", sa.Column("verbatim", sa.Boolean(), server_default="0", nullable=False))
    op.add_column("version_block", sa.Column("overlap", sa.Boolean(), server_default="0", nullable=False))
    op.create_table(
        "sitting",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("ended_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_sitting_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sitting")),
    )
    op.create_index(op.f("ix_sitting_recording_id"), "sitting", ["recording_id"], unique=False)
    op.create_table(
        "edit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sitting_id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.Column("undoes", sa.Integer(), server_default="0", nullable=False),
        sa.Column("old", sa.JSON(), nullable=False),
        sa.Column("new", sa.JSON(), nullable=False),
        sa.Column("after", sa.Integer(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_edit_recording_id_recording")),
        sa.ForeignKeyConstraint(["sitting_id"], ["sitting.id"], name=op.f("fk_edit_sitting_id_sitting")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_edit")),
        sa.UniqueConstraint("mark", name=op.f("uq_edit_mark")),
    )
    op.create_index(op.f("ix_edit_recording_id"), "edit", ["recording_id"], unique=False)
    op.create_index(op.f("ix_edit_sitting_id"), "edit", ["sitting_id"], unique=False)
    closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER guard_edit_{act.lower()} BEFORE {act} ON edit WHEN {closed} "
            f"BEGIN SELECT RAISE(ABORT, 'edit is only ever added to'); END"
        )
    op.execute(
        f"CREATE TRIGGER guard_edit_replace BEFORE INSERT ON edit WHEN {closed} AND EXISTS (SELECT 1 FROM edit WHERE id = NEW.id OR mark = NEW.mark) "
        f"BEGIN SELECT RAISE(ABORT, 'edit is only ever added to'); END"
    )
