"""Whether a tour fits together: every mistake at once, none of them fatal to the next check."""

from datetime import datetime, time

from replanner.trip.check_days import check_days
from replanner.trip.check_legs import check_legs
from replanner.trip.mistakes import Known, Mistake, joined_with_itself, repeated, unknown_ids
from replanner.trip.model import Place, Tour

__all__ = ["Known", "Mistake", "check_tour"]

FURTHEST_HOURS = 4.0  # the widest real zone is about 3.5 h off; assumption
DEGREES_PER_HOUR = 15.0


def check_tour(tour: Tour, known: Known | None = None) -> tuple[Mistake, ...]:
    """Check a tour whose parts are sound by themselves.

    Parameters
    ----------
    tour : Tour
        Ids in it need not exist; each that does not is a mistake.
    known : Known, optional
        What is known beyond the tour's own places and legs, where parts of a file could not be
        read; where not given, the tour is all there is.

    Returns
    -------
    tuple of Mistake
        Empty for a sound tour.
    """
    if known is None:
        known = Known(frozenset(tour.places), frozenset(tour.legs))
    return (
        *_check_zone(tour),
        *_check_riders(tour),
        *check_legs(tour, known),
        *_check_connectors(tour, known),
        *check_days(tour, known),
    )


def _check_zone(tour: Tour) -> list[Mistake]:
    """Compare the zone's standard time with the sun's at each place."""
    if not tour.days:
        return []
    noon = datetime.combine(tour.days[0].date, time(12))
    offset, saving = tour.zone.utcoffset(noon), tour.zone.dst(noon)
    if offset is None or saving is None:
        return []
    standard = (offset - saving).total_seconds() / 3600.0
    odd = [place for place in tour.places.values() if _hours_off(place, standard) > FURTHEST_HOURS]
    mend = "look at the zone and at the sign of the longitudes (east is plus)"
    if odd and len(odd) == len(tour.places):
        hours = _hours_off(odd[0], standard)
        return [Mistake(("zone",), f"{tour.zone} is {hours:.0f} h off the sun at its places", mend)]
    return [
        Mistake(
            ("places", place.id, "longitude"),
            f"{place.name} lies {_hours_off(place, standard):.0f} h off the zone {tour.zone}",
            mend,
        )
        for place in odd
    ]


def _hours_off(place: Place, standard: float) -> float:
    """Return how far a zone's standard time [h] is from the mean sun time at a place [h]."""
    by_sun = place.point.longitude / DEGREES_PER_HOUR
    return abs((standard - by_sun + 12.0) % 24.0 - 12.0)


def _check_riders(tour: Tour) -> list[Mistake]:
    riders = tour.riders
    if not riders:
        return [Mistake(("riders",), "nobody rides", "add [[riders]] with id and leader = true")]
    found = [
        Mistake(("riders", index, "id"), f"rider {name!r} is there twice", "give each an own id")
        for index, name in repeated(rider.id for rider in riders)
    ]
    leaders = [rider.id for rider in riders if rider.leader]
    if len(leaders) != 1:
        what = f"{' and '.join(leaders)} lead" if leaders else "nobody leads"
        found.append(Mistake(("riders",), what, "set leader = true for one rider, no other"))
    return found


def _check_connectors(tour: Tour, known: Known) -> list[Mistake]:
    found: list[Mistake] = []
    seen: set[frozenset[str]] = set()
    for index, item in enumerate(tour.connectors):
        path = ("connectors", index)
        found += unknown_ids((*path, "between"), item.between, known.places, "place")
        ends = frozenset(item.between)
        if len(ends) == 1:
            found.append(joined_with_itself((*path, "between")))
        if ends in seen:
            told = " and ".join(item.between)
            what = f"{told} are joined twice"
            found.append(Mistake((*path, "between"), what, "keep one; it holds both ways"))
        seen.add(ends)
        if item.riding_minutes is None and item.distance_km is not None:
            found.append(
                Mistake(path, "it has kilometres but no road", "leave distance_km or road out")
            )
    return found
