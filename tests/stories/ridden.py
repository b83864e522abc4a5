"""A story is ridden twice: through the bot's office and rounds, and through a terminal's talk.

Tour and weather are the demo's, INVENTED; the planner is the real one. The clock is the test's. A
plan is made once for the same wish at the same hour under the same sky, whoever asks. What a story
says of hours is local time of the tour.
"""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from math import nan
from pathlib import Path
from typing import Any

import pandas as pd
import requests

from replanner.advice.briefing import Briefing
from replanner.channels import terminal
from replanner.channels.telegram.incoming import arrived, button_data, read
from replanner.clock import local_instant
from replanner.dialogue.book import book_of
from replanner.dialogue.events import (
    Button,
    EveningCame,
    Event,
    LogLeg,
    Memory,
    MorningCame,
    OverdueCame,
    Pressed,
    Replan,
    RiderSaid,
    RoadCheckCame,
    Say,
)
from replanner.errors import ForecastError, ReplannerError
from replanner.files.resources import demo_file
from replanner.geodesy import Point
from replanner.people import Group, Member, Role
from replanner.planning.rules import Rules
from replanner.post import DueKind, PlanPicture, PlanTrack, TextFile, Words
from replanner.service.day_dues import OVERDUE_AFTER
from replanner.service.dealing import Ridden
from replanner.service.evening import plan_day
from replanner.service.files_in import FileDesk
from replanner.service.group_plans import planner_for
from replanner.service.joining import Hours, Joining
from replanner.service.office import Hands, Office
from replanner.service.one_rider import Heard, OneRider
from replanner.service.planner import Means
from replanner.service.pressure import Pressure
from replanner.service.rounds import Means as RoundsMeans
from replanner.service.rounds import Rounds
from replanner.service.whereabouts import position_event
from replanner.sources.http import make_session
from replanner.sources.invented import CREDIT, SERVICE, InventedWeek
from replanner.sources.open_meteo import OpenMeteo
from replanner.store.store import Store, open_store
from replanner.trip.timing import Speeds
from replanner.weather.hourly import Forecast, PointId, Window
from tests.service.test_evening import LIMITS
from tests.trip.rides import demo

TOUR = demo()
TOUR_TEXT = demo_file("tour.toml").read_text(encoding="utf-8")
THURSDAY, FRIDAY, SATURDAY, SUNDAY, MONDAY = (date(2027, 4, day) for day in range(1, 6))
LEADER = 101
_LEASE = timedelta(minutes=5)
_A_MOMENT = timedelta(seconds=20)  # several letters to one chat go out one after another
_DAYS = {f"{day.date:%a}": day.date for day in TOUR.days} | {"Wed": date(2027, 3, 31)}

Change = Callable[[Point, pd.DataFrame], pd.DataFrame]


def at(when: str) -> datetime:
    """Return the instant of "Fri 19:30" of the tour."""
    day, clock = when.split()
    return local_instant(_DAYS[day], time.fromisoformat(clock), TOUR.zone)


# ---------------------------------------------------------------------------------------- the sky


class Sky:
    """The invented week over loopback HTTP; a test lets it turn, or lets the service fall silent.

    `turn` is a change of a point's table from now on; `now` is when an answer counts as fetched.
    """

    def __init__(self, base_url: str, session: requests.Session) -> None:
        self._source = OpenMeteo(
            session,
            base_url=base_url,
            service=SERVICE,
            credit=CREDIT,
            invented=True,
        )
        self._fetched: dict[tuple[frozenset[tuple[PointId, Point]], Window], Forecast] = {}
        self.plans: dict[Any, Briefing | ReplannerError] = {}
        self.clear()

    def clear(self) -> None:
        """Let it be as invented again."""
        self.turns: tuple[Change, ...] = ()
        self.silent = False
        self.now = at("Wed 12:00")

    @property
    def name(self) -> tuple[tuple[Change, ...], bool]:
        """What tells this sky from any other."""
        return self.turns, self.silent

    def hourly(self, points: Any, window: Window) -> Forecast:
        if self.silent:
            raise ForecastError("no answer", where=SERVICE, mend="try again later")
        asked = frozenset(points.items()), window
        if asked not in self._fetched:
            self._fetched[asked] = self._source.hourly(points, window)
        found = self._fetched[asked]
        tables = {point: table.copy() for point, table in found.tables.items()}
        for turn in self.turns:
            tables = {point: turn(points[point], table) for point, table in tables.items()}
        return replace(found, tables=tables, origin=replace(found.origin, fetched=self.now))

    def plan(self, request: Replan, now: datetime) -> Briefing:
        """Plan with the real planner, once for each question."""
        wish = replace(request, trial=False, wish=False, why_asked="")
        asked = (wish, now, self.name)
        if asked not in self.plans:
            self.now = now
            try:
                self.plans[asked] = plan_day(
                    TOUR, TOUR.day(request.day), now, request.demands, self._means()
                ).briefing
            except ReplannerError as error:
                self.plans[asked] = error
        found = self.plans[asked]
        if isinstance(found, ReplannerError):
            raise found
        return found

    def _means(self) -> Means:
        return Means(
            forecasts=self,
            limits=LIMITS,
            rules=Rules(),
            speeds=Speeds(),
            detour_factor=1.4,
            language="en",
        )


