"""A quote with words left out, shown in the translations of its pieces."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"


def upgrade() -> None:
    """Add one column."""
    op.add_column("excerpt", sa.Column("translations_after", sa.JSON(), server_default="[]", nullable=False))
