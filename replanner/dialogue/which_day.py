"""Which day of the tour a line is about, before the conversation about that day is taken up."""

from collections.abc import Callable
from datetime import date, datetime

from replanner.advice.briefing import Briefing, Decision
from replanner.dialogue.book import TourBook
from replanner.dialogue.events import Memory
from replanner.dialogue.intent_types import Intent, Late, LogDay, Plain, PlanDay, Which
from replanner.dialogue.intents import Hearing, understand
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.topics import Topic

# Only of the day being ridden, whatever was spoken about last.
_OF_NOW = frozenset(
    {
        Topic.EMERGENCY,
        Topic.HOME_SAFE,
        Topic.RIDDEN,
        Topic.AT_PLACE,
        Topic.TURNING_BACK,
        Topic.HOME,
        Topic.STOPPING,
        Topic.THUNDER,
        Topic.BREAKDOWN,
        Topic.MOVING,
        Topic.BOAT_MISSED,
        Topic.BLOWN,
        Topic.LATE,
        Topic.LOG,
    }
)
# Of the day being ridden while it is; before and after, there is nothing to reckon from.
_OF_NOW_UNDERWAY = frozenset({Topic.FILLED})


def day_meant(
    line: str, book: TourBook, day: date, sent: datetime, ridden: Callable[[date], bool]
) -> date:
    """Return the day a line is about.

    Parameters
    ----------
    line : str
    book : TourBook
    day : date
        The day spoken about until now.
    sent : datetime
        UTC-aware.
    ridden : callable
        Whether a day is ridden by a plan (`is_ridden`); asked only where the answer hangs on it.

    Returns
    -------
    date
        The one a plan is asked of; today for what can only be of today ("home safe", "running
        40 late", a call for help), "filled up" only while it is ridden; else the one spoken about.
    """
    today = sent.astimezone(book.tz).date()
    meant = understand(line, Hearing(book=book, day=day, today=today))
    if isinstance(meant, PlanDay) and meant.day is not None:
        return meant.day
    if today not in book.dates or today == day:
        return day
    about = _about(meant)
    return today if about in _OF_NOW or (about in _OF_NOW_UNDERWAY and ridden(today)) else day


def is_ridden(plan: Briefing | None, memory: Memory, sent: datetime) -> bool:
    """Tell whether a day has a plan, and riders are not in yet, by it or as they have said.

    Parameters
    ----------
    plan : Briefing or None
        The newest of the day.
    memory : Memory
        What the group has come to about the day.
    sent : datetime
        UTC-aware.
    """
    if plan is None or memory.closed_down or plan.decision is Decision.REST_DAY:
        return False
    return plan.arrival is None or plan.arrival > sent


def _about(meant: Intent) -> Topic | None:
    match meant:
        case Late():
            return Topic.LATE
        case LogDay():
            return Topic.LOG
        case Plain(topic) | RoadWord(topic=topic) | Which(about=topic):
            return topic  # an answer to a question is of the day that is asked about
        case _:
            return None
