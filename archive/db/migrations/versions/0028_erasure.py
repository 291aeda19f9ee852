"""Erasures, whose tasks are on the list of tasks, and what must be found nowhere any more."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0028"
down_revision = "0027"


def upgrade() -> None:
    """Add two tables and three columns."""
    op.add_column("recording", sa.Column("erased_at", sa.String(length=32), nullable=True))
    op.add_column("master", sa.Column("made_from", sa.String(length=64), server_default="", nullable=False))
    op.create_table(
        "erasure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("mark", sa.String(length=32), nullable=False),
        sa.Column("target", sa.String(length=80), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("parts", sa.JSON(), nullable=False),
        sa.Column("paper", sa.String(length=8), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("step", sa.Integer(), server_default="0", nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("seconded_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("ended_at", sa.String(length=32), nullable=True),
        sa.Column("made", sa.JSON(), server_default="{}", nullable=False),
        sa.Column("touched", sa.JSON(), server_default="{}", nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_erasure_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_erasure")),
        sa.UniqueConstraint("code", name=op.f("uq_erasure_code")),
        sa.UniqueConstraint("mark", name=op.f("uq_erasure_mark")),
    )
    op.create_index(op.f("ix_erasure_person_id"), "erasure", ["person_id"], unique=False)
    op.execute("ALTER TABLE task ADD COLUMN erasure_id INTEGER CONSTRAINT fk_task_erasure_id_erasure REFERENCES erasure (id)")
    op.create_index(op.f("ix_task_erasure_id"), "task", ["erasure_id"], unique=False)
    op.create_table(
        "erasure_trace",
        sa.Column("erasure_id", sa.Integer(), nullable=False),
        sa.Column("salt", sa.String(length=32), nullable=False),
        sa.Column("runs", sa.LargeBinary(), nullable=False),
        sa.Column("sound", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["erasure_id"], ["erasure.id"], name=op.f("fk_erasure_trace_erasure_id_erasure")),
        sa.PrimaryKeyConstraint("erasure_id", name=op.f("pk_erasure_trace")),
    )
