"""What the rider has asked for on top of the tour file: kept apart, so that all can be undone."""

from dataclasses import dataclass, field
from datetime import date, datetime

from replanner.trip.model import LegId


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
    """

    left_out: frozenset[LegId] = frozenset()
    forced: frozenset[LegId] = frozenset()
    closed: frozenset[LegId] = frozenset()
    departure: datetime | None = None
    own_order: bool = False
    moved: frozenset[tuple[LegId, date]] = field(default_factory=frozenset)
    before: frozenset[tuple[LegId, LegId]] = field(default_factory=frozenset)
