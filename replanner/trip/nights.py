"""Nights spent at another base than the tour has them: both days beside them change."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from replanner.trip.model import Base, Day, PlaceId, Tour


def with_nights(tour: Tour, nights: Iterable[tuple[date, PlaceId]]) -> Tour:
    """Return the tour with some nights spent elsewhere.

    The day ends there and the next begins there. The way to the old base waits: the legs of the
    day's own order may still be ridden on it, but belong to the next day, before that day's own.
    The check-in hours of a base there hold for that night, those of the old base no more; where
    the tour knows no base, no hour is kept but darkness.

    Raises
    ------
    ValueError
        If the tour has no such place.
    """
    for night, place in sorted(nights):
        if place not in tour.places:
            raise ValueError(f"there is no place {place!r}")
        tour = _with_night(tour, night, place)
    return tour


def _with_night(tour: Tour, night: date, place: PlaceId) -> Tour:
    day = next((one for one in tour.days if one.date == night), None)
    if day is None or day.end == place:
        return tour
    after = next((one for one in tour.days if one.date == night + timedelta(days=1)), None)
    changed = {night: _ending(day, place, last=after is None)}
    if after is not None:
        changed[after.date] = _beginning(after, place, day)
    return replace(
        tour,
        days=tuple(changed.get(one.date, one) for one in tour.days),
        bases=tuple(_bases(tour.bases, night, place)),
    )


def _ending(day: Day, place: PlaceId, *, last: bool) -> Day:
    """Return a day that ends elsewhere; what the next day takes over is optional on it."""
    if last:
        return replace(day, end=place)
    return replace(day, end=place, own_order=(), optional=day.legs)


def _beginning(day: Day, place: PlaceId, before: Day) -> Day:
    """Return the next day, with the day before's own order in front of its own."""
    legs = tuple(dict.fromkeys((*before.own_order, *day.own_order)))
    return replace(day, start=place, own_order=legs, own_departure=day.own_departure)


def _bases(bases: Iterable[Base], night: date, place: PlaceId) -> Iterable[Base]:
    """Return the bases with the night moved to the place, if one is there."""
    for base in bases:
        nights = tuple(one for one in base.nights if one != night)
        yield replace(base, nights=(*nights, night) if base.place == place else nights)
