"""Lists of stretches, and saved questions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"


def upgrade() -> None:
    """Add the tables."""
    op.add_column("question", sa.Column("name", sa.String(length=80), server_default="", nullable=False))
    op.add_column("question", sa.Column("team", sa.Boolean(), server_default="0", nullable=False))
    op.create_table(
        "question_seen",
        sa.Column("question_id", sa.String(length=40), nullable=False),
        sa.Column("account", sa.String(length=80), nullable=False),
        sa.Column("seen", sa.JSON(), nullable=False),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["question_id"], ["question.id"], name=op.f("fk_question_seen_question_id_question")),
        sa.PrimaryKeyConstraint("question_id", "account", name=op.f("pk_question_seen")),
    )
    op.create_table(
        "kept_list",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("account", sa.String(length=80), server_default="", nullable=False),
        sa.Column("deleted_at", sa.String(length=32), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_list")),
    )
    op.create_table(
        "kept_item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("list_id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("taken_off_at", sa.String(length=32), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.CheckConstraint("end_ms > start_ms", name=op.f("ck_kept_item_stretch")),
        sa.ForeignKeyConstraint(["list_id"], ["kept_list.id"], name=op.f("fk_kept_item_list_id_kept_list")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_kept_item_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_item")),
    )
    op.create_index(op.f("ix_kept_item_list_id"), "kept_item", ["list_id"], unique=False)
    op.create_index(op.f("ix_kept_item_recording_id"), "kept_item", ["recording_id"], unique=False)
