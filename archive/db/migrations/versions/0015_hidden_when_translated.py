"""What was hidden in the original when a translation was written."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"


def upgrade() -> None:
    """Add a column; of translations of before nobody kept it."""
    op.add_column("translation", sa.Column("hidden", sa.JSON(none_as_null=True), nullable=True))
