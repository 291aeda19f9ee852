"""The archive's own list of spellings; mis-hearings of places and people say who added them by hand."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add one table, only ever added to, and who and when beside names; those on record are the sheets'."""
    for table in ("person_name", "place_name"):
        op.add_column(table, sa.Column("by", sa.String(length=80), server_default="", nullable=False))
        op.add_column(table, sa.Column("at", sa.String(length=32), server_default="", nullable=False))
    op.create_table(
        "spelling",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=120), nullable=False),
        sa.Column("text", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("heard_as", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("off", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spelling")),
    )
    op.create_index(op.f("ix_spelling_key"), "spelling", ["key"], unique=False)
    closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER guard_spelling_{act.lower()} BEFORE {act} ON spelling WHEN {closed} "
            f"BEGIN SELECT RAISE(ABORT, 'spelling is only ever added to'); END"
        )
    op.execute(
        f"CREATE TRIGGER guard_spelling_replace BEFORE INSERT ON spelling WHEN {closed} AND EXISTS (SELECT 1 FROM spelling WHERE id = NEW.id) "
        f"BEGIN SELECT RAISE(ABORT, 'spelling is only ever added to'); END"
    )
