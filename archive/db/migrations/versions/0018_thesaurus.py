"""A thesaurus with other words, other languages and related themes; what decisions taught, and what is not to be learned."""

from __future__ import annotations

from uuid import uuid4

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"


def upgrade() -> None:
    """Add three columns and three tables. Each theme on record gets a name for SKOS that stays its own."""
    for name in ("use_for", "labels"):
        op.add_column("theme", sa.Column(name, sa.JSON(), server_default="[]", nullable=False))
    op.add_column("theme", sa.Column("uri", sa.String(length=300), server_default="", nullable=False))
    connection = op.get_bind()
    for (theme_id,) in list(connection.execute(sa.text("SELECT id FROM theme"))):
        connection.execute(sa.text("UPDATE theme SET uri = :uri WHERE id = :id"), {"uri": f"urn:uuid:{uuid4()}", "id": theme_id})
    op.create_index(op.f("ix_theme_uri"), "theme", ["uri"], unique=True)
    op.create_table(
        "theme_related",
        sa.Column("theme_id", sa.Integer(), nullable=False),
        sa.Column("other_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["other_id"], ["theme.id"], name=op.f("fk_theme_related_other_id_theme")),
        sa.ForeignKeyConstraint(["theme_id"], ["theme.id"], name=op.f("fk_theme_related_theme_id_theme")),
        sa.PrimaryKeyConstraint("theme_id", "other_id", name=op.f("pk_theme_related")),
    )
    op.create_table(
        "theme_word_off",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("theme_id", sa.Integer(), nullable=False),
        sa.Column("salt", sa.String(length=32), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["theme_id"], ["theme.id"], name=op.f("fk_theme_word_off_theme_id_theme")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_theme_word_off")),
    )
    op.create_index(op.f("ix_theme_word_off_theme_id"), "theme_word_off", ["theme_id"], unique=False)
    op.create_table(
        "tag_taught_by",
        sa.Column("tag_id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_tag_taught_by_recording_id_recording")),
        sa.ForeignKeyConstraint(["tag_id"], ["tag.id"], name=op.f("fk_tag_taught_by_tag_id_tag"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("tag_id", "recording_id", name=op.f("pk_tag_taught_by")),
    )
    op.create_index(op.f("ix_tag_taught_by_recording_id"), "tag_taught_by", ["recording_id"], unique=False)
