"""Groups, their talks, what comes in, what goes out, what is due; instants of one width."""

import json
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = "1"

_INSTANT = sa.String()  # as `instants` writes them
# What plans told in English before it was told as values: it cannot be had back from the words.
_WORDED = frozenset({"spare_limit", "to_ride_it", "breaks", "better_when"})
_OF_OLD = {"plans": ("made_at", "accepted_at"), "conversations": ("kept_at",)}


def upgrade() -> None:
    """Bring version 1 to version 2; no plan is lost."""
    _widen_instants()
    _leave_out_wording()
    _talks()
    _groups()
    _post()
    op.execute("UPDATE replanner_schema SET version = 2")


def _widen_instants() -> None:
    """Write every instant with microseconds, so that the texts sort as the instants do."""
    connection = op.get_bind()
    for table, columns in _OF_OLD.items():
        for name in columns:
            column = sa.column(name, sa.String())
            of = sa.table(table, column)
            for (old,) in connection.execute(
                sa.select(column).where(column.is_not(None)).distinct()
            ).all():
                new = datetime.fromisoformat(old).astimezone(UTC).isoformat(timespec="microseconds")
                connection.execute(sa.update(of).where(column == old).values({name: new}))


def _leave_out_wording() -> None:
    """Make the plans kept readable again; all that is planned in them stays."""
    connection = op.get_bind()
    plans = sa.table("plans", sa.column("id", sa.Integer()), sa.column("briefing", sa.Text()))
    for key, text in connection.execute(sa.select(plans.c.id, plans.c.briefing)).all():
        new = json.dumps(_without_wording(json.loads(text)), ensure_ascii=False)
        connection.execute(sa.update(plans).where(plans.c.id == key).values(briefing=new))


def _without_wording(thing: Any) -> Any:
    if isinstance(thing, list):
        return [_without_wording(part) for part in thing]
    if not isinstance(thing, dict):
        return thing
    less: dict[str, Any] = {
        key: None if key in _WORDED and isinstance(value, str) else _without_wording(value)
        for key, value in thing.items()
    }
    blame = less.get("blame", ())
    return less | {"blame": []} if any(isinstance(one, str) for one in blame) else less


def _talks() -> None:
    op.create_table(
        "talks",
        sa.Column("tour_key", sa.String(), primary_key=True),
        sa.Column("member", sa.Integer(), primary_key=True),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("talk", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("kept_at", _INSTANT, nullable=False),
    )
    op.create_table(
        "log",
        sa.Column("tour_key", sa.String(), primary_key=True),
        sa.Column("day", sa.Date(), primary_key=True),
        sa.Column("leg", sa.String(), primary_key=True),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("remark", sa.String(), nullable=False),
        sa.Column("written_at", _INSTANT, nullable=False),
    )


def _groups() -> None:
    op.create_table(
        "groups",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("tour_text", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "asides",
        sa.Column("group", sa.Integer(), sa.ForeignKey("groups.id"), primary_key=True),
        sa.Column("token", sa.String(), nullable=False),
        sa.Column("tour_text", sa.Text(), nullable=False),
    )
    op.create_table(
        "members",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("group", sa.Integer(), sa.ForeignKey("groups.id"), nullable=False),
        sa.Column("chat", sa.BigInteger(), nullable=False, unique=True),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("evening_at", sa.Time(), nullable=False),
        sa.Column("quiet_from", sa.Time(), nullable=False),
        sa.Column("quiet_to", sa.Time(), nullable=False),
        sa.Column("hushed_until", _INSTANT),
        sa.Column("reachable", sa.Boolean(), nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_members_group", "members", ["group"])
    op.create_table(
        "invitations",
        sa.Column("code_hash", sa.String(64), primary_key=True),
        sa.Column("group", sa.Integer(), sa.ForeignKey("groups.id"), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("expires", _INSTANT, nullable=False),
        sa.Column("used_at", _INSTANT),
    )
    op.create_index("ix_invitations_group", "invitations", ["group"])


def _post() -> None:
    op.create_table(
        "arrivals",
        sa.Column("number", sa.BigInteger(), primary_key=True, autoincrement=False),
        sa.Column("chat", sa.BigInteger()),
        sa.Column("raw", sa.Text()),
        sa.Column("received_at", _INSTANT, nullable=False),
        sa.Column("dealt_at", _INSTANT),
    )
    _index_where("arrivals_waiting", "arrivals", ["chat", "number"], "dealt_at IS NULL")
    op.create_table(
        "letters",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("key", sa.String(), nullable=False, unique=True),
        sa.Column("chat", sa.BigInteger(), nullable=False),
        sa.Column("slot", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("body", sa.Text()),
        sa.Column("not_before", _INSTANT, nullable=False),
        sa.Column("useless_after", _INSTANT),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("retry_at", _INSTANT),
        sa.Column("claimed_by", sa.String(32)),
        sa.Column("claimed_until", _INSTANT),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("doubtful", sa.Boolean(), nullable=False),
        sa.Column("message", sa.BigInteger()),
        sa.Column("done_at", _INSTANT),
        sa.Column("cause", sa.String()),
        sqlite_autoincrement=True,
    )
    waiting = "state = 'waiting'"
    _index_where("letters_by_age", "letters", ["not_before", "id"], waiting)
    _index_where("letters_by_chat", "letters", ["chat", "not_before", "id"], waiting)
    op.create_index("letters_by_slot", "letters", ["chat", "slot"])
    op.create_table(
        "due",
        sa.Column("kind", sa.String(), primary_key=True),
        sa.Column("owner", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("at", _INSTANT, nullable=False),
        sa.Column("claimed_until", _INSTANT),
    )
    op.create_index("ix_due_at", "due", ["at"])


def _index_where(name: str, table: str, columns: list[str], where: str) -> None:
    condition = sa.text(where)
    op.create_index(name, table, columns, sqlite_where=condition, postgresql_where=condition)
