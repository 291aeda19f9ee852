"""Names that are not on record, speech that was said off the record, and who listened to what leaves."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add columns; nothing that is on record changes."""
    op.add_column("mention", sa.Column("kind", sa.String(length=12), server_default="name", nullable=False))
    op.add_column("mention", sa.Column("rule", sa.Text(), server_default="", nullable=False))
    op.add_column("mention", sa.Column("instead", sa.String(length=80), server_default="", nullable=False))
    op.add_column("restraint", sa.Column("rule", sa.Text(), server_default="", nullable=False))
    op.add_column("measurement", sa.Column("levels", sa.LargeBinary(), nullable=True))
    op.add_column("heard", sa.Column("shown_sha256", sa.String(length=64), server_default="", nullable=False))
    op.add_column("export_item", sa.Column("how_heard", sa.String(length=12), server_default="", nullable=False))
    op.create_table(
        "spoken_by",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("excerpt_id", sa.Integer(), nullable=False),
        sa.Column("shown_sha256", sa.String(length=64), nullable=False),
        sa.Column("master_sha256", sa.String(length=64), nullable=False),
        sa.Column("extension", sa.String(length=8), nullable=False),
        sa.Column("duration_ms", sa.Integer(), nullable=False),
        sa.Column("credit", sa.String(length=120), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("speech_ms", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["excerpt_id"], ["excerpt.id"], name=op.f("fk_spoken_by_excerpt_id_excerpt")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spoken_by")),
    )
    op.create_index(op.f("ix_spoken_by_excerpt_id"), "spoken_by", ["excerpt_id"], unique=False)
