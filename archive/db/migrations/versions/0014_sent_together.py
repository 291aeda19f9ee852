"""Files that were sent together through a browser, and when each was known to be what was sent."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    """Add two columns; what is on its way was sent alone."""
    op.add_column("upload", sa.Column("batch", sa.String(length=32), nullable=False, server_default=""))
    op.add_column("upload", sa.Column("as_of", sa.BigInteger(), nullable=False, server_default="0"))
    op.create_index(op.f("ix_upload_batch"), "upload", ["batch"], unique=False)
    op.execute("UPDATE upload SET batch = key")
