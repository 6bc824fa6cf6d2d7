"""An operator's own wording, kept with the sessions that it judged."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table, and name the wording of each session; older ones had none."""
    op.create_table(
        "wordings",
        sa.Column("version", sa.Text(), primary_key=True),
        sa.Column("files", sa.JSON(), nullable=False),
    )
    op.add_column("sessions", sa.Column("local_version", sa.Text()))
