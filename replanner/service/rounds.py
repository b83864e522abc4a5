"""What is due at an hour, dealt with one at a time: evenings, mornings, the road, the overdue.

One look at the clock takes on what is due from the database; a rider's next hour is worked out
anew each time from his zone, so that clock changes, journeys and nights without power neither
double nor lose a plan.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from replanner.advice.briefing import Briefing
from replanner.advice.figures import Figures
from replanner.advice.words import words_for
from replanner.clock import local_instant
from replanner.dialogue.events import (
    EveningCame,
    Event,
    MorningCame,
    OverdueCame,
    Replan,
    RoadCheckCame,
)
from replanner.dialogue.state import State
from replanner.errors import ForecastError
from replanner.people import Group, Member, MemberId
from replanner.ports import Work
from replanner.post import Due, DueKind
from replanner.service.after_downtime import Act, Waiting, catch_up, dropped_line, late_line
from replanner.service.coming_evening import ComingEvening, due_evening, evening_key
from replanner.service.day_dues import OVERDUE_AFTER, next_road_check
from replanner.service.dealing import Occasion, Ridden, Store, Told, deal
from replanner.service.group_plans import planner_for
from replanner.service.last_plan import last_plan_stale
from replanner.service.office import set_day_dues
from replanner.service.turns import Turns
from replanner.trip.model import Tour

# Plans are made so long before they are told, so that all of a full house (1,000 riders in groups
# of four, two processors, one of them kept for who asks) are told in time.
AHEAD = timedelta(minutes=20)
# Where a day names no hour of leaving. Assumption.
_LEAVES = time(7)
# Days further ahead have no plan whose hour of leaving would count.
_PLANNED_AT_MOST = timedelta(days=2)
# A day is over everywhere once it is over twelve hours west of Greenwich; three hours of grace.
_DAY_IS_OVER = timedelta(hours=15)
# An evening without a forecast is tried again after this, and as long as it is late by then.
_TRY_AGAIN = timedelta(minutes=10)
_TIDY_EVERY = timedelta(hours=1)
_KEPT_FOR = timedelta(days=14)  # how long a sent letter's text stays on record


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What the rounds act through, beside the store: see `office.Hands`."""

    ridden: Callable[[Group], Ridden]
    make: Callable[[Ridden, Replan], Briefing]
    now: Callable[[], datetime]


class _NoForecastError(Exception):
    """An evening has come to no new plan for want of a forecast: nothing of it is kept."""

    def __init__(self, cause: ForecastError) -> None:
        super().__init__(str(cause))
        self.cause = cause


