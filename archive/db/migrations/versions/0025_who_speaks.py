"""Who speaks for whom, what heirs may allow, other people's works inside speech, an interpreter's words checked."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"

ADDED_TO = ("speaks_for", "work", "work_clearance", "interpreted_check")


def upgrade() -> None:
    """Add tables and columns, and put on record what the papers say of who signed for whom. Heirs and deputies count again as soon
    as somebody notes the papers that they have seen. An interpreter's words are the narrators' as well, in the index too."""
    _tables()
    op.add_column("person", sa.Column("dead_by", sa.Date(), nullable=True))
    op.add_column("agreement", sa.Column("heirs_may_allow", sa.Boolean(), server_default="0", nullable=False))
    # Not in a batch: that makes the table anew, without its guards.
    op.execute("ALTER TABLE approval ADD COLUMN given_by_id INTEGER CONSTRAINT fk_approval_given_by_id_person REFERENCES person (id)")
    op.add_column("approval", sa.Column("language", sa.String(length=35), server_default="", nullable=False))
    op.execute(
        "UPDATE person SET dead_by = CASE WHEN died GLOB '[0-9][0-9][0-9][0-9]' THEN died || '-12-31' ELSE died END "
        "WHERE died GLOB '[0-9][0-9][0-9][0-9]' OR died GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'"
    )
    op.execute(
        'INSERT INTO speaks_for (person_id, other_id, relation, from_on, papers, "by", at) '
        "SELECT person_id, spoken_for_by_id, relation, min(signed_on), '', min(\"by\"), min(at) FROM agreement "
        "WHERE spoken_for_by_id IS NOT NULL GROUP BY person_id, spoken_for_by_id, relation"
    )
    op.execute(
        "INSERT INTO voicing_person (voicing_id, person_id) SELECT DISTINCT v.id, n.person_id FROM voicing v "
        "JOIN voicing_person heard ON heard.voicing_id = v.id "
        "JOIN participation i ON i.interview_id = v.interview_id AND i.person_id = heard.person_id AND i.role = 'interpreter' "
        "JOIN participation n ON n.interview_id = v.interview_id AND n.role = 'narrator' "
        "WHERE NOT EXISTS (SELECT 1 FROM voicing_person p WHERE p.voicing_id = v.id AND p.person_id = n.person_id)"
    )
    closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
    for table in ADDED_TO:
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER guard_{table}_{act.lower()} BEFORE {act} ON {table} WHEN {closed} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
            )
        op.execute(
            f"CREATE TRIGGER guard_{table}_replace BEFORE INSERT ON {table} WHEN {closed} AND EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id) "
            f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
        )


def _tables() -> None:
    op.create_table(
        "speaks_for",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("other_id", sa.Integer(), nullable=False),
        sa.Column("relation", sa.String(length=20), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("papers", sa.Text(), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_speaks_for_person_id_person")),
        sa.ForeignKeyConstraint(["other_id"], ["person.id"], name=op.f("fk_speaks_for_other_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_speaks_for")),
    )
    for column in ("person_id", "other_id"):
        op.create_index(op.f(f"ix_speaks_for_{column}"), "speaks_for", [column], unique=False)
    op.create_table(
        "work",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("about", sa.Text(), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.CheckConstraint("end_ms > start_ms", name=op.f("ck_work_stretch")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_work_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work")),
    )
    op.create_index(op.f("ix_work_recording_id"), "work", ["recording_id"], unique=False)
    op.create_table(
        "work_clearance",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("work_id", sa.Integer(), nullable=False),
        sa.Column("answer", sa.String(length=4), nullable=False),
        sa.Column("use", sa.String(length=30), nullable=True),
        sa.Column("way", sa.String(length=8), nullable=True),
        sa.Column("exhibition", sa.String(length=120), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("basis", sa.Text(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["use"], ["use.code"], name=op.f("fk_work_clearance_use_use")),
        sa.ForeignKeyConstraint(["work_id"], ["work.id"], name=op.f("fk_work_clearance_work_id_work")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work_clearance")),
    )
    op.create_index(op.f("ix_work_clearance_work_id"), "work_clearance", ["work_id"], unique=False)
    op.create_table(
        "interpreted_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wording_sha256", sa.String(length=64), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_interpreted_check")),
    )
    op.create_index(op.f("ix_interpreted_check_wording_sha256"), "interpreted_check", ["wording_sha256"], unique=False)
