"""Of what a date is told, where that is on record as well: an event of the calendar, a birth, an age (rules/memory.py)."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"


def upgrade() -> None:
    """Add a column; suggestions of before have it once their recording is described anew."""
    op.add_column("tag", sa.Column("about", sa.String(140), nullable=False, server_default=""))
    op.create_index(op.f("ix_tag_about"), "tag", ["about"])
