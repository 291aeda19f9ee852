"""What a file told about itself when it came, files that lay beside it, files on their way from a browser."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Add tables and a column; nothing that is on record changes."""
    op.add_column("master", sa.Column("track", sa.Integer(), server_default="0", nullable=False))
    op.create_table(
        "origin",
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("originator", sa.Text(), server_default="", nullable=False),
        sa.Column("description", sa.Text(), server_default="", nullable=False),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.Column("day", sa.String(length=10), server_default="", nullable=False),
        sa.Column("time", sa.String(length=8), server_default="", nullable=False),
        sa.Column("doubt", sa.Text(), server_default="", nullable=False),
        sa.Column("started_ms", sa.Integer(), nullable=True),
        sa.Column("exact", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("closed_ms", sa.Integer(), nullable=True),
        sa.Column("beside_id", sa.Integer(), nullable=True),
        sa.Column("beside_ms", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_origin_recording_id_recording")),
        sa.ForeignKeyConstraint(["beside_id"], ["recording.id"], name=op.f("fk_origin_beside_id_recording")),
        sa.PrimaryKeyConstraint("recording_id", name=op.f("pk_origin")),
    )
    op.create_index(op.f("ix_origin_beside_id"), "origin", ["beside_id"], unique=False)
    op.create_table(
        "companion",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("extension", sa.String(length=8), nullable=False),
        sa.Column("says", sa.String(length=8), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_companion_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_companion")),
        sa.UniqueConstraint("recording_id", "sha256", name=op.f("uq_companion_recording_id_sha256")),
    )
    op.create_index(op.f("ix_companion_recording_id"), "companion", ["recording_id"], unique=False)
    op.create_table(
        "upload",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=32), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("first_sha256", sa.String(length=64), nullable=False),
        sa.Column("sha256", sa.String(length=64), server_default="", nullable=False),
        sa.Column("modified_ms", sa.Integer(), server_default="0", nullable=False),
        sa.Column("interview", sa.String(length=40), server_default="", nullable=False),
        sa.Column("track", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=8), server_default="open", nullable=False),
        sa.Column("words", sa.Text(), server_default="", nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("touched_at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_upload_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_upload")),
        sa.UniqueConstraint("key", name=op.f("uq_upload_key")),
    )
    op.create_index(op.f("ix_upload_recording_id"), "upload", ["recording_id"], unique=False)
    op.create_table(
        "upload_piece",
        sa.Column("upload_id", sa.Integer(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["upload_id"], ["upload.id"], name=op.f("fk_upload_piece_upload_id_upload")),
        sa.PrimaryKeyConstraint("upload_id", "n", name=op.f("pk_upload_piece")),
    )
