"""What a conversation about one day has come to: frozen, plain data."""

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import StrEnum

from replanner.advice.briefing import Briefing
from replanner.advice.words import Words, words_for
from replanner.dialogue.book import TourBook
from replanner.dialogue.events import Memory, Replan
from replanner.dialogue.intent_types import Option
from replanner.dialogue.intents import Hearing
from replanner.dialogue.topics import Topic
from replanner.trip.edits import Demands
from replanner.trip.model import LegId
from replanner.trip.progress import Progress

_LONGEST_HISTORY = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A plan the rider has seen, with the demands it was made under.

    `wishes` is set where the demands are our own proposal (plan B): what the rider had wished.
    """

    briefing: Briefing
    demands: Demands
    wishes: Demands | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """How things stood before a change; `what` is the change, told when it is undone.

    `logged` are the legs that the change wrote into the log of the day `logged_on`.
    """

    demands: Demands
    shown: Shown | None
    accepted: Shown | None
    what: str
    logged: frozenset[LegId] = frozenset()
    logged_on: date | None = None
    closed_down: bool = False


class Then(StrEnum):
    """What a second yes lets happen."""

    CHANGE = "change"
    ACCEPT = "accept"
    UNDO = "undo"
    LOG = "log"
    TAKE_TOUR = "take tour"
    ERASE = "erase"


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirm:
    """A second yes is awaited: a caution would be removed, or something done for good.

    Parameters
    ----------
    then : Then
    demands : Demands
        Of a change of the plan.
    echo : str
        Tells the change.
    legs : tuple of LegId
        To be logged as ridden.
    token : str
        Of a tour file kept aside.
    """

    then: Then
    demands: Demands = field(default_factory=Demands)
    echo: str = ""
    legs: tuple[LegId, ...] = ()
    token: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Several things fitted: which one is awaited."""

    about: Topic
    options: tuple[Option, ...]


class Purpose(StrEnum):
    """What a plan was asked for."""

    EVENING = "evening"
    CHANGE = "change"
    OWN_ORDER = "own order"
    TRIAL = "trial"
    PLAN_B = "plan b"
    LOOK = "look again"  # asked whether it still holds
    MORNING = "morning"
    OLD_ORDER = "old order"  # a morning's new order is weighed against the one told
    ROAD_CHECK = "road check"
    SHELTER = "shelter"  # thunder: nothing to ride is offered
    STRANDED = "stranded"  # a breakdown
    WAY_HOME = "way home"  # only the way home is wanted; nothing is kept
    OWN_WAY = "own way"  # of one who does not lead; nothing is kept


