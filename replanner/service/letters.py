"""What came of an event, as letters to the chats it concerns."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from replanner.clock import day_over
from replanner.dialogue.events import Audience, Say, SendTrack, ShowPicture
from replanner.people import Member, Role
from replanner.ports import PlanStore
from replanner.post import Body, Letter, PlanPicture, PlanTrack, Words
from replanner.service.desk import Upshot
from replanner.service.quiet import quiet_until

# What answers a call for help is dated back so far: a chat's letters go out by their dates, and
# one that cannot be sent keeps those behind it waiting. Longer than any letter waits.
_BEFORE_ALL_OTHERS = timedelta(days=7)
# A plan for a day is of no use once the day is over, nor is anything said about it.
_AFTER_THE_DAY = timedelta(hours=6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Whom the letters of an event are for.

    Parameters
    ----------
    asker : Member
    riders : sequence of Member
        The whole group, the asker included.
    key : str
        What the letters' keys begin with.
    tour_key : str
    day : date
        The day spoken about.
    asked : bool
        The asker has just spoken: he is answered in quiet hours too.
    first : bool
        What the asker is told goes before all that his chat still waits for.
    """

    asker: Member
    riders: Sequence[Member]
    key: str
    tour_key: str
    day: date
    asked: bool
    first: bool = False


def letters_of(
    upshots: Iterable[Upshot], address: Address, now: datetime, store: PlanStore
) -> tuple[Letter, ...]:
    """Return the letters of an event, in the order they are to arrive."""
    return tuple(_letters(upshots, address, now, store))


def _letters(
    upshots: Iterable[Upshot], address: Address, now: datetime, store: PlanStore
) -> Iterator[Letter]:
    for number, upshot in enumerate(upshots):
        over: datetime | None = None
        match upshot:
            case Say(to=to, urgent=urgent, useless_after=over):
                body: Body = Words(
                    text=upshot.text,
                    buttons=upshot.buttons,
                    serial=upshot.serial,
                    slot=f"{address.day}:{upshot.slot}" if upshot.slot else "",
                )
            case ShowPicture(briefing=briefing, to=to, unasked=unasked):
                kept = store.keep_to_show(address.tour_key, briefing)
                body, urgent = PlanPicture(plan=kept, unasked=unasked), False
            case SendTrack(briefing=briefing, to=to, unasked=unasked):
                kept = store.keep_to_show(address.tour_key, briefing)
                body, urgent = PlanTrack(plan=kept, unasked=unasked), False
            case _:
                continue
        for member in _audience(to, address):
            waits = _waits(member, address, now, urgent=urgent)
            first = address.first and member.id == address.asker.id
            yield Letter(
                key=f"{address.key}:{number}:{member.id}",
                chat=member.chat,
                body=body,
                not_before=now - _BEFORE_ALL_OTHERS if first else waits or now,
                useless_after=useless_after(address.day, member, now, over),
            )


def useless_after(
    day: date, member: Member, now: datetime, over: datetime | None = None
) -> datetime:
    """Return when something said of a day is of no use any more.

    Parameters
    ----------
    over : datetime or None
        When that is by itself; None, or past: a while after the day or after now.
    """
    if over is not None and over > now:
        return over
    zone = ZoneInfo(member.zone)
    ends = day_over(day, zone) + _AFTER_THE_DAY
    return max(ends, now + _AFTER_THE_DAY)


def _audience(to: Audience, address: Address) -> Iterator[Member]:
    for member in (address.asker, *address.riders):
        own = member.id == address.asker.id
        if own and (member is not address.asker or not to.holds_asker):
            continue
        if not own and to is Audience.ASKER:
            continue
        if to is Audience.LEADERS and member.role is not Role.LEADER:
            continue
        if member.reachable or (own and address.asked):
            yield member


def _waits(member: Member, address: Address, now: datetime, *, urgent: bool) -> datetime | None:
    """Return until when a rider is left in peace; None: told at once."""
    if urgent or (address.asked and member.id == address.asker.id):
        return None
    ends = quiet_until(now, member.quiet_from, member.quiet_to, ZoneInfo(member.zone))
    hushed = member.hushed_until if member.hushed_until and member.hushed_until > now else None
    return max((one for one in (ends, hushed) if one is not None), default=None)
