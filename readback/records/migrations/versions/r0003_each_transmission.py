"""Of each transmission: how it is known who spoke, and how certain a verdict on it must be."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; the older transmissions are judged as their session says."""
    op.add_column("transmissions", sa.Column("told_by", sa.Text()))
    op.add_column("transmissions", sa.Column("least_certainty", sa.Float()))
