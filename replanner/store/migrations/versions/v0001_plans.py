"""Plans and what is in force: the tables of the terminal alone."""

import sqlalchemy as sa
from alembic import op

revision = "1"
down_revision = None


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "replanner_schema",
        sa.Column("id", sa.Integer(), sa.CheckConstraint("id = 1"), primary_key=True),
        sa.Column("version", sa.Integer(), nullable=False),
    )
    op.execute("INSERT INTO replanner_schema (id, version) VALUES (1, 1)")
    op.create_table(
        "plans",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("tour_key", sa.String(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.Column("accepted_at", sa.String()),
        sa.Column("briefing", sa.Text(), nullable=False),
        sa.UniqueConstraint("tour_key", "day", "version"),
    )
    op.create_index(
        "one_accepted_plan_a_day",
        "plans",
        ["tour_key", "day"],
        unique=True,
        sqlite_where=sa.text("accepted = 1"),
        postgresql_where=sa.text("accepted"),
    )
    op.create_table(
        "conversations",
        sa.Column("tour_key", sa.String(), primary_key=True),
        sa.Column("day", sa.Date(), primary_key=True),
        sa.Column("memory", sa.Text(), nullable=False),
        sa.Column("kept_at", sa.String(), nullable=False),
    )
