"""What a line on the road means, as data."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time

from replanner.dialogue.topics import Topic
from replanner.trip.model import LegId, PlaceId


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadWord:
    """Something told or asked on the road.

    Parameters
    ----------
    topic : Topic
    legs : tuple of LegId
        Empty: none was named, it is about where they are.
    place : PlaceId or None
    minutes : float or None
        A stretch of time. [min]
    km : float or None
        A distance. [km]
    said : str
        The distance or speed with its unit as understood, to be echoed.
    metres_per_second : float or None
        A speed. [m/s]
    wall : datetime.time or None
    trial : bool
        Asked as a question: nothing is noted.
    going_on : bool
        They ride on at once, whatever halt was told before.
    """

    topic: Topic
    legs: tuple[LegId, ...] = ()
    place: PlaceId | None = None
    minutes: float | None = None
    km: float | None = None
    said: str = ""
    metres_per_second: float | None = None
    wall: time | None = None
    trial: bool = False
    going_on: bool = False


ROAD_TOPICS = frozenset(
    {
        Topic.STOPPING,
        Topic.RIDDEN,
        Topic.GRAVEL,
        Topic.MUD,
        Topic.SLIPPERY,
        Topic.SWEPT,
        Topic.WIND_SEEN,
        Topic.BLOWN,
        Topic.WET_SEEN,
        Topic.FOG_SEEN,
        Topic.DRY_SEEN,
        Topic.THUNDER,
        Topic.TIRED,
        Topic.COLD,
        Topic.BREAKDOWN,
        Topic.MOVING,
        Topic.FUEL,
        Topic.FUEL_LEFT,
        Topic.FUEL_AHEAD,
        Topic.FILLED,
        Topic.BOAT,
        Topic.BOAT_MISSED,
        Topic.NEXT_BOAT,
        Topic.TIDE_BOARD,
        Topic.STAY,
        Topic.TURNING_BACK,
        Topic.HOME,
        Topic.REVERSE,
        Topic.GROUP,
        Topic.DRONE,
        Topic.LIMIT,
        Topic.AT_PLACE,
        Topic.SIGN_SEEN,
        Topic.HEARSAY,
    }
)

# What somebody may ask about as well as tell: asked, nothing is noted.
OBSERVED = frozenset(
    {
        Topic.GRAVEL,
        Topic.MUD,
        Topic.SLIPPERY,
        Topic.SWEPT,
        Topic.WIND_SEEN,
        Topic.BLOWN,
        Topic.WET_SEEN,
        Topic.FOG_SEEN,
        Topic.DRY_SEEN,
        Topic.FILLED,
    }
)

# The line of each topic that is understood without doubt, its slots to be filled by whole names.
ROAD_LINES: Mapping[Topic, tuple[str, ...]] = {
    Topic.RIDDEN: ("done {legs}",),
    Topic.GRAVEL: ("gravel on {legs}",),
    Topic.MUD: ("mud on {legs}",),
    Topic.SLIPPERY: ("slippery on {legs}",),
    Topic.SWEPT: ("{legs} has been swept",),
    Topic.WIND_SEEN: ("windy on {legs}",),
    Topic.BLOWN: ("blown about on {legs}",),
    Topic.WET_SEEN: ("wet on {legs}",),
    Topic.FOG_SEEN: ("foggy on {legs}",),
    Topic.DRY_SEEN: ("dry on {legs}",),
    Topic.BOAT: ("{legs} is off",),
    Topic.BOAT_MISSED: ("missed {legs}",),
    Topic.TURNING_BACK: ("turning back on {legs}",),
    Topic.REVERSE: ("reverse {legs}",),
    Topic.DRONE: ("fly on {legs}",),
    Topic.AT_PLACE: ("now on {legs}",),
}
