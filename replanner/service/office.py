"""What comes in from a chat, dealt with one at a time: whose it is, what it is, what comes of it.

Nothing here speaks to the chat service. What arrived is on record, and stays there until it is
dealt with; what is said is posted in the same transaction. A process killed at any moment leaves
an arrival that the next one deals with, once.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial

from replanner.advice.briefing import Briefing
from replanner.advice.names import clean
from replanner.advice.words import words_for
from replanner.dialogue.emergency import is_call_for_help
from replanner.dialogue.events import (
    Accept,
    Event,
    Pressed,
    Remember,
    Replan,
    RiderSaid,
    UnreadableCame,
    Withdraw,
)
from replanner.dialogue.state import State
from replanner.dialogue.which_day import day_meant, is_ridden
from replanner.errors import ConflictError
from replanner.people import ChatId, Member
from replanner.ports import Work
from replanner.post import (
    Arrived,
    BlockedIn,
    FileIn,
    Incoming,
    Letter,
    OtherIn,
    PositionIn,
    PressAnswered,
    PressIn,
    TextIn,
    Words,
)
from replanner.service.day_dues import day_dues
from replanner.service.dealing import Occasion, Ridden, Store, Told, deal
from replanner.service.desk import KeepPlan, Upshot
from replanner.service.files_in import FileDesk
from replanner.service.group_plans import planner_for
from replanner.service.joining import Joining
from replanner.service.personal import carry_out
from replanner.service.pressure import Pressure
from replanner.service.whereabouts import position_event

# The chat service takes an answer to a press for a short while only.
_PRESS_LASTS = timedelta(seconds=30)
_CRIES_KEPT = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """What the office acts through, beside the store.

    Parameters
    ----------
    read : callable
        Reads what arrived; None: nothing that concerns us.
    ridden : callable
        The group of a member with its tour.
    make : callable
        Plans for a group; blocks; raises ReplannerError.
    refuse_stranger : callable
        Tells a chat nobody invited one neutral line; nothing is kept of it.
    say_at_once : callable
        Tells a chat something now, past all that could fail: for calls for help only.
    now : callable
        The present instant, UTC-aware.
    """

    read: Callable[[Arrived], Incoming | None]
    ridden: Callable[[Member], Ridden]
    make: Callable[[Ridden, Replan], Briefing]
    refuse_stranger: Callable[[ChatId], None]
    say_at_once: Callable[[ChatId, str], None]
    now: Callable[[], datetime]


class Office:
    """Deals with arrivals.

    Parameters
    ----------
    store : Store
    hands : Hands
    joining : Joining
        Lets those in who were invited.
    files : FileDesk
        Reads the files riders send.
    pressure : Pressure
        Keeps one rider from taking up all the time.
    """

    def __init__(
        self, store: Store, hands: Hands, joining: Joining, files: FileDesk, pressure: Pressure
    ) -> None:
        self._store, self._hands = store, hands
        self._joining, self._files, self._pressure = joining, files, pressure
        self._cries: deque[int] = deque(maxlen=_CRIES_KEPT)

    def handle(self, arrived: Arrived) -> None:
        """Deal with one arrival, whole.

        Raises
        ------
        ConflictError
            If another process was quicker; nothing is kept.
        StoreError
            If nothing can be kept.
        """
        incoming = self._hands.read(arrived)
        if incoming is None or not incoming.private or self._of_no_use(incoming):
            return self._close(arrived)
        try:
            self._deal_with(arrived, incoming)
        except ConflictError:
            raise
        except Exception:
            if _calls_for_help(incoming):
                self._say_the_number(incoming)
            raise

    def calls_for_help(self, arrived: Arrived) -> bool:
        """Tell whether something that has arrived may be a call for help, whoever it is from."""
        incoming = self._hands.read(arrived)
        return incoming is not None and incoming.private and _calls_for_help(incoming)

    def _deal_with(self, arrived: Arrived, incoming: Incoming) -> None:
        member = self._store.member_of(incoming.chat)
        if member is None:
            return self._stranger(arrived, incoming)
        if isinstance(incoming.what, BlockedIn):
            return self._blocked(arrived, member, blocked=incoming.what.blocked)
        refusal = self._pressure.refused(incoming, self._hands.now())
        if refusal is not None:
            return self._close(arrived, *refusal)
        if isinstance(incoming.what, TextIn) and (
            told := self._joining.is_in_already(incoming.what.text)
        ):
            return self._close(arrived, _plainly(arrived, told, self._hands.now()))
        return self._rider(arrived, incoming, member)

    def give_up(self, arrived: Arrived) -> None:
        """Lay aside what failed again and again, so that the rider's next word is heard."""
        words = words_for("en")
        said = words.say("I could not deal with your last message. The plan stands; say it again.")
        letter = _plainly(arrived, said, self._hands.now())
        known = self._store.member_of(arrived.chat) is not None
        self._close(arrived, *((letter,) if known else ()))

    @staticmethod
    def _of_no_use(incoming: Incoming) -> bool:
        # A message changed afterwards was dealt with as it was; what it says now is said anew.
        # One that has become a call for help is one.
        edited = isinstance(incoming.what, TextIn) and incoming.what.edited
        return edited and not _calls_for_help(incoming)

    def _say_the_number(self, incoming: Incoming) -> None:
        """Tell the number to call, once for each call, when no answer can be had or kept."""
        if incoming.number in self._cries:
            return
        self._cries.append(incoming.number)
        line = "Call the emergency number now (112 works on many networks). I cannot call."
        self._hands.say_at_once(incoming.chat, words_for("en").say(line))

    def _close(self, arrived: Arrived, *letters: Letter) -> None:
        with self._store.work() as work:
            work.close_arrival(arrived.number)
            work.post(letters)

    def _stranger(self, arrived: Arrived, incoming: Incoming) -> None:
        now = self._hands.now()
        said = incoming.what.text if isinstance(incoming.what, TextIn) else ""
        with self._store.work() as work:
            work.close_arrival(arrived.number)
            welcomed = self._joining.welcome(work, incoming.chat, said, now)
        if not welcomed:
            self._hands.refuse_stranger(incoming.chat)

    def _blocked(self, arrived: Arrived, member: Member, *, blocked: bool) -> None:
        with self._store.work() as work:
            work.close_arrival(arrived.number)
            self._joining.reachable(work, member, not blocked, self._hands.now())

    def _rider(self, arrived: Arrived, incoming: Incoming, member: Member) -> None:
        ridden, now = self._hands.ridden(member), self._hands.now()
        day = self._day(ridden, member, incoming, now)

        def done(work: Work, told: Told | None) -> None:
            work.close_arrival(arrived.number)
            if isinstance(incoming.what, PressIn):
                work.post((_taken(incoming, incoming.what, now),))
            if told is not None:
                carry_out(work, self._store, ridden, told, now)
                self._set_dues(work, ridden, told, now)

        occasion = Occasion(
            key=f"in:{arrived.number}",
            event=lambda state: self._event(incoming, ridden, state, now),
            planner=planner_for(
                lambda request: self._hands.make(ridden, request),
                self._store,
                ridden.group.tour_key,
                now,
                shared=True,
            ),
            done=done,
            asked=True,
            first=_calls_for_help(incoming),
        )
        deal(self._store, ridden, member, day, occasion, now)

    def _day(self, ridden: Ridden, member: Member, incoming: Incoming, now: datetime) -> date:
        found = self._store.talk(ridden.group.tour_key, member.id)
        talk = found[0] if found else None
        day = day_spoken_of(ridden, talk.day if talk else None, now)
        match incoming.what:
            case TextIn(text=text):
                sent = min(incoming.sent, now)
                still = partial(self._is_ridden, ridden, sent)
                return day_meant(text, ridden.book, day, sent, still)
            case PositionIn():
                today = now.astimezone(ridden.tour.zone).date()
                return today if today in ridden.book.dates else day
            case _:
                return day

    def _is_ridden(self, ridden: Ridden, sent: datetime, day: date) -> bool:
        key = ridden.group.tour_key
        return is_ridden(self._store.newest_plan(key, day), self._store.recall(key, day), sent)

    def _event(
        self, incoming: Incoming, ridden: Ridden, state: State, now: datetime
    ) -> Event | None:
        sent = min(incoming.sent, now)
        match incoming.what:
            case TextIn(text=text):
                return RiderSaid(text=clean(text), sent=sent, arrived=now)
            case PressIn(word=word, serial=serial):
                return Pressed(word=word, serial=serial, sent=sent)
            case PositionIn(point=point, live=live):
                return position_event(ridden.tour, state, point, sent, live=live)
            case FileIn():
                return self._files.event(incoming.what, ridden, sent, leads=state.leads)
            case OtherIn():
                return UnreadableCame(sent=sent)
            case _:
                return None

    @staticmethod
    def _set_dues(work: Work, ridden: Ridden, told: Told, now: datetime) -> None:
        if any(isinstance(upshot, _CHANGES) for upshot in told.upshots):
            set_day_dues(work, ridden, told.state, now)


