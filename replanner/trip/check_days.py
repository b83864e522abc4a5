"""Whether the days of a tour follow on each other and can be ridden as the rider wrote them."""

from collections import Counter
from collections.abc import Iterable
from datetime import date, time
from itertools import pairwise

from replanner.trip.connectors import joined
from replanner.trip.mistakes import Known, Mistake, Path, repeated, unknown_id, unknown_ids
from replanner.trip.model import Day, PlaceId, Tour
from replanner.trip.small_hours import past_midnight


def check_days(tour: Tour, known: Known) -> list[Mistake]:
    """Return every mistake in the days and bases of a tour."""
    found: list[Mistake] = []
    if not tour.days and known.all_days:
        mend = "add [days.2027-04-01] with start, end and own_order"
        found.append(Mistake(("days",), "the tour has no days", mend))
    counts = Counter(day.date for day in tour.days)
    found += [
        Mistake(_path(day), f"{day} is there {count} times", "keep one")
        for day, count in counts.items()
        if count > 1
    ]
    for day in tour.days:
        found += _ids(day, known)
        found += _legs(tour, day)
        found += _hours(day)
        found += _ridable(tour, day)
    found += _bases(tour, known)
    return found + (_chain(tour) if known.all_days else [])


def _path(day: date) -> Path:
    return ("days", day.isoformat())


def _ids(day: Day, known: Known) -> list[Mistake]:
    path = _path(day.date)
    found = unknown_id((*path, "start"), day.start, known.places, "place")
    found += unknown_id((*path, "end"), day.end, known.places, "place")
    found += unknown_ids((*path, "own_order"), day.own_order, known.legs, "leg")
    return found + unknown_ids((*path, "optional"), day.optional, known.legs, "leg")


def _legs(tour: Tour, day: Day) -> list[Mistake]:
    path = _path(day.date)
    if not day.legs:
        return [Mistake(path, "the day has no legs", "add own_order = [...], or take it out")]
    found = [
        Mistake((*path, key, index), f"leg {name!r} is there twice", "a leg is ridden once a day")
        for key, legs in (("own_order", day.own_order), ("optional", day.optional))
        for index, name in repeated(legs)
    ]
    for index, name in enumerate(day.own_order):
        leg = tour.legs.get(name)
        if leg is None:
            continue
        if leg.stand_in is not None and leg.stand_in.leg in day.own_order:
            what = f"both {name!r} and its stand-in {leg.stand_in.leg!r} are to be ridden"
            mend = "take the stand-in out; it is thought of by itself"
            found.append(Mistake((*path, "own_order", index), what, mend))
        too_late = [other for other in leg.before if other in day.own_order[:index]]
        if too_late:
            what = f"{name!r} has to come before {too_late[0]!r}"
            found.append(Mistake((*path, "own_order", index), what, "change the order"))
    return found


def _hours(day: Day) -> list[Mistake]:
    hours: tuple[tuple[str, time | None], ...] = (
        ("earliest_departure", day.earliest_departure),
        ("own_departure", day.own_departure),
        ("latest_departure", day.latest_departure),
        ("latest_arrival", day.latest_arrival),
    )
    leaving = [hour for _, hour in hours[:-1]]
    arrival = day.latest_arrival
    if arrival is not None and past_midnight(arrival, *leaving):
        hours = hours[:-1]
    return _falling(_path(day.date), hours)


def _falling(path: Path, hours: Iterable[tuple[str, time | None]]) -> list[Mistake]:
    """Return a mistake for each hour that is before the one it has to follow."""
    given = [(key, hour) for key, hour in hours if hour is not None]
    return [
        Mistake(
            (*path, key),
            f"{key} {hour:%H:%M} is before {first_key} {first:%H:%M}",
            "correct one of the two",
        )
        for (first_key, first), (key, hour) in pairwise(given)
        if hour < first
    ]


def _ridable(tour: Tour, day: Day) -> list[Mistake]:
    """Follow the own order by road, each leg in any of its ways."""
    legs = [tour.legs.get(name) for name in day.own_order]
    places = {day.start, day.end} | {end for leg in legs if leg for end in (leg.start, leg.end)}
    if not legs or None in legs or not places <= set(tour.places):
        return []  # told elsewhere
    path = _path(day.date)
    here: set[PlaceId] = {day.start}
    last = tour.places[day.start].name
    for index, leg in enumerate(legs):
        if leg is None:
            return []
        ends = (leg.ends(way) for way in leg.ways)
        there = {end for start, end in ends if any(joined(tour, at, start) for at in here)}
        if not there:
            what = f"there is no road from {last} to {leg.name}"
            mend = "change the order, or add [[connectors]] between the two"
            return [Mistake((*path, "own_order", index), what, mend)]
        here, last = there, leg.name
    if any(joined(tour, at, day.end) for at in here):
        return []
    what = f"there is no road from {last} to {tour.places[day.end].name}"
    return [Mistake((*path, "end"), what, "add [[connectors]] between the two")]


def _bases(tour: Tour, known: Known) -> list[Mistake]:
    found: list[Mistake] = []
    slept: dict[date, PlaceId] = {}
    ends = {day.date: day.end for day in tour.days}
    for index, base in enumerate(tour.bases):
        path: Path = ("bases", index)
        found += unknown_id((*path, "place"), base.place, known.places, "place")
        hours = (("check_in_from", base.check_in_from), ("reception_until", base.reception_until))
        if base.reception_until is None or not past_midnight(
            base.reception_until, base.check_in_from
        ):
            found += _falling(path, hours)
        for number, night in enumerate(base.nights):
            where = (*path, "nights", number)
            if night in slept:
                what = f"the night of {night} is spent at {slept[night]} already"
                found.append(Mistake(where, what, "keep one"))
            slept[night] = base.place
            if night in ends and ends[night] != base.place:
                what = f"the night of {night} is at {base.place}, that day ends at {ends[night]}"
                found.append(Mistake(where, what, "correct the base or the end of the day"))
    return found


def _chain(tour: Tour) -> list[Mistake]:
    """Return a mistake for each day that starts neither where the last ended nor at a base."""
    days = sorted(tour.days, key=lambda day: day.date)
    bases = {base.place for base in tour.bases}
    return [
        Mistake(
            (*_path(day.date), "start"),
            f"the day starts at {day.start}, the day before ended at {before.end}",
            "correct one of the two, or make it a base",
        )
        for before, day in pairwise(days)
        if day.start not in {before.end, *bases}
    ]
