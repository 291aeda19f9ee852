"""One list for every kind of work: its order, what waits for an idle machine, measured speed; and derived copies for listening."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add columns; jobs keep the order in which they were asked for."""
    op.execute("ALTER TABLE job RENAME COLUMN done_ms TO done")
    op.execute("ALTER TABLE job RENAME COLUMN total_ms TO total")
    op.add_column("job", sa.Column("place", sa.Integer(), server_default="0", nullable=False))
    op.add_column("job", sa.Column("idle", sa.Boolean(), server_default="0", nullable=False))
    op.add_column("job", sa.Column("speeds", sa.JSON(), server_default="[]", nullable=False))
    op.add_column("job", sa.Column("machine", sa.String(length=16), server_default="", nullable=False))
    op.execute("UPDATE job SET place = id")
