"""By whom a person is not to be opened, and which recordings a helper was assigned."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0029"
down_revision = "0028"


def upgrade() -> None:
    """Add the table, which is only ever added to."""
    op.create_table(
        "account_reach",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("account", sa.String(length=80), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("in_force", sa.Boolean(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.CheckConstraint("(person_id IS NULL) <> (recording_id IS NULL)", name=op.f("ck_account_reach_of_one")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_account_reach_person_id_person")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_account_reach_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account_reach")),
    )
    for column in ("account", "person_id", "recording_id"):
        op.create_index(op.f(f"ix_account_reach_{column}"), "account_reach", [column], unique=False)
    closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER guard_account_reach_{act.lower()} BEFORE {act} ON account_reach WHEN {closed} "
            "BEGIN SELECT RAISE(ABORT, 'account_reach is only ever added to'); END"
        )
    op.execute(
        f"CREATE TRIGGER guard_account_reach_replace BEFORE INSERT ON account_reach WHEN {closed} "
        "AND EXISTS (SELECT 1 FROM account_reach WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'account_reach is only ever added to'); END"
    )
