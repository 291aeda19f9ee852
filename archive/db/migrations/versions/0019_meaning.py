"""What passages and scope notes are about, as numbers, for leads that are near in meaning."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"


def upgrade() -> None:
    """Add two tables; they stay empty where the model is not here."""
    op.create_table(
        "unit_vector",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("wording", sa.String(length=5), nullable=False),
        sa.Column("model", sa.String(length=64), nullable=False),
        sa.Column("vectors", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["unit_id"], ["find_unit.id"], name=op.f("fk_unit_vector_unit_id_find_unit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_unit_vector")),
        sa.UniqueConstraint("unit_id", "wording", name=op.f("uq_unit_vector_unit_id_wording")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_unit_vector_model"), "unit_vector", ["model"], unique=False)
    op.create_table(
        "theme_vector",
        sa.Column("theme_id", sa.Integer(), nullable=False),
        sa.Column("text_sha256", sa.String(length=64), nullable=False),
        sa.Column("model", sa.String(length=64), nullable=False),
        sa.Column("vector", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["theme_id"], ["theme.id"], name=op.f("fk_theme_vector_theme_id_theme")),
        sa.PrimaryKeyConstraint("theme_id", name=op.f("pk_theme_vector")),
    )
