"""Places: names and what they lie within hold for a time; languages of names; latitude and longitude."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"


def upgrade() -> None:
    """What a place lay within goes into a table of its own. SQLite drops a column with a key only with its table, and no table that
    others point at: these rows wait aside meanwhile."""
    for aside, columns, table in (
        ("aside_name", "id, place_id, text, kind, by, at", "place_name"),
        ("aside_place", "id, within_id, same_as_id", "place"),
    ):
        op.execute(f"CREATE TEMPORARY TABLE {aside} AS SELECT {columns} FROM {table}")
    op.drop_table("place_name")
    op.execute("UPDATE place SET within_id = NULL, same_as_id = NULL")
    op.drop_index("ix_place_within_id", "place")
    with op.batch_alter_table("place") as place:
        place.drop_constraint("fk_place_within_id_place", type_="foreignkey")
        place.drop_column("within_id")
        for name in ("valid_from", "valid_until"):
            place.alter_column(name, type_=sa.String(length=60), existing_type=sa.String(length=20), existing_nullable=True)
        place.add_column(sa.Column("language", sa.String(length=35), server_default="", nullable=False))
        place.add_column(sa.Column("latitude", sa.Float(), nullable=True))
        place.add_column(sa.Column("longitude", sa.Float(), nullable=True))
    op.execute("UPDATE place SET same_as_id = (SELECT same_as_id FROM aside_place WHERE aside_place.id = place.id)")
    op.create_table(
        "place_name",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("text", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("edtf", sa.String(length=60), server_default="", nullable=False),
        sa.Column("language", sa.String(length=35), server_default="", nullable=False),
        sa.Column("by", sa.String(length=80), server_default="", nullable=False),
        sa.Column("at", sa.String(length=32), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_place_name_place_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place_name")),
        sa.UniqueConstraint("place_id", "text", name=op.f("uq_place_name_place_id_text")),
    )
    op.create_index(op.f("ix_place_name_place_id"), "place_name", ["place_id"], unique=False)
    op.execute("INSERT INTO place_name (id, place_id, text, kind, by, at) SELECT id, place_id, text, kind, by, at FROM aside_name ORDER BY id")
    op.create_table(
        "place_within",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("within_id", sa.Integer(), nullable=False),
        sa.Column("edtf", sa.String(length=60), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_place_within_place_id_place")),
        sa.ForeignKeyConstraint(["within_id"], ["place.id"], name=op.f("fk_place_within_within_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place_within")),
        sa.UniqueConstraint("place_id", "within_id", "edtf", name=op.f("uq_place_within_place_id_within_id_edtf")),
    )
    op.create_index(op.f("ix_place_within_place_id"), "place_within", ["place_id"], unique=False)
    op.create_index(op.f("ix_place_within_within_id"), "place_within", ["within_id"], unique=False)
    op.execute("INSERT INTO place_within (place_id, within_id) SELECT id, within_id FROM aside_place WHERE within_id IS NOT NULL ORDER BY id")
    op.execute("DROP TABLE aside_name")
    op.execute("DROP TABLE aside_place")
