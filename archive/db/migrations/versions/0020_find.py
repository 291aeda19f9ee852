"""What Find can be narrowed by beside words and tags, and when a recording was indexed last."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"


def upgrade() -> None:
    """Add columns and a table. What of it can be told from what is on record is reckoned when a recording is described next."""
    op.add_column("person", sa.Column("sex", sa.String(length=20), server_default="", nullable=False))
    op.add_column("find_unit", sa.Column("state", sa.String(length=10), server_default="", nullable=False))
    op.add_column("find_unit", sa.Column("language", sa.String(length=35), server_default="", nullable=False))
    op.add_column("find_unit", sa.Column("sound", sa.String(length=6), server_default="", nullable=False))
    op.create_table(
        "indexed",
        sa.Column("recording_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("recording_id", name=op.f("pk_indexed")),
    )
    op.create_index(op.f("ix_indexed_revision"), "indexed", ["revision"], unique=False)
