"""The first schema: every table of the house, the word index, and the guards of what is only ever added to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

APPEND_ONLY = (
    "wish",
    "agreement",
    "permission",
    "restraint",
    "release",
    "approval",
    "mention",
    "heard",
    "block",
    "version",
    "version_block",
    "audit",
)


def upgrade() -> None:
    """Make everything."""
    _tables()
    # External content over a real table: contentless tables cannot forget (../shared/SEARCH.md, traps of FTS5).
    op.execute(
        "CREATE VIRTUAL TABLE find_fts USING fts5(full_exact, full_stem, shown_exact, shown_stem, "
        "content='find_text', content_rowid='unit_id', tokenize='unicode61 remove_diacritics 0')"
    )
    op.execute("INSERT INTO fact (key, value) VALUES ('consent_revision', '0')")
    # An erasure opens these guards by the fact 'erasing' inside its own transaction, and closes them again.
    for name in APPEND_ONLY:
        closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER guard_{name}_{act.lower()} BEFORE {act} ON {name} WHEN {closed} "
                f"BEGIN SELECT RAISE(ABORT, '{name} is only ever added to'); END"
            )
        # INSERT OR REPLACE would go round both.
        key = {
            "version_block": "version_id = NEW.version_id AND position = NEW.position",
            "agreement": "id = NEW.id OR code = NEW.code",
            "audit": "id = NEW.id OR digest = NEW.digest",
        }.get(name, "id = NEW.id")
        op.execute(
            f"CREATE TRIGGER guard_{name}_replace BEFORE INSERT ON {name} "
            f"WHEN {closed} AND EXISTS (SELECT 1 FROM {name} WHERE {key}) "
            f"BEGIN SELECT RAISE(ABORT, '{name} is only ever added to'); END"
        )


def _tables() -> None:
    op.create_table(
        "account",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("role", sa.String(length=8), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), server_default="1", nullable=False),
        sa.Column("session_key", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("name", name=op.f("uq_account_name")),
    )
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("actor", sa.String(length=80), nullable=False),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("subject", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("commitment", sa.String(length=64), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
        sa.UniqueConstraint("digest", name=op.f("uq_audit_digest")),
    )
    op.create_table(
        "block",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("words", sa.JSON(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_block")),
    )
    op.create_index(op.f("ix_block_sha256"), "block", ["sha256"], unique=False)
    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("edtf", sa.String(length=60), nullable=False),
        sa.Column("also", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
        sa.UniqueConstraint("name", name=op.f("uq_event_name")),
    )
    op.create_table(
        "export",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=30), nullable=False),
        sa.Column("use", sa.String(length=30), nullable=False),
        sa.Column("exhibition", sa.String(length=120), nullable=False),
        sa.Column("consent_revision", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("given_at", sa.String(length=32), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_export")),
        sa.UniqueConstraint("code", name=op.f("uq_export_code")),
    )
    op.create_table(
        "fact",
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_fact")),
    )
    op.create_table(
        "interview",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("title", sa.Text(), server_default="", nullable=False),
        sa.Column("held_on", sa.Date(), nullable=True),
        sa.Column("language", sa.String(length=12), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_interview")),
        sa.UniqueConstraint("code", name=op.f("uq_interview_code")),
    )
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("subject", sa.String(length=60), nullable=False),
        sa.Column("args", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(length=10), server_default="waiting", nullable=False),
        sa.Column("lease_until", sa.Float(), nullable=True),
        sa.Column("lease_token", sa.String(length=40), nullable=True),
        sa.Column("attempt", sa.Integer(), server_default="0", nullable=False),
        sa.Column("done_ms", sa.Integer(), server_default="0", nullable=False),
        sa.Column("total_ms", sa.Integer(), server_default="0", nullable=False),
        sa.Column("words", sa.Text(), server_default="", nullable=False),
        sa.Column("started_at", sa.String(length=32), nullable=True),
        sa.Column("ended_at", sa.String(length=32), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
    )
    op.create_index(op.f("ix_job_state"), "job", ["state"], unique=False)
    op.create_table(
        "master",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("extension", sa.String(length=8), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("checked_at", sa.String(length=32), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_master")),
        sa.UniqueConstraint("sha256", name=op.f("uq_master_sha256")),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("born", sa.String(length=20), nullable=True),
        sa.Column("died", sa.String(length=20), nullable=True),
        sa.Column("adult_from", sa.Date(), nullable=True),
        sa.Column("adult_by", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("erased_at", sa.String(length=32), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("code", name=op.f("uq_person_code")),
    )
    op.create_table(
        "place",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("within_id", sa.Integer(), nullable=True),
        sa.Column("same_as_id", sa.Integer(), nullable=True),
        sa.Column("valid_from", sa.String(length=20), nullable=True),
        sa.Column("valid_until", sa.String(length=20), nullable=True),
        sa.Column("x_m", sa.Integer(), nullable=True),
        sa.Column("y_m", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["same_as_id"], ["place.id"], name=op.f("fk_place_same_as_id_place")),
        sa.ForeignKeyConstraint(["within_id"], ["place.id"], name=op.f("fk_place_within_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("name", name=op.f("uq_place_name")),
    )
    op.create_index(op.f("ix_place_same_as_id"), "place", ["same_as_id"], unique=False)
    op.create_index(op.f("ix_place_within_id"), "place", ["within_id"], unique=False)
    op.create_table(
        "question",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("account", sa.String(length=80), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("at", sa.Float(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_question")),
    )
    op.create_table(
        "sign_in_failure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("account", sa.String(length=80), nullable=False),
        sa.Column("address", sa.String(length=64), nullable=False),
        sa.Column("at", sa.Float(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_failure")),
    )
    op.create_index(op.f("ix_sign_in_failure_account"), "sign_in_failure", ["account"], unique=False)
    op.create_index(op.f("ix_sign_in_failure_address"), "sign_in_failure", ["address"], unique=False)
    op.create_table(
        "theme",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("broader_id", sa.Integer(), nullable=True),
        sa.Column("scope_note", sa.Text(), nullable=False),
        sa.Column("words", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["broader_id"], ["theme.id"], name=op.f("fk_theme_broader_id_theme")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_theme")),
        sa.UniqueConstraint("name", name=op.f("uq_theme_name")),
    )
    op.create_index(op.f("ix_theme_broader_id"), "theme", ["broader_id"], unique=False)
    op.create_table(
        "use",
        sa.Column("code", sa.String(length=30), nullable=False),
        sa.Column("label", sa.String(length=120), nullable=False),
        sa.Column("inward", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_use")),
    )
    op.create_table(
        "approval",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("wording_sha256", sa.String(length=64), nullable=False),
        sa.Column("use", sa.String(length=30), nullable=False),
        sa.Column("way", sa.String(length=8), nullable=False),
        sa.Column("answer", sa.String(length=4), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_approval_person_id_person")),
        sa.ForeignKeyConstraint(["use"], ["use.code"], name=op.f("fk_approval_use_use")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_approval")),
    )
    op.create_index(op.f("ix_approval_person_id"), "approval", ["person_id"], unique=False)
    op.create_index(op.f("ix_approval_wording_sha256"), "approval", ["wording_sha256"], unique=False)
    op.create_table(
        "audit_detail",
        sa.Column("audit_id", sa.Integer(), nullable=False),
        sa.Column("salt", sa.String(length=64), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["audit_id"], ["audit.id"], name=op.f("fk_audit_detail_audit_id_audit")),
        sa.PrimaryKeyConstraint("audit_id", name=op.f("pk_audit_detail")),
    )
    op.create_table(
        "chunk",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("channel", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=8), server_default="waiting", nullable=False),
        sa.Column("words", sa.JSON(), nullable=True),
        sa.Column("notes", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_chunk_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_chunk")),
        sa.UniqueConstraint("job_id", "n", name=op.f("uq_chunk_job_id_n")),
    )
    op.create_index(op.f("ix_chunk_job_id"), "chunk", ["job_id"], unique=False)
    op.create_table(
        "export_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("export_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("item", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["export_id"], ["export.id"], name=op.f("fk_export_file_export_id_export")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_export_file")),
    )
    op.create_index(op.f("ix_export_file_export_id"), "export_file", ["export_id"], unique=False)
    op.create_table(
        "once_link",
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=False),
        sa.Column("expires", sa.Float(), nullable=False),
        sa.Column("used_at", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_once_link_account_id_account")),
        sa.PrimaryKeyConstraint("token_sha256", name=op.f("pk_once_link")),
    )
    op.create_index(op.f("ix_once_link_account_id"), "once_link", ["account_id"], unique=False)
    op.create_table(
        "participation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("interview_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.ForeignKeyConstraint(
            ["interview_id"], ["interview.id"], name=op.f("fk_participation_interview_id_interview")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_participation_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_participation")),
        sa.UniqueConstraint(
            "interview_id", "person_id", "role", name=op.f("uq_participation_interview_id_person_id_role")
        ),
    )
    op.create_index(op.f("ix_participation_interview_id"), "participation", ["interview_id"], unique=False)
    op.create_index(op.f("ix_participation_person_id"), "participation", ["person_id"], unique=False)
    op.create_table(
        "person_name",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("text", sa.String(length=200), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("scan", sa.String(length=8), server_default="always", nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_person_name_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person_name")),
        sa.UniqueConstraint("person_id", "text", "kind", name=op.f("uq_person_name_person_id_text_kind")),
    )
    op.create_index(op.f("ix_person_name_person_id"), "person_name", ["person_id"], unique=False)
    op.create_table(
        "place_name",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("text", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_place_name_place_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place_name")),
        sa.UniqueConstraint("place_id", "text", name=op.f("uq_place_name_place_id_text")),
    )
    op.create_index(op.f("ix_place_name_place_id"), "place_name", ["place_id"], unique=False)
    op.create_table(
        "recording",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("interview_id", sa.Integer(), nullable=True),
        sa.Column("position", sa.Integer(), server_default="1", nullable=False),
        sa.Column("master_id", sa.Integer(), nullable=False),
        sa.Column("original_name", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), server_default="", nullable=False),
        sa.Column("recorded_on", sa.Date(), nullable=True),
        sa.Column("language", sa.String(length=12), server_default="en", nullable=False),
        sa.Column("microphones", sa.String(length=4), server_default="one", nullable=False),
        sa.Column("left_person_id", sa.Integer(), nullable=True),
        sa.Column("right_person_id", sa.Integer(), nullable=True),
        sa.Column("duration_ms", sa.Integer(), server_default="0", nullable=False),
        sa.ForeignKeyConstraint(["interview_id"], ["interview.id"], name=op.f("fk_recording_interview_id_interview")),
        sa.ForeignKeyConstraint(["left_person_id"], ["person.id"], name=op.f("fk_recording_left_person_id_person")),
        sa.ForeignKeyConstraint(["master_id"], ["master.id"], name=op.f("fk_recording_master_id_master")),
        sa.ForeignKeyConstraint(["right_person_id"], ["person.id"], name=op.f("fk_recording_right_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recording")),
        sa.UniqueConstraint("code", name=op.f("uq_recording_code")),
        sa.UniqueConstraint("master_id", name=op.f("uq_recording_master_id")),
    )
    op.create_index(op.f("ix_recording_interview_id"), "recording", ["interview_id"], unique=False)
    op.create_index(op.f("ix_recording_left_person_id"), "recording", ["left_person_id"], unique=False)
    op.create_index(op.f("ix_recording_right_person_id"), "recording", ["right_person_id"], unique=False)
    op.create_table(
        "wish",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("attribution", sa.String(length=12), nullable=False),
        sa.Column("voice", sa.String(length=12), nullable=False),
        sa.Column("review", sa.String(length=12), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_wish_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wish")),
    )
    op.create_index(op.f("ix_wish_person_id"), "wish", ["person_id"], unique=False)
    op.create_table(
        "agreement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("interview_id", sa.Integer(), nullable=True),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("start_ms", sa.Integer(), nullable=True),
        sa.Column("end_ms", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=14), nullable=False),
        sa.Column("form", sa.String(length=8), nullable=False),
        sa.Column("signed_on", sa.Date(), nullable=False),
        sa.Column("taken_by", sa.String(length=80), nullable=False),
        sa.Column("language", sa.String(length=12), nullable=False),
        sa.Column("number", sa.Integer(), server_default="1", nullable=False),
        sa.Column("paper_sha256", sa.String(length=64), nullable=True),
        sa.Column("copyright", sa.String(length=10), server_default="kept", nullable=False),
        sa.Column("basis", sa.Text(), server_default="", nullable=False),
        sa.Column("spoken_for_by_id", sa.Integer(), nullable=True),
        sa.Column("relation", sa.String(length=20), server_default="", nullable=False),
        sa.Column("minor", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("assent", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("supersedes_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["interview_id"], ["interview.id"], name=op.f("fk_agreement_interview_id_interview")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_agreement_person_id_person")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_agreement_recording_id_recording")),
        sa.ForeignKeyConstraint(["spoken_for_by_id"], ["person.id"], name=op.f("fk_agreement_spoken_for_by_id_person")),
        sa.ForeignKeyConstraint(["supersedes_id"], ["agreement.id"], name=op.f("fk_agreement_supersedes_id_agreement")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_agreement")),
        sa.UniqueConstraint("code", name=op.f("uq_agreement_code")),
    )
    op.create_index(op.f("ix_agreement_interview_id"), "agreement", ["interview_id"], unique=False)
    op.create_index(op.f("ix_agreement_person_id"), "agreement", ["person_id"], unique=False)
    op.create_index(op.f("ix_agreement_recording_id"), "agreement", ["recording_id"], unique=False)
    op.create_index(op.f("ix_agreement_spoken_for_by_id"), "agreement", ["spoken_for_by_id"], unique=False)
    op.create_index(op.f("ix_agreement_supersedes_id"), "agreement", ["supersedes_id"], unique=False)
    op.create_table(
        "finding",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch", sa.String(length=32), nullable=False),
        sa.Column("source_name", sa.Text(), nullable=False),
        sa.Column("outcome", sa.String(length=12), nullable=False),
        sa.Column("reason_code", sa.String(length=40), server_default="", nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_finding_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding")),
    )
    op.create_index(op.f("ix_finding_batch"), "finding", ["batch"], unique=False)
    op.create_index(op.f("ix_finding_recording_id"), "finding", ["recording_id"], unique=False)
    op.create_table(
        "measurement",
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("container", sa.String(length=40), nullable=False),
        sa.Column("codec", sa.String(length=40), nullable=False),
        sa.Column("rate_hz", sa.Integer(), nullable=False),
        sa.Column("bit_depth", sa.Integer(), nullable=True),
        sa.Column("channels", sa.Integer(), nullable=False),
        sa.Column("duration_ms", sa.Integer(), nullable=False),
        sa.Column("loudness_lufs", sa.Float(), nullable=True),
        sa.Column("true_peak_dbtp", sa.Float(), nullable=True),
        sa.Column("noise_dbfs", sa.Float(), nullable=True),
        sa.Column("speech_ms", sa.JSON(), nullable=False),
        sa.Column("damage", sa.JSON(), nullable=False),
        sa.Column("flags", sa.JSON(), nullable=False),
        sa.Column("peak_ms", sa.Integer(), nullable=False),
        sa.Column("peaks", sa.LargeBinary(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_measurement_recording_id_recording")),
        sa.PrimaryKeyConstraint("recording_id", name=op.f("pk_measurement")),
    )
    op.create_table(
        "mention",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("decision", sa.String(length=10), nullable=False),
        sa.Column("how", sa.Text(), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.CheckConstraint("end_ms > start_ms", name=op.f("ck_mention_stretch")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_mention_person_id_person")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_mention_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mention")),
    )
    op.create_index(op.f("ix_mention_person_id"), "mention", ["person_id"], unique=False)
    op.create_index(op.f("ix_mention_recording_id"), "mention", ["recording_id"], unique=False)
    op.create_table(
        "placement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("export_file_id", sa.Integer(), nullable=False),
        sa.Column("where", sa.Text(), nullable=False),
        sa.Column("up_on", sa.Date(), nullable=True),
        sa.Column("down_on", sa.Date(), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(
            ["export_file_id"], ["export_file.id"], name=op.f("fk_placement_export_file_id_export_file")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_placement")),
    )
    op.create_index(op.f("ix_placement_export_file_id"), "placement", ["export_file_id"], unique=False)
    op.create_table(
        "restraint",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("interview_id", sa.Integer(), nullable=True),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("start_ms", sa.Integer(), nullable=True),
        sa.Column("end_ms", sa.Integer(), nullable=True),
        sa.Column("use", sa.String(length=30), nullable=True),
        sa.Column("raised_by_id", sa.Integer(), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("needs_review", sa.Boolean(), nullable=False),
        sa.Column("event", sa.Text(), server_default="", nullable=False),
        sa.Column("how", sa.Text(), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["interview_id"], ["interview.id"], name=op.f("fk_restraint_interview_id_interview")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_restraint_person_id_person")),
        sa.ForeignKeyConstraint(["raised_by_id"], ["person.id"], name=op.f("fk_restraint_raised_by_id_person")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_restraint_recording_id_recording")),
        sa.ForeignKeyConstraint(["use"], ["use.code"], name=op.f("fk_restraint_use_use")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_restraint")),
    )
    op.create_index(op.f("ix_restraint_interview_id"), "restraint", ["interview_id"], unique=False)
    op.create_index(op.f("ix_restraint_person_id"), "restraint", ["person_id"], unique=False)
    op.create_index(op.f("ix_restraint_raised_by_id"), "restraint", ["raised_by_id"], unique=False)
    op.create_index(op.f("ix_restraint_recording_id"), "restraint", ["recording_id"], unique=False)
    op.create_table(
        "risk",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("start_ms", sa.Integer(), nullable=True),
        sa.Column("end_ms", sa.Integer(), nullable=True),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("review_on", sa.Date(), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_risk_person_id_person")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_risk_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_risk")),
    )
    op.create_index(op.f("ix_risk_person_id"), "risk", ["person_id"], unique=False)
    op.create_index(op.f("ix_risk_recording_id"), "risk", ["recording_id"], unique=False)
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("engine", sa.String(length=60), nullable=False),
        sa.Column("model", sa.String(length=60), nullable=False),
        sa.Column("model_sha256", sa.String(length=64), nullable=False),
        sa.Column("language", sa.String(length=12), nullable=False),
        sa.Column("vocabulary", sa.JSON(), nullable=False),
        sa.Column("options", sa.JSON(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_run_job_id_job")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_run_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
    )
    op.create_index(op.f("ix_run_job_id"), "run", ["job_id"], unique=False)
    op.create_index(op.f("ix_run_recording_id"), "run", ["recording_id"], unique=False)
    op.create_table(
        "tag",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("value", sa.String(length=120), nullable=False),
        sa.Column("state", sa.String(length=10), server_default="suggested", nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        sa.Column("rule", sa.String(length=60), nullable=False),
        sa.Column("reckoning", sa.Text(), nullable=False),
        sa.Column("sure", sa.Float(), nullable=False),
        sa.Column("decades", sa.JSON(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("decided_by", sa.String(length=80), nullable=True),
        sa.Column("decided_at", sa.String(length=32), nullable=True),
        sa.CheckConstraint("end_ms > start_ms", name=op.f("ck_tag_stretch")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_tag_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tag")),
    )
    op.create_index(op.f("ix_tag_recording_id"), "tag", ["recording_id"], unique=False)
    op.create_table(
        "voicing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("interview_id", sa.Integer(), nullable=True),
        sa.Column("recording_id", sa.Integer(), nullable=True),
        sa.Column("start_ms", sa.Integer(), nullable=True),
        sa.Column("end_ms", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["interview_id"], ["interview.id"], name=op.f("fk_voicing_interview_id_interview")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_voicing_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_voicing")),
        sa.UniqueConstraint("key", name=op.f("uq_voicing_key")),
    )
    op.create_index(op.f("ix_voicing_interview_id"), "voicing", ["interview_id"], unique=False)
    op.create_index(op.f("ix_voicing_recording_id"), "voicing", ["recording_id"], unique=False)
    op.create_table(
        "permission",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agreement_id", sa.Integer(), nullable=False),
        sa.Column("use", sa.String(length=30), nullable=False),
        sa.Column("way", sa.String(length=8), nullable=False),
        sa.Column("answer", sa.String(length=4), nullable=False),
        sa.Column("exhibition", sa.String(length=120), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=True),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("conditions", sa.Text(), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["agreement_id"], ["agreement.id"], name=op.f("fk_permission_agreement_id_agreement")),
        sa.ForeignKeyConstraint(["use"], ["use.code"], name=op.f("fk_permission_use_use")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_permission")),
    )
    op.create_index(op.f("ix_permission_agreement_id"), "permission", ["agreement_id"], unique=False)
    op.create_index(op.f("ix_permission_use_way"), "permission", ["use", "way"], unique=False)
    op.create_table(
        "release",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("restraint_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["restraint_id"], ["restraint.id"], name=op.f("fk_release_restraint_id_restraint")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_release")),
    )
    op.create_index(op.f("ix_release_restraint_id"), "release", ["restraint_id"], unique=False)
    op.create_table(
        "version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("parent_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["parent_id"], ["version.id"], name=op.f("fk_version_parent_id_version")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_version_recording_id_recording")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_version_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_version")),
    )
    op.create_index(op.f("ix_version_recording_id"), "version", ["recording_id"], unique=False)
    op.create_table(
        "voicing_person",
        sa.Column("voicing_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_voicing_person_person_id_person")),
        sa.ForeignKeyConstraint(["voicing_id"], ["voicing.id"], name=op.f("fk_voicing_person_voicing_id_voicing")),
        sa.PrimaryKeyConstraint("voicing_id", "person_id", name=op.f("pk_voicing_person")),
    )
    op.create_index(op.f("ix_voicing_person_person_id"), "voicing_person", ["person_id"], unique=False)
    op.create_table(
        "excerpt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("version_id", sa.Integer(), nullable=False),
        sa.Column("spans", sa.JSON(), nullable=False),
        sa.Column("wording_sha256", sa.String(length=64), nullable=False),
        sa.Column("use", sa.String(length=30), nullable=False),
        sa.Column("panel", sa.String(length=80), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("set_aside_at", sa.String(length=32), nullable=True),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_excerpt_recording_id_recording")),
        sa.ForeignKeyConstraint(["use"], ["use.code"], name=op.f("fk_excerpt_use_use")),
        sa.ForeignKeyConstraint(["version_id"], ["version.id"], name=op.f("fk_excerpt_version_id_version")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_excerpt")),
        sa.UniqueConstraint("code", name=op.f("uq_excerpt_code")),
    )
    op.create_index(op.f("ix_excerpt_recording_id"), "excerpt", ["recording_id"], unique=False)
    op.create_index(op.f("ix_excerpt_version_id"), "excerpt", ["version_id"], unique=False)
    op.create_index(op.f("ix_excerpt_wording_sha256"), "excerpt", ["wording_sha256"], unique=False)
    op.create_table(
        "passage",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("version_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("lineage", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_passage_recording_id_recording")),
        sa.ForeignKeyConstraint(["version_id"], ["version.id"], name=op.f("fk_passage_version_id_version")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_passage")),
    )
    op.create_index(op.f("ix_passage_recording_id"), "passage", ["recording_id"], unique=False)
    op.create_index(op.f("ix_passage_version_id"), "passage", ["version_id"], unique=False)
    op.create_table(
        "version_block",
        sa.Column("version_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("block_id", sa.Integer(), nullable=False),
        sa.Column("speaker_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["block_id"], ["block.id"], name=op.f("fk_version_block_block_id_block")),
        sa.ForeignKeyConstraint(["speaker_id"], ["person.id"], name=op.f("fk_version_block_speaker_id_person")),
        sa.ForeignKeyConstraint(["version_id"], ["version.id"], name=op.f("fk_version_block_version_id_version")),
        sa.PrimaryKeyConstraint("version_id", "position", name=op.f("pk_version_block")),
    )
    op.create_index(op.f("ix_version_block_block_id"), "version_block", ["block_id"], unique=False)
    op.create_index(op.f("ix_version_block_speaker_id"), "version_block", ["speaker_id"], unique=False)
    op.create_table(
        "export_item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("export_id", sa.Integer(), nullable=False),
        sa.Column("excerpt_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("item", sa.Integer(), nullable=False),
        sa.Column("wording_sha256", sa.String(length=64), nullable=False),
        sa.Column("mask_digest", sa.String(length=64), nullable=False),
        sa.Column("attribution", sa.String(length=12), nullable=False),
        sa.Column("voice", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["excerpt_id"], ["excerpt.id"], name=op.f("fk_export_item_excerpt_id_excerpt")),
        sa.ForeignKeyConstraint(["export_id"], ["export.id"], name=op.f("fk_export_item_export_id_export")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_export_item_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_export_item")),
    )
    op.create_index(op.f("ix_export_item_excerpt_id"), "export_item", ["excerpt_id"], unique=False)
    op.create_index(op.f("ix_export_item_export_id"), "export_item", ["export_id"], unique=False)
    op.create_index(op.f("ix_export_item_person_id"), "export_item", ["person_id"], unique=False)
    op.create_table(
        "find_unit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("passage_id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("voicing_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["passage_id"], ["passage.id"], name=op.f("fk_find_unit_passage_id_passage")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_find_unit_recording_id_recording")),
        sa.ForeignKeyConstraint(["voicing_id"], ["voicing.id"], name=op.f("fk_find_unit_voicing_id_voicing")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_find_unit")),
    )
    op.create_index(op.f("ix_find_unit_passage_id"), "find_unit", ["passage_id"], unique=False)
    op.create_index("ix_find_unit_place", "find_unit", ["recording_id", "start_ms"], unique=False)
    op.create_index(op.f("ix_find_unit_recording_id"), "find_unit", ["recording_id"], unique=False)
    op.create_index(op.f("ix_find_unit_voicing_id"), "find_unit", ["voicing_id"], unique=False)
    op.create_table(
        "heard",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wording_sha256", sa.String(length=64), nullable=False),
        sa.Column("excerpt_id", sa.Integer(), nullable=False),
        sa.Column("second", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["excerpt_id"], ["excerpt.id"], name=op.f("fk_heard_excerpt_id_excerpt")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_heard")),
    )
    op.create_index(op.f("ix_heard_excerpt_id"), "heard", ["excerpt_id"], unique=False)
    op.create_index(op.f("ix_heard_wording_sha256"), "heard", ["wording_sha256"], unique=False)
    op.create_table(
        "find_text",
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("full_exact", sa.Text(), nullable=False),
        sa.Column("full_stem", sa.Text(), nullable=False),
        sa.Column("shown_exact", sa.Text(), nullable=False),
        sa.Column("shown_stem", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["unit_id"], ["find_unit.id"], name=op.f("fk_find_text_unit_id_find_unit")),
        sa.PrimaryKeyConstraint("unit_id", name=op.f("pk_find_text")),
    )
    op.create_table(
        "unit_tag",
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("tag_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("value", sa.String(length=120), nullable=False),
        sa.Column("shown", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["tag_id"], ["tag.id"], name=op.f("fk_unit_tag_tag_id_tag")),
        sa.ForeignKeyConstraint(["unit_id"], ["find_unit.id"], name=op.f("fk_unit_tag_unit_id_find_unit")),
        sa.PrimaryKeyConstraint("unit_id", "tag_id", "kind", "value", name=op.f("pk_unit_tag")),
    )
    op.create_index(op.f("ix_unit_tag_kind_value"), "unit_tag", ["kind", "value"], unique=False)
