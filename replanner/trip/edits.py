"""What the rider has asked for on top of the tour file: kept apart, so that all can be undone."""

from dataclasses import dataclass, field
from datetime import date, datetime

from replanner.trip.model import LegId, PlaceId
from replanner.trip.underway import Report, Underway


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """What the rider wants of one day beyond the tour file.

    Parameters
    ----------
    left_out : frozenset of LegId
        Not ridden on this day.
    forced : frozenset of LegId
        Ridden on this day all the same, unless no-go.
    closed : frozenset of LegId
        Reported closed.
    departure : datetime or None
        Leave at this instant (UTC) and no other.
    own_order : bool
        Ride the rider's own order, whatever the search says.
    moved : frozenset of (LegId, date)
        Legs to be ridden on that day and on no other.
    before : frozenset of (LegId, LegId)
        Where both are ridden on this day, the first comes before the second.
    underway : Underway or None
        The day has begun: only what is left of it is planned, from there and then.
    reports : frozenset of Report
        What riders have met, on any day; expired ones count no more.
    nights : frozenset of (date, PlaceId)
        Nights spent at another base than the tour has them: that day ends and the next begins
        there.
    stricter : int
        Classes by which every hazard counts as worse: a tired, cold or hurried rider.
    homeward : bool
        Nothing more is ridden for its own sake: the safest quick way to the day's end.
    """

    left_out: frozenset[LegId] = frozenset()
    forced: frozenset[LegId] = frozenset()
    closed: frozenset[LegId] = frozenset()
    departure: datetime | None = None
    own_order: bool = False
    moved: frozenset[tuple[LegId, date]] = field(default_factory=frozenset)
    before: frozenset[tuple[LegId, LegId]] = field(default_factory=frozenset)
    underway: Underway | None = None
    reports: frozenset[Report] = frozenset()
    nights: frozenset[tuple[date, PlaceId]] = frozenset()
    stricter: int = 0
    homeward: bool = False

    @property
    def ridden(self) -> frozenset[LegId]:
        """Legs of the day that are done already."""
        return self.underway.ridden if self.underway else frozenset()
