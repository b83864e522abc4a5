"""The tables as they are now; how older files come to be so stands in `migrations/versions`.

Whose rows they are, to export and to erase, is told by `privacy` for every table named here.
"""

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    Time,
    UniqueConstraint,
    true,
)

from replanner.store.instants import Instant

SCHEMA_VERSION = 2

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
    Column("version", Integer, nullable=False),  # within a tour and day from 1; below: only to show
    Column("made_at", Instant, nullable=False),
    Column("accepted", Boolean, nullable=False),
    Column("accepted_at", Instant),
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
    "conversations",  # what is in force for the group
    metadata,
    Column("tour_key", String, primary_key=True),
    Column("day", Date, primary_key=True),
    Column("memory", Text, nullable=False),
    Column("kept_at", Instant, nullable=False),
)

talks = Table(
    "talks",  # each rider's own part of a conversation
    metadata,
    Column("tour_key", String, primary_key=True),
    Column("member", Integer, primary_key=True),
    Column("day", Date, nullable=False),
    Column("talk", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("kept_at", Instant, nullable=False),
)

log = Table(
    "log",
    metadata,
    Column("tour_key", String, primary_key=True),
    Column("day", Date, primary_key=True),
    Column("leg", String, primary_key=True),
    Column("outcome", String, nullable=False),
    Column("remark", String, nullable=False),
    Column("written_at", Instant, nullable=False),
)

groups = Table(
    "groups",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tour_text", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    sqlite_autoincrement=True,  # the number of an erased group is never given again
)

asides = Table(
    "asides",
    metadata,
    Column("group", ForeignKey(groups.c.id), primary_key=True),
    Column("token", String, nullable=False),
    Column("tour_text", Text, nullable=False),
)

members = Table(
    "members",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("group", ForeignKey(groups.c.id), nullable=False, index=True),
    Column("chat", BigInteger, nullable=False, unique=True),
    Column("role", String, nullable=False),
    Column("zone", String, nullable=False),
    Column("evening_at", Time, nullable=False),
    Column("quiet_from", Time, nullable=False),
    Column("quiet_to", Time, nullable=False),
    Column("hushed_until", Instant),
    Column("reachable", Boolean, nullable=False),
    sqlite_autoincrement=True,
)

invitations = Table(
    "invitations",
    metadata,
    Column("code_hash", String(64), primary_key=True),  # SHA-256 of the code, in hexadecimal
    Column("group", ForeignKey(groups.c.id), nullable=False, index=True),
    Column("role", String, nullable=False),
    Column("expires", Instant, nullable=False),
    Column("used_at", Instant),
)

arrivals = Table(
    "arrivals",
    metadata,
    Column("number", BigInteger, primary_key=True, autoincrement=False),
    Column("chat", BigInteger),  # empty with the text once dealt with: the number alone stays
    Column("raw", Text),
    Column("received_at", Instant, nullable=False),
    Column("dealt_at", Instant),
)
Index(
    "arrivals_waiting",
    arrivals.c.chat,
    arrivals.c.number,
    sqlite_where=arrivals.c.dealt_at.is_(None),
    postgresql_where=arrivals.c.dealt_at.is_(None),
)

WAITING, SENT, GIVEN_UP, USELESS = "waiting", "sent", "given up", "useless"

letters = Table(
    "letters",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("key", String, nullable=False, unique=True),
    Column("chat", BigInteger, nullable=False),
    Column("slot", String, nullable=False),
    Column("kind", String, nullable=False),
    Column("body", Text),  # empty once it is sent or given up
    Column("not_before", Instant, nullable=False),  # the order within a chat, with the number
    Column("useless_after", Instant),
    Column("state", String, nullable=False),
    Column("retry_at", Instant),
    Column("claimed_by", String(32)),
    Column("claimed_until", Instant),
    Column("tries", Integer, nullable=False),
    Column("doubtful", Boolean, nullable=False),  # it may have arrived already
    Column("message", BigInteger),
    Column("done_at", Instant),
    Column("cause", String),
    sqlite_autoincrement=True,
)
_WAITS = letters.c.state == WAITING
Index(
    "letters_by_age",
    letters.c.not_before,
    letters.c.id,
    sqlite_where=_WAITS,
    postgresql_where=_WAITS,
)
Index(
    "letters_by_chat",
    letters.c.chat,
    letters.c.not_before,
    letters.c.id,
    sqlite_where=_WAITS,
    postgresql_where=_WAITS,
)
Index("letters_by_slot", letters.c.chat, letters.c.slot)

due = Table(
    "due",
    metadata,
    Column("kind", String, primary_key=True),
    Column("owner", Integer, primary_key=True, autoincrement=False),
    Column("at", Instant, nullable=False, index=True),
    Column("claimed_until", Instant),
)
