"""Invented members, letters and talks that tests put into a store."""

from datetime import UTC, date, datetime, time

from replanner.dialogue.events import Replan
from replanner.dialogue.kept import KeptTalk
from replanner.dialogue.state import Turn
from replanner.geodesy import Point
from replanner.people import Member, Role
from replanner.post import Letter, Words
from replanner.store.store import Store
from replanner.trip.edits import Demands
from replanner.trip.underway import Underway
from tests.dialogue.evening import DAY, SENT, plan

PLAN = plan(Replan(day=DAY, demands=Demands()))
OTHER = plan(Replan(day=DAY, demands=Demands(left_out=frozenset({"hask"}))))
DEFAULTS = ("Pacific/Auckland", time(19, 30), time(21), time(6, 30))
HERE = Point(-40.123457, 176.654329, 12.5)  # invented
BEFORE = Point(-40.987643, 176.111213, 8.0)  # invented


def joined(store: Store, *chats: int, group: int | None = None) -> tuple[Member, ...]:
    """Let chats join a group, the first as its leader; a new group unless one is named."""
    at = store.new_group("a tour").id if group is None else group
    members = []
    for chat in chats:
        role = Role.RIDER if members or group is not None else Role.LEADER
        code = store.invite(at, role, datetime(2030, 1, 1, tzinfo=UTC))
        with store.work() as work:
            member = work.join(code, chat, SENT, DEFAULTS)
        assert member is not None
        members.append(member)
    return tuple(members)


def letter(key: str, chat: int, *, slot: str = "", at: datetime = SENT, **more: object) -> Letter:
    return Letter(key=key, chat=chat, body=Words(text=key, slot=slot), not_before=at, **more)  # type: ignore[arg-type]


def post(store: Store, *letters: Letter) -> None:
    with store.work() as work:
        work.post(letters)


def underway(point: Point, at: datetime = SENT) -> Underway:
    return Underway(at=at, ready=at, point=point, live=True)


def talk(day: date = DAY, *, serial: int = 1, now: Point | None = None) -> KeptTalk:
    """Return a conversation; with a position, also in what could be undone."""
    before = None if now is None else underway(BEFORE)
    return KeptTalk(
        day=day,
        demands=Demands(underway=None if now is None else underway(now)),
        shown=None,
        trial=None,
        history=(
            Turn(demands=Demands(underway=before), shown=None, accepted=None, what="running late"),
        ),
        question=None,
        own_caution_shown=False,
        cautions_shown=True,
        serial=serial,
    )
