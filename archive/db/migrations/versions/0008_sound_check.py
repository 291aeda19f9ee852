"""How loud a recording is to an ear, step by step, instead of one figure for its noise that nothing read."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Nothing is measured anew here: what was taken in before is when somebody asks for it."""
    op.add_column("measurement", sa.Column("ears", sa.LargeBinary(), nullable=True))
    op.drop_column("measurement", "noise_dbfs")
