"""Which language is spoken where, translations beside the original, and the glossary."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Add tables and columns; nothing that is on record changes: a recording is in the language it came with, a quote in its original."""
    op.create_table(
        "spoken_language",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=True),
        sa.Column("end_ms", sa.Integer(), nullable=True),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_spoken_language_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spoken_language")),
    )
    op.create_index(op.f("ix_spoken_language_recording_id"), "spoken_language", ["recording_id"], unique=False)
    op.create_table(
        "translation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("recording_id", sa.Integer(), nullable=False),
        sa.Column("start_ms", sa.Integer(), nullable=False),
        sa.Column("end_ms", sa.Integer(), nullable=False),
        sa.Column("original_sha256", sa.String(length=64), nullable=False),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("translator", sa.String(length=80), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.CheckConstraint("end_ms > start_ms", name=op.f("ck_translation_stretch")),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name=op.f("fk_translation_recording_id_recording")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_translation")),
    )
    op.create_index(op.f("ix_translation_code"), "translation", ["code"], unique=False)
    op.create_index(op.f("ix_translation_recording_id"), "translation", ["recording_id"], unique=False)
    op.create_table(
        "glossary",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("word", sa.String(length=120), nullable=False),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("meanings", sa.JSON(), nullable=False),
        sa.Column("sensitive", sa.Boolean(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_glossary")),
        sa.UniqueConstraint("word", "language", name=op.f("uq_glossary_word_language")),
    )
    op.add_column("excerpt", sa.Column("shows", sa.String(length=12), server_default="original", nullable=False))
    op.add_column("excerpt", sa.Column("translation", sa.String(length=20), server_default="", nullable=False))
    closed = "(SELECT count(*) FROM fact WHERE key = 'erasing') = 0"
    for table in ("spoken_language", "translation"):
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER guard_{table}_{act.lower()} BEFORE {act} ON {table} WHEN {closed} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
            )
        op.execute(
            f"CREATE TRIGGER guard_{table}_replace BEFORE INSERT ON {table} WHEN {closed} AND EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id) "
            f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
        )
