"""Of what a date is told, where that is on record as well (rules/memory.py); and the date that a person notes beside an excerpt."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"


def upgrade() -> None:
    """Add columns; suggestions of before have theirs once their recording is described anew."""
    op.add_column("tag", sa.Column("about", sa.String(140), nullable=False, server_default=""))
    op.create_index(op.f("ix_tag_about"), "tag", ["about"])
    op.add_column("excerpt", sa.Column("dated", sa.String(40), nullable=False, server_default=""))
