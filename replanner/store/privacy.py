"""Whose every row is: to hand it over, and to erase it."""

from collections.abc import Callable, Mapping
from datetime import date, datetime, time
from typing import Any

from sqlalchemy import ColumnElement, Table, and_, delete, or_, select, update

from replanner.people import Group, Member, MemberId
from replanner.post import DueKind
from replanner.store.people_rows import PeopleRows
from replanner.store.tables import (
    arrivals,
    asides,
    conversations,
    due,
    groups,
    invitations,
    letters,
    log,
    members,
    metadata,
    plans,
    schema,
    talks,
)

Clause = Callable[[Member, Group], ColumnElement[bool]]

_OF_MEMBERS = (DueKind.EVENING.value,)
_OF_NOBODY = (DueKind.HOUSEKEEPING.value,)

OF_MEMBER: Mapping[Table, Clause] = {
    members: lambda member, _: members.c.id == member.id,
    talks: lambda member, _: talks.c.member == member.id,
    arrivals: lambda member, _: arrivals.c.chat == member.chat,
    letters: lambda member, _: letters.c.chat == member.chat,
    due: lambda member, _: and_(due.c.kind.in_(_OF_MEMBERS), due.c.owner == member.id),
}
"""What goes with a member."""

OF_GROUP: Mapping[Table, Clause] = {
    groups: lambda _, group: groups.c.id == group.id,
    plans: lambda _, group: plans.c.tour_key == group.tour_key,
    conversations: lambda _, group: conversations.c.tour_key == group.tour_key,
    talks: lambda _, group: talks.c.tour_key == group.tour_key,
    log: lambda _, group: log.c.tour_key == group.tour_key,
    asides: lambda _, group: asides.c.group == group.id,
    invitations: lambda _, group: invitations.c.group == group.id,
    due: lambda _, group: and_(
        due.c.kind.not_in(_OF_MEMBERS + _OF_NOBODY), due.c.owner == group.id
    ),
}
"""What is the group's: shown to every member, and gone with the last one."""

OF_NOBODY = frozenset({schema})

# Other members' own parts are in the group's tables, but not this member's to see.
_NOT_SHOWN = frozenset({talks})


class PrivacyRows(PeopleRows):
    """Export and erasure within one transaction."""

    def export(self, member: MemberId) -> dict[str, Any]:
        """Return everything kept of a member, by table: rows as what JSON can hold."""
        found = self._found(member)
        if found is None:
            return {}
        return {
            table.name: [
                {name: _plain(value) for name, value in row._mapping.items()}  # noqa: SLF001 - SQLAlchemy's public name of it
                for row in self._connection.execute(
                    select(table)
                    .where(or_(*self._clauses(table, *found)))
                    .order_by(*table.primary_key)
                )
            ]
            for table in metadata.sorted_tables
            if table not in OF_NOBODY
        }

    def erase(self, member: MemberId) -> None:
        """Erase everything of a member; with the last one, everything of the group."""
        found = self._found(member)
        if found is None:
            return
        self._transaction.forgot = True
        who, group = found
        last = self.members(group.id) == (who,)
        for table in reversed(metadata.sorted_tables):
            if table is arrivals:
                self._erase_arrivals(who, group)
            elif table in OF_MEMBER:
                self._connection.execute(delete(table).where(OF_MEMBER[table](who, group)))
            if last and table in OF_GROUP:
                self._connection.execute(delete(table).where(OF_GROUP[table](who, group)))

    def _found(self, member: MemberId) -> tuple[Member, Group] | None:
        who = self.member(member)
        group = None if who is None else self.group(who.group)
        return None if who is None or group is None else (who, group)

    def _clauses(self, table: Table, member: Member, group: Group) -> list[ColumnElement[bool]]:
        of_group = {} if table in _NOT_SHOWN else OF_GROUP
        return [owns[table](member, group) for owns in (OF_MEMBER, of_group) if table in owns]

    def _erase_arrivals(self, member: Member, group: Group) -> None:
        """Erase what arrived; the numbers stay, so that it is not taken for new."""
        mine = and_(OF_MEMBER[arrivals](member, group), arrivals.c.dealt_at.is_(None))
        numbers = self._connection.scalars(
            select(arrivals.c.number).where(mine).with_for_update()
        ).all()
        self._transaction.erased_arrivals.update(numbers)
        self._connection.execute(
            update(arrivals)
            .where(mine)
            .values(chat=None, raw=None, dealt_at=self._transaction.now())
        )


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime | date | time) else value