@contextmanager
def one_sky() -> Iterator[Sky]:
    """Serve the invented week."""
    with InventedWeek(demo_file("week.toml")) as week, make_session(retries=0) as session:
        yield Sky(week.base_url, session)


# ------------------------------------------------------------------------------- what a story does


@dataclass(frozen=True)
class Note:
    """One message as a rider reads it, with what can be pressed below it."""

    text: str
    buttons: tuple[Button, ...] = ()
    serial: int = 0
    silent: bool = False

    def __contains__(self, words: str) -> bool:
        return words in self.text

    def word_of(self, label: str) -> str:
        """Return the word of a button."""
        (word,) = [one.word for one in self.buttons if one.label == label]
        return word


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What a story has come to."""

    accepted: dict[date, Briefing | None]
    memories: dict[date, Memory]
    log: tuple[LogLeg, ...]
    told: tuple[str, ...]


@dataclass(frozen=True)
class Hour:
    """Something the clock did: what, when, and of which day."""

    kind: DueKind
    now: datetime
    day: date

    def event(self) -> Event:
        match self.kind:
            case DueKind.EVENING:
                return EveningCame(day=self.day, now=self.now)
            case DueKind.MORNING:
                return MorningCame(day=self.day, now=self.now)
            case DueKind.ROAD_CHECK:
                return RoadCheckCame(day=self.day, now=self.now)
            case _:
                return OverdueCame(day=self.day, now=self.now)


class KilledError(BaseException):
    """The power goes: nothing more happens in this process."""


@dataclass
class Ride:
    """A rider of a story, whichever way he talks.

    Parameters
    ----------
    sky : Sky
    folder : Path
    frail : bool
        The process is killed while it plans, each time it begins to, and after every word.
    """

    sky: Sky
    folder: Path
    frail: bool
    now: datetime
    notes: list[Note] = field(default_factory=list)
    deaths: int = 0
    _died: set[Any] = field(default_factory=set)

    def plan(self, request: Replan) -> Briefing:
        asked = (request, self.now)
        if self.frail and asked not in self._died:
            self._died.add(asked)
            raise KilledError
        return self.sky.plan(request, self.now)

    def open_store(self) -> Store:
        return open_store(str(self.folder / "state.sqlite"), lambda: self.now)

    # What is read off

    @property
    def last(self) -> Note:
        return self.notes[-1]

    def since(self, number: int) -> str:
        return "\n".join(note.text for note in self.notes[number:])


class ByBot(Ride):
    """Office, rounds, store and letters in one process, without the network."""

    def begin(self) -> None:
        self.store = self.open_store()
        self.group: Group = self.store.new_group(TOUR_TEXT)
        self.tour_key = self.group.tour_key
        self._number, self._messages = 0, 0
        self.diary: list[Hour] = []
        self.chats: dict[int, list[Note]] = {}
        # Pictures and tracks that come unasked with an evening: a terminal has none.
        self.files_of: dict[int, list[str]] = {}
        self.pictured: list[PlanPicture] = []
        self._open_office()
        self.joins(LEADER, Role.LEADER)

    def _open_office(self) -> None:
        hands = Hands(
            read=read,
            ridden=lambda _: self._ridden(self.group),
            make=lambda _, request: self.plan(request),
            refuse_stranger=lambda chat: self.chats.setdefault(chat, []).append(Note("Not you.")),
            say_at_once=lambda chat, line: self.chats.setdefault(chat, []).append(Note(line)),
            now=lambda: self.now,
        )
        hours = Hours(evening_at=time(19, 30), quiet_from=time(22), quiet_to=time(6))
        joining = Joining(self.store, self._ridden, hours)
        files = FileDesk(self.store, _no_file, _no_file, _no_file)
        self.office = Office(self.store, hands, joining, files, Pressure())
        means = RoundsMeans(
            ridden=self._ridden, make=lambda _, request: self.plan(request), now=lambda: self.now
        )
        self.rounds = Rounds(self.store, means)

    @staticmethod
    def _ridden(group: Group) -> Ridden:
        return Ridden(group=group, tour=TOUR, book=book_of(TOUR))

    def is_killed(self) -> None:
        """The process dies and another begins."""
        self.deaths += 1
        self.store.close()
        self.store = self.open_store()
        self._open_office()

    def joins(self, chat: int, role: Role) -> None:
        """Somebody lets himself in by an invitation."""
        code = self.store.invite(self.group.id, role, self.now + timedelta(days=1))
        self.chats[chat] = []
        frail, self.frail = self.frail, False
        self.says(code, chat=chat)
        self.frail = frail
        self.chats[chat].clear()
        self.notes.clear()

    def member(self, chat: int = LEADER) -> Member:
        found = self.store.member_of(chat)
        assert found is not None
        return found

    # What riders do

    def says(self, text: str, *, chat: int = LEADER, sent: datetime | None = None) -> str:
        """A rider types a line; return what all it makes the bot tell him, as one text."""
        return self._message({"text": text}, chat, sent)

    def presses(self, label: str, note: Note, *, chat: int = LEADER) -> str:
        """A rider presses a button of a message."""
        data = button_data(note.word_of(label), note.serial)
        press = {"id": "press", "data": data, "from": {"id": chat}}
        press["message"] = {"chat": {"id": chat, "type": "private"}, "date": 0}
        return self._happens({"callback_query": press}, chat)

    def shares(self, point: Point, *, live: bool = False, chat: int = LEADER) -> str:
        """A rider shares where he is."""
        place: dict[str, Any] = {"latitude": point.latitude, "longitude": point.longitude}
        if live:
            place["live_period"] = 28_800
        return self._message({"location": place}, chat, None)

    def _message(self, what: dict[str, Any], chat: int, sent: datetime | None) -> str:
        head = {
            "chat": {"id": chat, "type": "private"},
            "from": {"id": chat},
            "date": int((sent or self.now).timestamp()),
        }
        return self._happens({"message": head | what}, chat)

    def _happens(self, update: dict[str, Any], chat: int) -> str:
        self._number += 1
        known = len(self.chats[chat])
        self.store.receive([arrived(json.loads(json.dumps({"update_id": self._number} | update)))],
                           self.now)  # fmt: skip
        while waiting := self.store.waiting(10):
            try:
                for one in waiting:
                    self.office.handle(one)
            except KilledError:
                self.is_killed()
        self._deliver()
        if self.frail:
            self.is_killed()
        return "\n".join(note.text for note in self.chats[chat][known:])

    def until(self, when: str) -> str:
        """Let the clock run; return what the leader was told meanwhile."""
        return self.passes(at(when))

    def passes(self, end: datetime) -> str:
        """Let the clock run until an instant."""
        known = len(self.notes)
        while (due := self._next_hour()) is not None and due <= end:
            self.now = max(self.now, due)
            for one in self.store.claim_due(self.now, _LEASE, 64):
                before = self._days_planned()
                while True:  # a morning may ask for two plans, and dies at each
                    try:
                        self.rounds.do(one)
                        break
                    except KilledError:
                        self.is_killed()
                self._write_down(one.kind, one.at, self._days_planned() - before)
            self._deliver()
        self.now = max(self.now, end)
        self._deliver()
        return self.since(known)

    def _days_planned(self) -> frozenset[date]:
        begins = f"plan:{self.member().id}:"
        keys = self.store.posted(begins)
        return frozenset(date.fromisoformat(key.split(":")[2]) for key in keys)

    def _write_down(self, kind: DueKind, due: datetime, planned: frozenset[date]) -> None:
        if kind is DueKind.HOUSEKEEPING or (kind is DueKind.EVENING and not planned):
            return
        day = (due - OVERDUE_AFTER).astimezone(TOUR.zone).date()
        if kind is not DueKind.OVERDUE:
            day = next(iter(planned), self.now.astimezone(TOUR.zone).date())
        self.diary.append(Hour(kind, self.now, day))

    def _next_hour(self) -> datetime | None:
        """Return when something is due next, or a letter may go."""
        with self.store._database.reading() as connection:
            dues = connection.exec_driver_sql("SELECT min(at) FROM due").scalar()
            letters = connection.exec_driver_sql(
                "SELECT min(not_before) FROM letters WHERE state = 'waiting'"
            ).scalar()
        found = [_instant(one) for one in (dues, letters) if one is not None]
        return min(found, default=None)

    def _deliver(self) -> None:
        while claimed := self.store.claim(self.now + _A_MOMENT, _LEASE, 10):
            for one in claimed:
                self._messages += 1
                chat = one.letter.chat
                self.store.sent(one.row, self._messages, self.now)
                note = _note(one.letter.body)
                if note is None:
                    continue
                if isinstance(one.letter.body, PlanPicture):
                    self.pictured.append(one.letter.body)
                if getattr(one.letter.body, "unasked", False):
                    self.files_of.setdefault(chat, []).append(note.text)
                    continue
                self.chats.setdefault(chat, []).append(note)
                if chat == LEADER:
                    self.notes.append(note)

    def outcome(self) -> Outcome:
        return _outcome(self.store, self.tour_key, self.notes)


def _note(body: object) -> Note | None:
    match body:
        case Words():
            return Note(body.text, body.buttons, body.serial, body.silent)
        case PlanPicture(plan=plan):
            return Note(f"[picture of {plan.day}]")
        case PlanTrack(plan=plan):
            return Note(f"[GPX of {plan.day}]")
        case TextFile(name=name, text=text):
            return Note(f"[{name}]\n{text}")
        case _:
            return None


def _no_file(*_: object) -> Any:
    raise AssertionError("no story sends a file")


def _instant(stored: object) -> datetime:
    if isinstance(stored, int):
        return datetime.fromtimestamp(stored / 1_000_000, TOUR.zone)
    found = datetime.fromisoformat(str(stored))
    return found if found.tzinfo else found.replace(tzinfo=TOUR.zone)


class ByTerminal(Ride):
    """The conversation of one rider at a terminal; it is told the hours that the bot found."""

    def follows(self, diary: list[Hour]) -> None:
        self._diary = list(diary)

    def begin(self) -> None:
        self.tour_key = "at the terminal"
        self.store = self.open_store()
        self._day = THURSDAY
        self._sit_down()

    def _sit_down(self) -> None:
        self._rider = OneRider(
            self.store, self.tour_key, book_of(TOUR), self._day, self._planned, lambda: self.now
        )

    def _planned(self, request: Replan) -> tuple[Briefing, bool]:
        ask = planner_for(self.plan, self.store, self.tour_key, self.now, shared=False)
        return ask(request)

    def is_killed(self) -> None:
        self.deaths += 1
        self._day = self._rider.state.day
        self.store.close()
        self.store = self.open_store()
        self._sit_down()

    def says(self, text: str, *, sent: datetime | None = None) -> str:
        return self._happens(lambda: RiderSaid(text=text, sent=sent or self.now, arrived=self.now))

    def presses(self, label: str, note: Note) -> str:
        word = note.word_of(label)
        return self._happens(lambda: Pressed(word=word, serial=note.serial, sent=self.now))

    def shares(self, point: Point, *, live: bool = False) -> str:
        flat = Point(point.latitude, point.longitude, nan)  # a phone's position has no height
        return self._happens(
            lambda: position_event(TOUR, self._rider.state, flat, self.now, live=live)
        )

    def until(self, when: str) -> str:
        return self.passes(at(when))

    def passes(self, end: datetime) -> str:
        known = len(self.notes)
        while self._diary and self._diary[0].now <= end:
            hour = self._diary.pop(0)
            self.now = max(self.now, hour.now)
            self._happens(hour.event)
        self.now = max(self.now, end)
        return self.since(known)

    def _happens(self, event: Callable[[], Event]) -> str:
        known = len(self.notes)
        while True:
            try:
                terminal.happen(event(), self._hands())
                break
            except KilledError:
                self.is_killed()
        if self.frail:
            self.is_killed()
        return self.since(known)

    def _hands(self) -> terminal.Hands:
        said: dict[str, Say] = {}

        def hear(event: Event) -> Heard:
            heard = self._rider.hear(event)
            said.update({one.text: one for one in heard.effects if isinstance(one, Say)})
            return heard

        def say(text: str) -> None:
            if text == terminal.FILES_TOLD:
                return
            one = said.get(text, Say(text=text))
            told = text.removeprefix("Written: ")
            self.notes.append(Note(told, one.buttons, one.serial))

        return terminal.Hands(
            hear=hear,
            say=say,
            picture=lambda plan: f"[picture of {plan.date}]",
            track=lambda plan: f"[GPX of {plan.date}]",
            own_data="Yours lies in state.sqlite.",
            now=lambda: self.now,
        )

    def outcome(self) -> Outcome:
        return _outcome(self.store, self.tour_key, self.notes)


def _outcome(store: Store, tour_key: str, notes: list[Note]) -> Outcome:
    days = [day.date for day in TOUR.days]
    return Outcome(
        accepted={day: store.accepted_plan(tour_key, day) for day in days},
        memories={day: store.recall(tour_key, day) for day in days},
        log=store.logged(tour_key),
        told=tuple(note.text for note in notes),
    )


Story = Callable[["ByBot | ByTerminal"], None]


class Teller:
    """Lets stories happen: by the bot, at the terminal, with the power going all the time."""

    def __init__(self, sky: Sky, folder: Path) -> None:
        self.sky, self._folder, self._rides = sky, folder, 0

    def both_ways(self, story: Story, begins: str = "Thu 19:00") -> ByBot:
        """Let a story happen both ways and require the same end; return the bot's."""
        bot = self.by_bot(story, begins)
        same_end(bot, self._at_terminal(story, begins, bot, frail=False))
        return bot

    def killed_all_the_time(self, story: Story, unharmed: ByBot, begins: str = "Thu 19:00") -> None:
        """Require the same end with the process killed at every plan and after every word."""
        bot = self.by_bot(story, begins, frail=True)
        same_end(unharmed, bot)
        at_terminal = self._at_terminal(story, begins, unharmed, frail=True)
        same_end(unharmed, at_terminal)
        assert min(bot.deaths, at_terminal.deaths) > len(unharmed.outcome().told)

    def by_bot(self, story: Story, begins: str = "Thu 19:00", *, frail: bool = False) -> ByBot:
        """Let a story happen by the bot alone."""
        self.sky.clear()
        bot = ByBot(sky=self.sky, folder=self._new_folder(), frail=frail, now=at(begins))
        bot.begin()
        story(bot)
        return bot

    def _at_terminal(self, story: Story, begins: str, bot: ByBot, *, frail: bool) -> "ByTerminal":
        self.sky.clear()
        rider = ByTerminal(sky=self.sky, folder=self._new_folder(), frail=frail, now=at(begins))
        rider.follows(bot.diary)
        rider.begin()
        story(rider)
        return rider

    def _new_folder(self) -> Path:
        self._rides += 1
        folder = self._folder / str(self._rides)
        folder.mkdir()
        return folder


def same_end(one: ByBot | ByTerminal, other: ByBot | ByTerminal) -> None:
    """Require that two rides have come to the same."""
    first, second = one.outcome(), other.outcome()
    for after, before in zip(second.told, first.told, strict=False):
        assert after == before
    assert second.told == first.told
    assert second.accepted == first.accepted
    assert second.memories == first.memories
    assert second.log == first.log
