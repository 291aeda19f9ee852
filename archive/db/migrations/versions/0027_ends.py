"""Withdrawal of one way, objections with their decision, tasks of what left, and the end of a risk note."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0026"


def upgrade() -> None:
    """Add two columns and three tables."""
    op.add_column("restraint", sa.Column("way", sa.String(length=8), nullable=True))
    op.add_column("risk", sa.Column("ended_at", sa.String(length=32), nullable=True))
    op.create_table(
        "objection",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("how", sa.Text(), server_default="", nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("decision", sa.String(length=8), server_default="", nullable=False),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.Column("decided_on", sa.Date(), nullable=True),
        sa.Column("decided_by", sa.String(length=80), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_objection_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_objection")),
    )
    op.create_index(op.f("ix_objection_person_id"), "objection", ["person_id"], unique=False)
    op.create_table(
        "objection_hold",
        sa.Column("objection_id", sa.Integer(), nullable=False),
        sa.Column("restraint_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["objection_id"], ["objection.id"], name=op.f("fk_objection_hold_objection_id_objection")),
        sa.ForeignKeyConstraint(["restraint_id"], ["restraint.id"], name=op.f("fk_objection_hold_restraint_id_restraint")),
        sa.PrimaryKeyConstraint("objection_id", "restraint_id", name=op.f("pk_objection_hold")),
        sa.UniqueConstraint("restraint_id", name=op.f("uq_objection_hold_restraint_id")),
    )
    op.create_table(
        "task",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        *(sa.Column(f"{name}_id", sa.Integer(), nullable=True) for name in TASK_OF),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("done_at", sa.String(length=32), nullable=True),
        sa.Column("done_by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        *(sa.ForeignKeyConstraint([f"{name}_id"], [f"{name}.id"], name=op.f(f"fk_task_{name}_id_{name}")) for name in TASK_OF),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_task")),
    )
    for name in TASK_OF:
        op.create_index(op.f(f"ix_task_{name}_id"), "task", [f"{name}_id"], unique=False)


TASK_OF = ("person", "restraint", "objection", "export", "placement")
