"""Who typed a tick in, whether it stood on a sheet, and what stood around the quote when it was heard a second time."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add columns; nothing that is on record changes."""
    op.add_column("heard", sa.Column("typed_by", sa.String(length=80), server_default="", nullable=False))
    op.add_column("heard", sa.Column("from_sheet", sa.Boolean(), server_default="0", nullable=False))
    op.add_column("heard", sa.Column("around", sa.JSON(), server_default="[]", nullable=False))
