"""Where a straight line between two places would run over water, as far as the tour tells."""

from collections.abc import Mapping
from dataclasses import dataclass

from replanner.trip.model import LegKind, PlaceId, Tour


@dataclass(frozen=True, slots=True)
class Water:
    """The water of a tour.

    Parameters
    ----------
    quays : frozenset of frozenset of PlaceId
        The two quays of each crossing.
    shore_of : mapping of PlaceId to PlaceId
        One place that stands for all places joined with it by legs and given connectors.
    opposite : frozenset of frozenset of PlaceId
        Pairs of shores that a crossing joins and no road does.
    """

    quays: frozenset[frozenset[PlaceId]]
    shore_of: Mapping[PlaceId, PlaceId]
    opposite: frozenset[frozenset[PlaceId]]

    @classmethod
    def of(cls, tour: Tour) -> "Water":
        """Read the water off a tour's crossings and roads."""
        shore_of = _shores(tour)
        crossings = [leg for leg in tour.legs.values() if leg.kind is LegKind.CROSSING]
        quays = frozenset(frozenset((leg.start, leg.end)) for leg in crossings)
        shores = (
            frozenset((shore_of.get(leg.start, leg.start), shore_of.get(leg.end, leg.end)))
            for leg in crossings
        )
        return cls(quays, shore_of, frozenset(pair for pair in shores if len(pair) > 1))

    def parts(self, start: PlaceId, end: PlaceId) -> bool:
        """Return whether water is known to lie between two places."""
        shores = frozenset((self.shore_of.get(start, start), self.shore_of.get(end, end)))
        return frozenset((start, end)) in self.quays or shores in self.opposite


def _shores(tour: Tour) -> dict[PlaceId, PlaceId]:
    """Join places along legs that are no crossings, and along given connectors (union-find)."""
    parent: dict[PlaceId, PlaceId] = {}

    def root(place: PlaceId) -> PlaceId:
        while (above := parent.setdefault(place, place)) != place:
            place = above
        return place

    roads = [
        (leg.start, *leg.via, leg.end)
        for leg in tour.legs.values()
        if leg.kind is not LegKind.CROSSING
    ]
    roads += [item.between for item in tour.connectors if item.riding_minutes is not None]
    for road in roads:
        for place in road:
            parent[root(place)] = root(road[0])
    return {place: root(place) for place in list(parent)}