class Rounds:
    """Deals with what is due."""

    def __init__(self, store: Store, means: Means) -> None:
        self._store, self._means = store, means
        self._turns = Turns()

    def do(self, due: Due) -> None:
        """Deal with one thing that is due.

        Raises
        ------
        ConflictError
            If another process was quicker; nothing is kept.
        StoreError
            If nothing can be kept.
        """
        match due.kind:
            case DueKind.EVENING:
                self._evening(due)
            case DueKind.HOUSEKEEPING:
                self._housekeeping(due)
            case DueKind.MORNING | DueKind.ROAD_CHECK | DueKind.OVERDUE:
                self._of_the_day(due)

    def _evening(self, due: Due) -> None:
        member = self._store.member(due.owner)
        group = self._store.group(member.group) if member else None
        if member is None or group is None or not member.reachable:
            return self._settle(due, None)
        # One rider of a group after another: the first one's plan serves the others.
        with self._turns.of(group.id):
            return self._evening_of(due, member, group)

    def _evening_of(self, due: Due, member: Member, group: Group) -> None:
        now, ridden = self._means.now(), self._means.ridden(group)
        planned = self._planned(member)
        leaving = self._departures(ridden, due, now)
        coming = due_evening(ZoneInfo(member.zone), member.evening_at, now, planned, leaving)
        if coming is None or coming.due - AHEAD > now:
            return self._settle(due, coming.due - AHEAD if coming else None)
        day = coming.day
        then = due_evening(ZoneInfo(member.zone), member.evening_at, now, {*planned, day}, leaving)

        lacking: list[ForecastError] = []

        def make(request: Replan) -> Briefing:
            try:
                return self._means.make(ridden, request)
            except ForecastError as error:
                lacking.append(error)
                raise

        settled = _settled(due, max(then.due - AHEAD, now) if then else None, ridden, now)

        def done(work: Work, told: Told | None) -> None:
            if lacking:
                raise _NoForecastError(lacking[0])
            settled(work, told)

        untold = replace(coming, missed=self._untold(member, coming))
        note = _late_note(untold, leaving[day], ridden.tour, now)
        occasion = Occasion(
            key=evening_key(member.id, day),
            event=lambda _: EveningCame(day=day, now=now, note=note),
            planner=planner_for(make, self._store, ridden.group.tour_key, now, shared=True),
            done=done,
            asked=False,
            not_before=coming.due,
        )
        try:
            deal(self._store, ridden, member, day, occasion, now)
        except _NoForecastError as none:
            self._without_forecast(due, coming, ridden, member, none.cause)

    def _without_forecast(
        self, due: Due, coming: ComingEvening, ridden: Ridden, member: Member, cause: ForecastError
    ) -> None:
        """Try an evening again later; once its hour has come, send the last plan or say why, once.

        The day still counts as not planned: the next plan that can be made is sent.
        """
        now, day = self._means.now(), coming.day
        if now < coming.due:
            return self._settle(due, min(now + _TRY_AGAIN, coming.due))
        key, then = _no_plan_key(member.id, day), now + max(_TRY_AGAIN, now - coming.due)
        if self._store.posted(key):
            return self._settle(due, then)

        def old(_: Replan) -> tuple[Briefing, bool]:
            last = last_plan_stale(self._store, ridden.group.tour_key, day, cause)
            if last is None:
                raise cause
            return last, False

        occasion = Occasion(
            key=key,
            event=lambda _: EveningCame(day=day, now=now),
            planner=old,
            done=_settled(due, then, ridden, now),
            asked=False,
        )
        return deal(self._store, ridden, member, day, occasion, now)

    def _untold(self, member: Member, coming: ComingEvening) -> tuple[date, ...]:
        """Return the days left on without a plan of which the rider was told nothing."""
        return tuple(
            day for day in coming.missed if not self._store.posted(_no_plan_key(member.id, day))
        )

    def _planned(self, member: Member) -> frozenset[date]:
        """Return the days whose plan this rider was sent."""
        begins = f"plan:{member.id}:"
        keys = self._store.posted(begins)
        return frozenset(
            date.fromisoformat(key.removeprefix(begins).partition(":")[0]) for key in keys
        )

    def _departures(self, ridden: Ridden, due: Due, now: datetime) -> dict[date, datetime]:
        """Return when each day since this was due is left: as planned, else as the file wishes."""
        zone = ridden.tour.zone
        first, today = due.at.astimezone(zone).date(), now.astimezone(zone).date()
        leaving = {}
        for day in ridden.tour.days:
            if day.date < first:
                continue
            near = today <= day.date <= today + _PLANNED_AT_MOST
            plan = self._store.last_plan(ridden.group.tour_key, day.date) if near else None
            wished = local_instant(
                day.date, day.own_departure or day.earliest_departure or _LEAVES, zone
            )
            leaves = plan.departure if plan and plan.departure else wished
            if leaves > due.at:  # one left before that was never waited for
                leaving[day.date] = leaves
        return leaving

    def _of_the_day(self, due: Due) -> None:
        now, group = self._means.now(), self._store.group(due.owner)
        speaker = next(iter(self._store.members(due.owner)), None)
        if group is None or speaker is None:
            return self._settle(due, None)
        ridden = self._means.ridden(group)
        day = now.astimezone(ridden.tour.zone).date()
        if due.kind is DueKind.OVERDUE:
            day = (due.at - OVERDUE_AFTER).astimezone(ridden.tour.zone).date()
        plan = self._store.last_plan(group.tour_key, day)
        if plan is None or not _of_use(due, plan, now):
            return self._drop(due, ridden, plan, now)

        occasion = Occasion(
            key=f"{due.kind}:{group.id}:{due.at.isoformat()}",
            event=lambda state: _event(due, day, state, now),
            planner=planner_for(
                lambda request: self._means.make(ridden, request),
                self._store,
                group.tour_key,
                now,
                shared=False,
            ),
            done=_settled(due, None, ridden, now),
            asked=False,
        )
        return deal(self._store, ridden, speaker, day, occasion, now)

    def _drop(self, due: Due, ridden: Ridden, plan: Briefing | None, now: datetime) -> None:
        """Let go of what is of no use any more; the road may still want looking at."""
        then = next_road_check(plan, ridden.tour, now) if plan else None
        with self._store.work() as work:
            work.settle(due, then if due.kind is DueKind.ROAD_CHECK else None)
            if due.kind is DueKind.MORNING:
                work.set_due(DueKind.ROAD_CHECK, ridden.group.id, then)

    def _housekeeping(self, due: Due) -> None:
        now = self._means.now()
        with self._store.work() as work:
            work.forget_positions((now - _DAY_IS_OVER).date())
            work.settle(due, now + _TIDY_EVERY)
        self._store.tidy(now - _KEPT_FOR)

    def _settle(self, due: Due, then: datetime | None) -> None:
        with self._store.work() as work:
            work.settle(due, then)


def _settled(
    due: Due, then: datetime | None, ridden: Ridden, now: datetime
) -> Callable[[Work, Told | None], None]:
    """Return what marks a thing due as done until then, and sets what it has made due."""

    def done(work: Work, told: Told | None) -> None:
        work.settle(due, then)
        if told is not None:
            set_day_dues(work, ridden, told.state, now)

    return done


def _no_plan_key(rider: MemberId, day: date) -> str:
    """Return the key that lets one word of it reach a rider that an evening has no new plan."""
    return f"no plan:{rider}:{day.isoformat()}"


def _event(due: Due, day: date, state: State, now: datetime) -> Event | None:
    if state.closed_down:
        return None
    match due.kind:
        case DueKind.MORNING:
            return MorningCame(day=day, now=now)
        case DueKind.ROAD_CHECK:
            return RoadCheckCame(day=day, now=now)
        case _:
            return OverdueCame(day=day, now=now)


def _of_use(due: Due, plan: Briefing, now: datetime) -> bool:
    waiting = Waiting(kind=due.kind, due=due.at, departure=plan.departure, arrival=plan.arrival)
    return catch_up(waiting, now).act is not Act.DROP


def _late_note(coming: ComingEvening, departure: datetime, tour: Tour, now: datetime) -> str:
    """Return what is said of a plan that comes late, and of those that never came."""
    figures = Figures(words_for("en"), tour.units, tour.zone, now.astimezone(tour.zone).date())
    lines = []
    if coming.due <= now:
        this = Waiting(kind=DueKind.EVENING, due=coming.due, departure=departure)
        lines.append(late_line(catch_up(this, now), figures))
    lost = [Waiting(kind=DueKind.EVENING, due=now, departure=now) for _ in coming.missed]
    lines.append(dropped_line([(one, catch_up(one, now)) for one in lost], figures.words))
    return " ".join(line for line in lines if line)