TRIALS = (Purpose.TRIAL, Purpose.PLAN_B, Purpose.WAY_HOME, Purpose.OWN_WAY)
# Nobody has asked: without a forecast the last good plan will do.
UNASKED = (Purpose.EVENING, Purpose.MORNING, Purpose.OLD_ORDER, Purpose.ROAD_CHECK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A plan has been asked for and is not here yet; `other`: what it is to be weighed against."""

    request: Replan
    purpose: Purpose
    other: Shown | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parked:
    """The plan made on the road for a day that is not spoken about just now.

    `demands` are those in force for that day when it was left: if they have changed since, the
    plan is not the newest any more.
    """

    day: date
    demands: Demands
    shown: Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """A conversation about one day.

    Parameters
    ----------
    tour_key : str
        Tells tours apart, in the store.
    book : TourBook
    day : date
        The day spoken about.
    demands : Demands
        In force: what the next plan is made under.
    shown : Shown or None
        The plan shown last that is not a what-if.
    trial : Shown or None
        A what-if shown after it: an ok takes this one. Nothing of it is kept otherwise.
    accepted : Shown or None
        At most one plan of a day is accepted.
    history : tuple of Turn
        Oldest first, for undo.
    question : Confirm, Choice or None
        Asked and not answered.
    waiting : Waiting or None
    alerted : frozenset of (LegId, str)
        Leg and cause the riders were alerted to already.
    closed_down : bool
        The riders are in: nothing more is asked or told of the day.
    progress : Progress or None
        What the live positions of the day tell so far.
    logged : frozenset of LegId
        Legs of the day whose outcome was written down.
    leads : bool
        Whether this rider decides for the group.
    serial : int
        Counts the plans and questions shown: a button of an older one does nothing.
    over : bool
        The rider took leave.
    parked : Parked or None
        Of a day under way, while another one is spoken about.
    """

    tour_key: str
    book: TourBook
    day: date
    demands: Demands = field(default_factory=Demands)
    shown: Shown | None = None
    trial: Shown | None = None
    accepted: Shown | None = None
    history: tuple[Turn, ...] = ()
    question: Confirm | Choice | None = None
    waiting: Waiting | None = None
    own_caution_shown: bool = False
    cautions_shown: bool = False
    alerted: frozenset[tuple[LegId, str]] = frozenset()
    closed_down: bool = False
    progress: Progress | None = None
    logged: frozenset[LegId] = frozenset()
    leads: bool = True
    serial: int = 0
    over: bool = False
    parked: Parked | None = None

    @property
    def last_shown(self) -> Shown | None:
        """The plan shown last, a what-if included: what an ok is about."""
        return self.trial or self.shown

    @property
    def memory(self) -> Memory:
        """What must outlive a run."""
        return Memory(
            demands=self.demands,
            own_caution_shown=self.own_caution_shown,
            cautions_shown=self.cautions_shown,
            alerted=self.alerted,
            closed_down=self.closed_down,
            progress=self.progress,
            logged=self.logged,
        )

    @property
    def words(self) -> Words:
        """The language spoken."""
        return words_for(self.shown.briefing.language if self.shown else "en")

    def hearing(self, sent: datetime) -> Hearing:
        """Return what a line sent at that moment is understood against."""
        seen = self.last_shown
        return Hearing(
            book=self.book,
            day=self.day,
            today=sent.astimezone(self.book.tz).date(),
            planned=frozenset(leg.id for leg in seen.briefing.legs) if seen else frozenset(),
            left_out=frozenset(leg.id for leg in seen.briefing.left_out) if seen else frozenset(),
        )

    def turned(
        self,
        what: str,
        logged: frozenset[LegId] = frozenset(),
        logged_on: date | None = None,
    ) -> "State":
        """Return the state with the present put into the history."""
        turn = Turn(
            demands=self.demands,
            shown=self.shown,
            accepted=self.accepted,
            what=what,
            logged=logged,
            logged_on=logged_on,
            closed_down=self.closed_down,
        )
        return replace(self, history=(*self.history, turn)[-_LONGEST_HISTORY:])


def begin(
    tour_key: str, book: TourBook, day: date, *, memory: Memory, accepted: Briefing | None
) -> State:
    """Take up the conversation about a day where an earlier run left it.

    Parameters
    ----------
    tour_key : str
    book : TourBook
        Demands on legs it no longer has are dropped.
    day : date
    memory : Memory
        As stored; `Memory()` when nothing was.
    accepted : Briefing or None
        The plan accepted for the day.
    """
    demands = known_demands(memory.demands, book)
    return State(
        tour_key=tour_key,
        book=book,
        day=day,
        demands=demands,
        accepted=(
            Shown(briefing=accepted, demands=made_under(demands, accepted)) if accepted else None
        ),
        own_caution_shown=memory.own_caution_shown,
        cautions_shown=memory.cautions_shown,
        alerted=memory.alerted,
        closed_down=memory.closed_down,
        progress=memory.progress,
        logged=memory.logged,
    )


def parked(
    day: date, demands: Demands, shown: Shown | None, before: Parked | None
) -> Parked | None:
    """Return what to park of a day that is left: its plan if it was made on the road."""
    if shown is None or shown.demands.underway is None:
        return before
    return Parked(day=day, demands=demands, shown=shown)


def made_under(demands: Demands, briefing: Briefing) -> Demands:
    """Return the demands without where the riders have been since a plan was made."""
    underway = demands.underway
    if underway is None or underway.at <= briefing.made_at:
        return demands
    return replace(demands, underway=None)


def known_demands(demands: Demands, book: TourBook) -> Demands:
    """Return the demands without legs and days that the tour no longer has."""
    legs, days = frozenset(leg for leg, _ in book.names), frozenset(book.dates)
    return replace(
        demands,
        left_out=demands.left_out & legs,
        forced=demands.forced & legs,
        closed=demands.closed & legs,
        moved=frozenset((leg, day) for leg, day in demands.moved if leg in legs and day in days),
        before=frozenset(pair for pair in demands.before if set(pair) <= legs),
    )
