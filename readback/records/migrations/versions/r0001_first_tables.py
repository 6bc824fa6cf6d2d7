"""The first tables: sessions, transmissions, judgements, corrections, tombstones."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "sessions",
        sa.Column("id", sa.Integer(), primary_key=True),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("organisation", "training")),
        *(sa.Column(name, sa.JSON(), nullable=False) for name in ("competencies", "topics")),
        sa.Column("training_date", sa.Date(), nullable=False),
        sa.Column("assessment_date", sa.Date()),
        *(
            sa.Column(name, sa.Text(), nullable=False)
            for name in ("instructor", "trainee", "group", "authority")
        ),
        *(sa.Column(name, sa.Text()) for name in ("callsign", "drill", "drill_hash")),
        *(
            sa.Column(name, sa.Text(), nullable=False)
            for name in ("grammar_version", "rules_version", "program_version")
        ),
        *(sa.Column(name, sa.Text()) for name in ("engine", "engine_model")),
        sa.Column("least_certainty", sa.Float(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.Column("pairing", sa.Text(), nullable=False),
        sa.Column("consent", sa.Boolean(), nullable=False),
        sa.Column("keep_until", sa.Date()),
        sa.Column("pass_mark", sa.Float()),
        sa.Column("result", sa.Text()),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("remarks", "begun_at")),
        sa.Column("finished_at", sa.Text()),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_sessions_trainee", "sessions", ["trainee"])
    op.create_index("ix_sessions_keep_until", "sessions", ["keep_until"])
    op.create_table(
        "transmissions",
        _session(),
        sa.Column("number", sa.Integer(), primary_key=True),
        sa.Column("kept_at", sa.Text(), nullable=False),
        sa.Column("heard", sa.JSON(), nullable=False),
        sa.Column("audio", sa.LargeBinary()),
    )
    op.create_table(
        "judgements",
        _session(),
        sa.Column("after_correction", sa.Integer(), primary_key=True),
        sa.Column("number", sa.Integer(), primary_key=True),
        sa.Column("instruction", sa.Integer(), nullable=False),
        sa.Column("readback", sa.Integer()),
        sa.Column("verdict", sa.JSON(), nullable=False),
        sa.Column("judged_at", sa.Text(), nullable=False),
    )
    op.create_table(
        "corrections",
        _session(),
        sa.Column("number", sa.Integer(), primary_key=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("target", sa.Integer()),
        *(sa.Column(name, sa.JSON()) for name in ("original", "corrected")),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("by", "at", "why")),
    )
    op.create_table(
        "tombstones",
        sa.Column("session_id", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("deleted_on", sa.Date(), nullable=False),
    )


def _session() -> sa.Column[int]:
    return sa.Column("session_id", sa.Integer(), sa.ForeignKey("sessions.id"), primary_key=True)
