"""What a job found, beside its one line in the list: exports, recordings taken in."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    """Add the column; jobs of before keep their line alone."""
    op.add_column("job", sa.Column("outcome", sa.JSON(), server_default="{}", nullable=False))
