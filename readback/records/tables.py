"""The tables; `migrations/` makes them, and a test holds the two together."""

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Date,
    Float,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

METADATA = MetaData()

SESSIONS = Table(
    "sessions",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("organisation", Text, nullable=False),
    Column("training", Text, nullable=False),
    Column("competencies", JSON, nullable=False),
    Column("topics", JSON, nullable=False),
    Column("training_date", Date, nullable=False),
    Column("assessment_date", Date),
    Column("instructor", Text, nullable=False),
    Column("trainee", Text, nullable=False, index=True),
    Column("group", Text, nullable=False),
    Column("authority", Text, nullable=False),
    Column("callsign", Text),
    Column("drill", Text),
    Column("drill_hash", Text),
    Column("grammar_version", Text, nullable=False),
    Column("rules_version", Text, nullable=False),
    Column("local_version", Text),
    Column("program_version", Text, nullable=False),
    Column("engine", Text),
    Column("engine_model", Text),
    Column("least_certainty", Float, nullable=False),
    Column("settings", JSON, nullable=False),
    Column("pairing", Text, nullable=False),
    Column("consent", Boolean, nullable=False),
    Column("keep_until", Date, index=True),
    Column("pass_mark", Float),
    Column("result", Text),
    Column("remarks", Text, nullable=False),
    Column("begun_at", Text, nullable=False),
    Column("finished_at", Text),
    # Numbers of deleted sessions stay with their tombstones.
    sqlite_autoincrement=True,
)

TRANSMISSIONS = Table(
    "transmissions",
    METADATA,
    Column("session_id", ForeignKey("sessions.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("kept_at", Text, nullable=False),
    Column("heard", JSON, nullable=False),
    Column("told_by", Text),
    Column("least_certainty", Float),
    Column("audio", LargeBinary),
)

JUDGEMENTS = Table(
    "judgements",
    METADATA,
    Column("session_id", ForeignKey("sessions.id"), primary_key=True),
    Column("after_correction", Integer, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("instruction", Integer, nullable=False),
    Column("readback", Integer),
    Column("verdict", JSON, nullable=False),
    Column("judged_at", Text, nullable=False),
)
"""``after_correction`` is 0 for the first verdicts, else the correction that made these."""

CORRECTIONS = Table(
    "corrections",
    METADATA,
    Column("session_id", ForeignKey("sessions.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("target", Integer),
    Column("original", JSON),
    Column("corrected", JSON),
    Column("by", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("why", Text, nullable=False),
)

WORDINGS = Table(
    "wordings",
    METADATA,
    Column("version", Text, primary_key=True),
    Column("files", JSON, nullable=False),
)
"""An operator's own wording by its content: name and text of each file, in their order."""

TOMBSTONES = Table(
    "tombstones",
    METADATA,
    Column("session_id", Integer, primary_key=True, autoincrement=False),
    Column("deleted_on", Date, nullable=False),
)

PERSONAL = (JUDGEMENTS, CORRECTIONS, TRANSMISSIONS)
"""What goes with a session; in the order in which it is deleted."""
