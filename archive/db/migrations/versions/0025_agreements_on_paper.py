"""How people may be reached; forms that were printed; papers that were signed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0023"


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
