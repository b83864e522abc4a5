"""An INVENTED tour that never ends, a rider on it, and a clock the test sets: for the rounds.

The plan of every day is the same loop, left at half past eight. Nothing is searched.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from replanner.advice.briefing import Briefing
from replanner.clock import local_instant
from replanner.dialogue.book import book_of
from replanner.dialogue.events import Replan
from replanner.errors import ForecastError, NoPlanError
from replanner.geodesy import Point
from replanner.people import Group, Member, Role
from replanner.post import Due, DueKind
from replanner.service.dealing import Ridden
from replanner.service.rounds import Means, Rounds
from replanner.store.store import Store, open_store
from replanner.trip.edits import Demands
from replanner.trip.model import Day, Leg, LegKind, Place, Rider, Tour
from tests.dialogue.evening import plan as evening_plan

LEAVES, EVENING = time(8, 30), time(19, 30)
_BASE = Place(id="orrowick", name="Orrowick", point=Point(-40.1, 176.6, 10.0))
_LEG = Leg(
    id="quern",
    name="Quern Point loop",
    kind=LegKind.LOOP,
    start="orrowick",
    end="orrowick",
    riding_minutes=90.0,
    distance_km=70.0,
    worth_minutes=100.0,
)


def long_tour(zone: str, first: date, days: int) -> Tour:
    """Return a tour of so many days, each with the one loop."""
    return Tour(
        name="Coast of Lanterns",
        zone=ZoneInfo(zone),
        places={_BASE.id: _BASE},
        legs={_LEG.id: _LEG},
        days=tuple(
            Day(
                date=first + timedelta(days=number),
                start=_BASE.id,
                end=_BASE.id,
                own_order=(_LEG.id,),
                own_departure=LEAVES,
            )
            for number in range(days)
        ),
        riders=(Rider(id="one", leader=True),),
        invented=True,
    )


class Watch:
    """A store, its rounds and one rider, on a clock that the test moves."""

    def __init__(self, folder: Path, tour: Tour, begins: datetime, evening_at: time = EVENING):
        self.now = begins
        self.tour = tour
        self.offline = False
        self.no_road = False
        self.planned: list[tuple[datetime, date]] = []
        self.change: Callable[[Briefing], Briefing] = lambda briefing: briefing
        self.store: Store = open_store(str(folder / "state.sqlite"), lambda: self.now)
        self.group: Group = self.store.new_group("the long tour")
        self.riders: list[Member] = []
        self.rider = self.join(1, Role.LEADER, evening_at)
        self.rounds = Rounds(
            self.store, Means(ridden=self.ridden, make=self.make, now=lambda: self.now)
        )

    def join(self, chat: int, role: Role, evening_at: time = EVENING) -> Member:
        """Let a chat ride along."""
        code = self.store.invite(self.group.id, role, self.now + timedelta(days=1))
        defaults = (self.tour.zone.key, evening_at, time(22), time(6))
        with self.store.work() as work:
            member = work.join(code, chat, self.now, defaults)
            assert member is not None
            work.set_due(DueKind.EVENING, member.id, self.now)
        self.riders.append(member)
        return member

    def ridden(self, group: Group) -> Ridden:
        """Return the group with its tour."""
        return Ridden(group=group, tour=self.tour, book=book_of(self.tour))

    def make(self, ridden: Ridden, request: Replan) -> Briefing:
        """Plan a day as it always is, changed as the test wants."""
        if self.offline:
            raise ForecastError("no network", mend="try again later")
        if self.no_road:
            raise NoPlanError("no road leads there")
        self.planned.append((self.now, request.day))
        departure = local_instant(request.day, LEAVES, ridden.tour.zone)
        found = evening_plan(Replan(day=request.day, demands=Demands(departure=departure)))
        return self.change(replace(found, zone=ridden.tour.zone.key, made_at=self.now))

    def next_due(self) -> datetime | None:
        """Return when something is due next, without taking it on."""
        return min((due.at for due in self.dues()), default=None)

    def dues(self) -> list[Due]:
        """Return all that will be due, as the database has it."""
        with self.store._database.reading() as connection:
            rows = connection.exec_driver_sql("SELECT kind, owner, at FROM due").all()
        return [Due(kind=DueKind(r[0]), owner=r[1], at=_instant(r[2])) for r in rows]

    def look(self) -> list[Due]:
        """Do what is due now; returns it."""
        done: list[Due] = []
        while dues := self.store.claim_due(self.now, timedelta(minutes=5), 64):
            for due in dues:
                self.rounds.do(due)
            done += dues
        return done

    def run_until(self, end: datetime, late: timedelta = timedelta(seconds=20)) -> list[Due]:
        """Let the clock run from due to due, each found a little late."""
        done: list[Due] = []
        while (due := self.next_due()) is not None and due < end:
            self.now = max(self.now, due + late)
            done += self.look()
        self.now = max(self.now, end)
        return done

    def evenings(self, member: Member | None = None) -> list[str]:
        """Return the dates whose plan was posted to a rider, in order."""
        begins = f"plan:{(member or self.rider).id}:"
        keys = {key.removeprefix(begins).partition(":")[0] for key in self.store.posted(begins)}
        return sorted(keys)


def _instant(stored: object) -> datetime:
    if isinstance(stored, int):
        return datetime.fromtimestamp(stored / 1_000_000, UTC)
    found = datetime.fromisoformat(str(stored))
    return found if found.tzinfo else found.replace(tzinfo=UTC)
