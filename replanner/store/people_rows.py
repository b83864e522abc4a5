"""Who may talk to us, and what tour they ride."""

import hashlib
import secrets
from datetime import datetime, time
from typing import Any

from sqlalchemy import Select, delete, insert, select, update
from sqlalchemy.engine import CursorResult, Row

from replanner.errors import InputError
from replanner.people import ChatId, Group, GroupId, Invitation, Member, MemberId, Role
from replanner.store.rows import Rows, insert_or
from replanner.store.tables import asides, groups, invitations, members

_CODE_BYTES = 12  # 96 bits: not to be guessed, and short enough to be typed


class PeopleRows(Rows):
    """Groups, members, invitations within one transaction."""

    def member_of(self, chat: ChatId) -> Member | None:
        """Return the member a chat belongs to."""
        return self._member(select(members).where(members.c.chat == chat))

    def member(self, member: MemberId) -> Member | None:
        """Return a member."""
        return self._member(select(members).where(members.c.id == member))

    def group(self, group: GroupId) -> Group | None:
        """Return a group."""
        row = self._connection.execute(select(groups).where(groups.c.id == group)).first()
        if row is None:
            return None
        return Group(id=row.id, tour_text=row.tour_text, revision=row.revision)

    def members(self, group: GroupId) -> tuple[Member, ...]:
        """Return the members of a group, leaders first."""
        rows = self._connection.execute(
            select(members)
            .where(members.c.group == group)
            .order_by(members.c.role != Role.LEADER.value, members.c.id)
        )
        return tuple(_as_member(row) for row in rows)

    def group_riding(self, tour_text: str) -> Group | None:
        """Return the group whose tour file has exactly that text."""
        row = self._connection.execute(
            select(groups).where(groups.c.tour_text == tour_text).order_by(groups.c.id).limit(1)
        ).first()
        if row is None:
            return None
        return Group(id=row.id, tour_text=row.tour_text, revision=row.revision)

    def new_group(self, tour_text: str) -> Group:
        """Make a group for a tour."""
        made = self._connection.execute(insert(groups).values(tour_text=tour_text, revision=1))
        return Group(id=_key(made), tour_text=tour_text, revision=1)

    def invite(self, group: GroupId, role: Role, expires: datetime) -> str:
        """Return a code for one chat; only its hash is kept."""
        code = secrets.token_urlsafe(_CODE_BYTES)
        self._connection.execute(
            insert(invitations).values(
                code_hash=_hash(code), group=group, role=role.value, expires=expires
            )
        )
        return code

    def invitation(self, code: str) -> Invitation | None:
        """Return what a code is good for, None if nothing."""
        row = self._connection.execute(_good(code, self._transaction.now())).first()
        if row is None:
            return None
        return Invitation(group=row.group, role=Role(row.role), expires=row.expires)

    def join(
        self, code: str, chat: ChatId, now: datetime, defaults: tuple[str, time, time, time]
    ) -> Member | None:
        """Let a chat use an invitation; None: no such code, used, or expired.

        Raises
        ------
        InputError
            If the chat is a member already: the code stays good.
        """
        row = self._connection.execute(_good(code, now).with_for_update()).first()
        if row is None:
            return None
        if self.member_of(chat) is not None:
            raise InputError(
                "this chat belongs to a group already", mend="erase its data first, then join"
            )
        self._connection.execute(
            update(invitations).where(invitations.c.code_hash == _hash(code)).values(used_at=now)
        )
        zone, evening_at, quiet_from, quiet_to = defaults
        made = self._connection.execute(
            insert(members).values(
                group=row.group,
                chat=chat,
                role=row.role,
                zone=zone,
                evening_at=evening_at,
                quiet_from=quiet_from,
                quiet_to=quiet_to,
                reachable=True,
            )
        )
        return self.member(_key(made))

    def change_member(self, member: Member) -> None:
        """Keep what a member has set."""
        self._connection.execute(
            update(members)
            .where(members.c.id == member.id)
            .values(
                role=member.role.value,
                zone=member.zone,
                evening_at=member.evening_at,
                quiet_from=member.quiet_from,
                quiet_to=member.quiet_to,
                hushed_until=member.hushed_until,
                reachable=member.reachable,
            )
        )

    def change_tour(self, group: GroupId, text: str) -> Group:
        """Give a group another tour file; one set aside is not needed any more."""
        self._connection.execute(
            update(groups)
            .where(groups.c.id == group)
            .values(tour_text=text, revision=groups.c.revision + 1)
        )
        self._connection.execute(delete(asides).where(asides.c.group == group))
        changed = self.group(group)
        if changed is None:
            raise ValueError(f"there is no group {group}")
        return changed

    def set_aside(self, group: GroupId, token: str, text: str) -> None:
        """Keep a tour file until the leader has said yes; the one set aside before goes."""
        values = {"token": token, "tour_text": text}
        self._connection.execute(
            insert_or(self._connection, asides)
            .values(group=group, **values)
            .on_conflict_do_update(index_elements=["group"], set_=values)
        )

    def aside(self, group: GroupId, token: str) -> str | None:
        """Return a tour file set aside."""
        return self._connection.scalar(
            select(asides.c.tour_text).where(asides.c.group == group, asides.c.token == token)
        )

    def _member(self, query: Select[Any]) -> Member | None:
        row = self._connection.execute(query).first()
        return None if row is None else _as_member(row)


def _key(made: CursorResult[Any]) -> int:
    key = made.inserted_primary_key
    if key is None:
        raise ValueError("not the outcome of an insert of one row")
    return int(key[0])


def _good(code: str, now: datetime) -> Select[Any]:
    return select(invitations).where(
        invitations.c.code_hash == _hash(code),
        invitations.c.used_at.is_(None),
        invitations.c.expires > now,
    )


def _hash(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


def _as_member(row: Row[Any]) -> Member:
    return Member(
        id=row.id,
        group=row.group,
        chat=row.chat,
        role=Role(row.role),
        zone=row.zone,
        evening_at=row.evening_at,
        quiet_from=row.quiet_from,
        quiet_to=row.quiet_to,
        hushed_until=row.hushed_until,
        reachable=row.reachable,
    )
