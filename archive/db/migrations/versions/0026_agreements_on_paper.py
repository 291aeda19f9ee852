"""How people may be reached; forms that were printed; papers that were signed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"


def upgrade() -> None:
    """Add the tables."""
    op.create_table(
        "contact",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("called", sa.String(length=200), server_default="", nullable=False),
        sa.Column("address", sa.Text(), server_default="", nullable=False),
        sa.Column("rules", sa.JSON(), nullable=False),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("large", sa.Boolean(), nullable=False),
        sa.Column("how", sa.Text(), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_contact_person_id_person")),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_contact")),
    )
    op.create_table(
        "form",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=12), nullable=False),
        sa.Column("kind", sa.String(length=14), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("interview_id", sa.Integer(), nullable=True),
        sa.Column("account", sa.String(length=80), server_default="", nullable=False),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("uses", sa.JSON(), nullable=False),
        sa.Column("exhibition", sa.String(length=120), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_form_person_id_person")),
        sa.ForeignKeyConstraint(["interview_id"], ["interview.id"], name=op.f("fk_form_interview_id_interview")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_form")),
        sa.UniqueConstraint("code", name=op.f("uq_form_code")),
    )
    op.create_table(
        "signed_paper",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agreement_id", sa.Integer(), nullable=True),
        sa.Column("form_id", sa.Integer(), nullable=True),
        sa.Column("sha256", sa.String(length=64), server_default="", nullable=False),
        sa.Column("bytes", sa.Integer(), server_default="0", nullable=False),
        sa.Column("extension", sa.String(length=8), server_default="", nullable=False),
        sa.Column("pages", sa.Integer(), server_default="0", nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("start_ms", sa.Integer(), nullable=True),
        sa.Column("end_ms", sa.Integer(), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["agreement_id"], ["agreement.id"], name=op.f("fk_signed_paper_agreement_id_agreement")),
        sa.ForeignKeyConstraint(["form_id"], ["form.id"], name=op.f("fk_signed_paper_form_id_form")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_signed_paper_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signed_paper")),
    )
    for table, columns in (("form", ("person_id", "interview_id")), ("signed_paper", ("agreement_id", "form_id", "recording_id"))):
        for column in columns:
            op.create_index(op.f(f"ix_{table}_{column}"), table, [column], unique=False)
    closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
    for table, same in (("form", "id = NEW.id OR code = NEW.code"), ("signed_paper", "id = NEW.id")):
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER guard_{table}_{act.lower()} BEFORE {act} ON {table} WHEN {closed} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
            )
        op.execute(
            f"CREATE TRIGGER guard_{table}_replace BEFORE INSERT ON {table} WHEN {closed} AND EXISTS (SELECT 1 FROM {table} WHERE {same}) "
            f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
        )
