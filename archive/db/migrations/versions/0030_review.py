"""Quotes that are put to their speaker, and what was answered; an excerpt may stand in the speaker's later wording. Own copies."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
GUARDED = (("review_sheet", "id = NEW.id OR code = NEW.code"), ("review_item", "id = NEW.id OR (sheet_id = NEW.sheet_id AND number = NEW.number)"), ("review_answer", "id = NEW.id"))


def upgrade() -> None:
    """Add the tables and the column."""
    op.add_column("excerpt", sa.Column("later_id", sa.Integer(), nullable=True))
    op.create_table(
        "review_sheet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=12), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("answer_by", sa.Date(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_review_sheet_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review_sheet")),
        sa.UniqueConstraint("code", name=op.f("uq_review_sheet_code")),
    )
    op.create_table(
        "review_item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sheet_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("excerpt_id", sa.Integer(), nullable=False),
        sa.Column("use", sa.String(length=30), nullable=False),
        sa.Column("way", sa.String(length=8), nullable=False),
        sa.Column("wording_sha256", sa.String(length=64), nullable=False),
        sa.Column("stands", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["sheet_id"], ["review_sheet.id"], name=op.f("fk_review_item_sheet_id_review_sheet")),
        sa.ForeignKeyConstraint(["excerpt_id"], ["excerpt.id"], name=op.f("fk_review_item_excerpt_id_excerpt")),
        sa.ForeignKeyConstraint(["use"], ["use.code"], name=op.f("fk_review_item_use_use")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review_item")),
        sa.UniqueConstraint("sheet_id", "number", name=op.f("uq_review_item_sheet_id_number")),
    )
    op.create_table(
        "review_answer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("answer", sa.String(length=8), nullable=False),
        sa.Column("later", sa.Text(), server_default="", nullable=False),
        sa.Column("given_by_id", sa.Integer(), nullable=True),
        sa.Column("approval_id", sa.Integer(), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["review_item.id"], name=op.f("fk_review_answer_item_id_review_item")),
        sa.ForeignKeyConstraint(["given_by_id"], ["person.id"], name=op.f("fk_review_answer_given_by_id_person")),
        sa.ForeignKeyConstraint(["approval_id"], ["approval.id"], name=op.f("fk_review_answer_approval_id_approval")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review_answer")),
    )
    for table, columns in (("review_sheet", ("person_id",)), ("review_item", ("sheet_id", "excerpt_id", "wording_sha256")), ("review_answer", ("item_id", "approval_id"))):
        for column in columns:
            op.create_index(op.f(f"ix_{table}_{column}"), table, [column], unique=False)
    op.create_table(
        "own_copy",
        sa.Column("export_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        *(sa.ForeignKeyConstraint([f"{name}_id"], [f"{name}.id"], name=op.f(f"fk_own_copy_{name}_id_{name}")) for name in ("export", "person", "recording")),
        sa.PrimaryKeyConstraint("export_id", name=op.f("pk_own_copy")),
    )
    for column in ("person_id", "recording_id"):
        op.create_index(op.f(f"ix_own_copy_{column}"), "own_copy", [column], unique=False)
    closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
    for table, same in GUARDED:
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER guard_{table}_{act.lower()} BEFORE {act} ON {table} WHEN {closed} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
            )
        op.execute(
            f"CREATE TRIGGER guard_{table}_replace BEFORE INSERT ON {table} WHEN {closed} AND EXISTS (SELECT 1 FROM {table} WHERE {same}) "
            f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
        )
