"""One event of one rider, dealt with whole: plans made, everything stored, letters posted, at once.

The conversation runs first and touches nothing (`desk.attend`). Then one transaction keeps what
came of it together with the mark that the event is done. If another process was quicker, nothing
is kept, and what it did is looked at anew.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import NoReturn, Protocol

from replanner.dialogue.book import TourBook
from replanner.dialogue.events import Event, PlanShared, Replan, Share
from replanner.dialogue.kept import Common, kept, taken_up
from replanner.dialogue.state import State
from replanner.errors import ConflictError
from replanner.people import Group, Member, Role
from replanner.ports import People, PlanStore, PostOffice, Work
from replanner.service.desk import Planner, Upshot, attend, keep
from replanner.service.letters import Address, letters_of
from replanner.trip.model import Tour


class Store(PostOffice, People, PlanStore, Protocol):
    """Everything that is kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden:
    """A group with its tour, as read."""

    group: Group
    tour: Tour
    book: TourBook


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """How the conversation of a rider stands.

    Parameters
    ----------
    revision : int
        Of the rider's own part.
    common : Common
        Of the group.
    """

    state: State
    revision: int
    common: Common


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What came of an event for one rider."""

    member: Member
    before: Found
    state: State
    upshots: tuple[Upshot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """Why a rider is spoken to.

    Parameters
    ----------
    key : str
        Tells this occasion from all others: letters of it are kept once.
    event : callable
        What happens, by how the conversation stands; None: nothing after all.
    planner : Planner
    done : callable
        Marks the occasion as done within the transaction, with what only the caller knows to
        keep; raises ConflictError if it was done.
    asked : bool
        The rider has just spoken: quiet hours do not count.
    first : bool
        What is said comes before all that the rider's chat still waits for. If it leaves the
        conversation as it was, so does this: the next "ok" is about the day spoken of before.
    not_before : datetime or None
        Prepared ahead: told then.
    """

    key: str
    event: Callable[[State], Event | None]
    planner: Planner
    done: Callable[[Work, Told | None], None]
    asked: bool
    first: bool = False
    not_before: datetime | None = None


def deal(
    store: Store, ridden: Ridden, member: Member, day: date, occasion: Occasion, now: datetime
) -> None:
    """Deal with an event of a rider and of those who ride with him.

    Raises
    ------
    ConflictError
        If another process was quicker; nothing is kept.
    StoreError
        If nothing can be kept.
    """
    found = state_of(store, ridden, member, day)
    event = occasion.event(found.state)
    if event is None:
        with store.work() as work:
            occasion.done(work, None)
        return
    after, upshots = attend(found.state, event, occasion.planner)
    first = Told(member=member, before=found, state=after, upshots=upshots)
    riders = store.members(ridden.group.id)
    others = _others(store, ridden, first, riders, now)
    with store.work() as work:
        _require_unchanged(work, first)
        for one in (first, *others):
            key = ridden.group.tour_key
            keep(work, key, one.upshots, now)
            if not (occasion.first and one.state == one.before.state):
                work.keep_talk(key, one.member.id, kept(one.state), one.before.revision)
            address = Address(
                asker=one.member,
                riders=riders,
                key=f"{occasion.key}:{one.member.id}",
                tour_key=key,
                day=one.state.day,
                asked=occasion.asked and one is first,
                first=occasion.first and one is first,
            )
            then = max(now, occasion.not_before or now)
            work.post(letters_of(one.upshots, address, then, work))
        occasion.done(work, first)


def state_of(store: Store, ridden: Ridden, member: Member, day: date) -> Found:
    """Return how the conversation of a rider about a day stands."""
    key = ridden.group.tour_key
    talk, revision = store.talk(key, member.id) or (None, 0)
    common = Common(
        memory=store.recall(key, day),
        accepted=store.accepted_plan(key, day),
        last=store.last_plan(key, day),
    )
    leads = member.role is Role.LEADER
    state = taken_up(talk, common, day, tour_key=key, book=ridden.book, leads=leads)
    return Found(state=state, revision=revision, common=common)


def _require_unchanged(work: Work, told: Told) -> None:
    """Refuse to keep what was worked out from wishes that are not the group's any more."""
    state = told.before.state
    if work.recall(state.tour_key, state.day) != told.before.common.memory:
        raise ConflictError("another rider of the group was quicker")


def _others(
    store: Store, ridden: Ridden, first: Told, riders: tuple[Member, ...], now: datetime
) -> list[Told]:
    """Show the rest of the group the plan that is theirs now."""
    shares = [upshot for upshot in first.upshots if isinstance(upshot, Share)]
    if not shares:
        return []
    newest = shares[-1]
    event = PlanShared(
        briefing=newest.briefing,
        demands=newest.demands,
        cause=newest.cause,
        sent=now,
        useless_after=newest.useless_after,
    )
    told = []
    for member in riders:
        if member.id == first.member.id or not member.reachable:
            continue
        before = state_of(store, ridden, member, newest.briefing.date)
        state, upshots = attend(before.state, event, _no_plan)
        told.append(Told(member=member, before=before, state=state, upshots=upshots))
    return told


def _no_plan(_: Replan) -> NoReturn:
    raise AssertionError("a plan that is shown asks for no other")
