"""The tables of the plan store. Times are ISO 8601 text in UTC, so that any tool can read them."""

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Date,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    true,
)

SCHEMA_VERSION = 1

metadata = MetaData()

schema = Table(
    "replanner_schema",
    metadata,
    Column("id", Integer, CheckConstraint("id = 1"), primary_key=True),
    Column("version", Integer, nullable=False),
)

plans = Table(
    "plans",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tour_key", String, nullable=False),
    Column("day", Date, nullable=False),
    Column("version", Integer, nullable=False),  # counts from 1 within a tour and day
    Column("made_at", String, nullable=False),
    Column("accepted", Boolean, nullable=False),
    Column("accepted_at", String),
    Column("briefing", Text, nullable=False),
    UniqueConstraint("tour_key", "day", "version"),
)

# The database itself sees to it that no day has two accepted plans.
Index(
    "one_accepted_plan_a_day",
    plans.c.tour_key,
    plans.c.day,
    unique=True,
    sqlite_where=plans.c.accepted == true(),
    postgresql_where=plans.c.accepted == true(),
)

conversations = Table(
    "conversations",
    metadata,
    Column("tour_key", String, primary_key=True),
    Column("day", Date, primary_key=True),
    Column("memory", Text, nullable=False),
    Column("kept_at", String, nullable=False),
)
