"""One rider's conversation on his own machine: taken up, carried on and kept, event by event.

All that comes of an event is stored in one transaction, before anything of it is said.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Protocol

from replanner.advice.words import words_for
from replanner.dialogue.book import TourBook
from replanner.dialogue.events import (
    Accept,
    Effect,
    EveningCame,
    Event,
    LogLeg,
    MorningCame,
    OverdueCame,
    RiderSaid,
    RoadCheckCame,
    Say,
    StrikeLog,
    Withdraw,
)
from replanner.dialogue.kept import Common, kept, taken_up
from replanner.dialogue.state import State
from replanner.dialogue.which_day import day_meant, is_ridden
from replanner.errors import ConflictError, StoreError
from replanner.ports import PlanStore, Work
from replanner.service.desk import KeepPlan, Planner, Upshot, attend, keep

ALONE = 0
"""The member who talks at the terminal."""

# What has to be stored to be true; the rest is told, though it may be forgotten by the next run.
_BINDING = (Accept, Withdraw, LogLeg, StrikeLog)


class Store(PlanStore, Protocol):
    """Keeps plans and talks, in transactions."""

    def work(self) -> AbstractContextManager[Work]:
        """Begin one transaction; left without an error, it is stored."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What came of an event: what to do about it, and whether the rider took leave."""

    effects: tuple[Effect, ...]
    over: bool


class OneRider:
    """Carries on a conversation.

    Parameters
    ----------
    store : Store
    tour_key : str
    book : TourBook
    day : date
        The day to speak about first.
    planner : Planner
    now : callable
        The present instant, UTC-aware.
    """

    def __init__(
        self,
        store: Store,
        tour_key: str,
        book: TourBook,
        day: date,
        planner: Planner,
        now: Callable[[], datetime],
    ) -> None:
        self._store, self._tour_key, self._book = store, tour_key, book
        self._planner, self._now = planner, now
        self._state, self._revision = self._found(day)

    @property
    def state(self) -> State:
        """How the conversation stands."""
        return self._state

    def hear(self, event: Event) -> Heard:
        """Let one event happen, with all that follows from it.

        If something that has to be stored cannot be, the rider is told and the conversation
        stands as before; else he is told and it goes on.
        """
        try:
            self._turn_to(event)
            after, upshots = attend(self._state, event, self._planner)
        except StoreError as error:
            return Heard(effects=(Say(text=str(error)),), over=False)
        effects = tuple(upshot for upshot in upshots if not isinstance(upshot, KeepPlan))
        try:
            self._keep(after, upshots)
        except ConflictError:
            return self._overtaken()
        except StoreError as error:
            told = Say(text=str(error))
            if any(isinstance(upshot, _BINDING) for upshot in upshots):
                return Heard(effects=(told,), over=False)
            effects = (told, *effects)
        self._state = after
        return Heard(effects=effects, over=after.over)

    def _turn_to(self, event: Event) -> None:
        """Take up the conversation about another day, if that is what is spoken of now."""
        day = self._state.day
        match event:
            case RiderSaid(text=text, sent=sent):
                still = partial(self._is_ridden, sent)
                day = day_meant(text, self._book, day, sent, still)
            case EveningCame() | MorningCame() | RoadCheckCame() | OverdueCame():
                day = event.day
            case _:
                pass
        if day != self._state.day:
            self._state, self._revision = self._found(day)

    def _is_ridden(self, sent: datetime, day: date) -> bool:
        key = self._tour_key
        return is_ridden(self._store.newest_plan(key, day), self._store.recall(key, day), sent)

    def _found(self, day: date) -> tuple[State, int]:
        key = self._tour_key
        talk, revision = self._store.talk(key, ALONE) or (None, 0)
        common = Common(
            memory=self._store.recall(key, day),
            accepted=self._store.accepted_plan(key, day),
            last=self._store.last_plan(key, day),
        )
        state = taken_up(talk, common, day, tour_key=key, book=self._book, leads=True)
        return state, revision

    def _keep(self, after: State, upshots: tuple[Upshot, ...]) -> None:
        key, talk = self._tour_key, kept(after)
        with self._store.work() as work:
            keep(work, key, upshots, self._now())
            work.keep_talk(key, ALONE, talk, self._revision)
        self._revision += 1

    def _overtaken(self) -> Heard:
        """Another run has carried the conversation on: take up what it has come to."""
        self._state, self._revision = self._found(self._state.day)
        line = "This was carried on elsewhere meanwhile. Nothing was done; say it again."
        return Heard(effects=(Say(text=words_for("en").say(line)),), over=False)