# What moves the hours at which a day is looked at.
_CHANGES: tuple[type[Upshot], ...] = (KeepPlan, Accept, Withdraw, Remember)


def set_day_dues(work: Work, ridden: Ridden, state: State, now: datetime) -> None:
    """Set when the day spoken of is looked at next, by the plan in force."""
    plan = state.accepted or state.shown
    if plan is None:
        return
    dues = day_dues(plan.briefing, ridden.tour, now, over=state.closed_down)
    for kind, at in dues.items():
        work.set_due(kind, ridden.group.id, at)


def day_spoken_of(ridden: Ridden, last: date | None, now: datetime) -> date:
    """Return which day of the tour a rider means who names none.

    It is the day last spoken of until it is over; then today, else the next, else the last one.
    """
    today = now.astimezone(ridden.tour.zone).date()
    days = sorted(day.date for day in ridden.tour.days)
    if last in days and last is not None and last >= today:
        return last
    return next((day for day in days if day >= today), days[-1])


def _calls_for_help(incoming: Incoming) -> bool:
    return isinstance(incoming.what, TextIn) and is_call_for_help(incoming.what.text)


def _plainly(arrived: Arrived, said: str, now: datetime) -> Letter:
    return Letter(
        key=f"in:{arrived.number}:told", chat=arrived.chat, body=Words(text=said), not_before=now
    )


def _taken(incoming: Incoming, press: PressIn, now: datetime) -> Letter:
    return Letter(
        key=f"in:{incoming.number}:press",
        chat=incoming.chat,
        body=PressAnswered(press=press.press),
        not_before=now,
        useless_after=now + _PRESS_LASTS,
    )
