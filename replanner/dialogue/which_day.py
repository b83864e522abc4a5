"""Which day of the tour a line is about, before the conversation about that day is taken up."""

from datetime import date, datetime

from replanner.dialogue.book import TourBook
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
        Topic.FILLED,
        Topic.BOAT_MISSED,
        Topic.BLOWN,
        Topic.LOG,
    }
)


def day_meant(line: str, book: TourBook, day: date, sent: datetime) -> date:
    """Return the day a line is about.

    Parameters
    ----------
    line : str
    book : TourBook
    day : date
        The day spoken about until now.
    sent : datetime
        UTC-aware.

    Returns
    -------
    date
        The one a plan is asked of; today for what can only be of today ("home safe", "running
        40 late", a call for help); else the one spoken about.
    """
    today = sent.astimezone(book.tz).date()
    meant = understand(line, Hearing(book=book, day=day, today=today))
    if isinstance(meant, PlanDay) and meant.day is not None:
        return meant.day
    return today if today in book.dates and _is_of_now(meant) else day


def _is_of_now(meant: Intent) -> bool:
    match meant:
        case Plain(topic):
            return topic in _OF_NOW
        case RoadWord():
            return meant.topic in _OF_NOW
        case Late() | LogDay():
            return True
        case Which(about=about):  # the answer is of the day that is asked about
            return about in _OF_NOW | {Topic.LATE, Topic.LOG}
        case _:
            return False
