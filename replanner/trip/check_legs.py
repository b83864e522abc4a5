"""Whether each leg fits together: its places, its sections, its hours, its stand-in."""

from itertools import pairwise
from math import isnan

from replanner.geodesy import geodesic
from replanner.trip.mistakes import (
    Known,
    Mistake,
    Path,
    overlap,
    overlaps,
    own_stand_in,
    unknown_id,
    unknown_ids,
)
from replanner.trip.model import Leg, LegId, LegKind, TideTable, Tour, WindowEffect

CLOSED_KINDS = {LegKind.LOOP, LegKind.SPUR, LegKind.STOP}
# A road of a place list cannot be shorter than the straight lines between them; coordinates
# rounded to 0.01 degrees err by up to 0.8 km at each end. Assumption.
SHORTER_BY = 0.97
ROUNDING_KM = 1.5
FASTEST_KMH = 110.0  # an average above this is a slip of the pen, not a tour; assumption
SLOWEST_KMH = 5.0


def check_legs(tour: Tour, known: Known) -> list[Mistake]:
    """Return every mistake in the legs of a tour."""
    found: list[Mistake] = []
    for leg in tour.legs.values():
        found += _ids(leg, known)
        found += _ends(leg)
        found += _numbers(tour, leg)
        found += _sections(leg)
        found += _ferry(leg)
        found += _windows(leg)
        found += _tides(leg.tides, ("legs", leg.id, "tides"))
        found += _stand_in(tour, leg, known)
    return found + _cycles(tour)


def _ids(leg: Leg, known: Known) -> list[Mistake]:
    path: Path = ("legs", leg.id)
    found = unknown_id((*path, "start"), leg.start, known.places, "place")
    found += unknown_id((*path, "end"), leg.end, known.places, "place")
    found += unknown_ids((*path, "via"), leg.via, known.places, "place")
    found += unknown_ids((*path, "before"), leg.before, known.legs, "leg")
    found += unknown_ids((*path, "after"), leg.after, known.legs, "leg")
    for index, section in enumerate(leg.sections):
        where = (*path, "sections", index, "place")
        found += unknown_id(where, section.place, known.places, "place")
    for index, halt in enumerate(leg.halts):
        found += unknown_id((*path, "halts", index, "place"), halt.place, known.places, "place")
    if leg.stand_in is not None:
        found += unknown_id((*path, "stand_in", "leg"), leg.stand_in.leg, known.legs, "leg")
        for index, join in enumerate(leg.stand_in.joins):
            where = (*path, "stand_in", "joins", index, "place")
            found += unknown_id(where, join.place, known.places, "place")
    return found


def _ends(leg: Leg) -> list[Mistake]:
    path: Path = ("legs", leg.id, "end")
    if leg.kind in CLOSED_KINDS and leg.start != leg.end:
        mend = "let it end where it starts, or choose another kind"
        return [Mistake(path, f"a {leg.kind} starts and ends at one place", mend)]
    if leg.kind in {LegKind.LOOP, LegKind.SPUR} and not (leg.via or leg.track):
        what = f"nothing says where the {leg.kind} runs, so its weather cannot be looked up"
        return [Mistake(("legs", leg.id), what, 'add via = ["..."] with places it runs by')]
    if leg.kind is LegKind.CROSSING and leg.start == leg.end:
        return [Mistake(path, "a crossing has two quays", "name the other quay")]
    return []


def _numbers(tour: Tour, leg: Leg) -> list[Mistake]:
    path: Path = ("legs", leg.id)
    if isnan(leg.riding_minutes):
        what = f"a {leg.kind} needs riding_minutes, they do not follow from its kilometres"
        return [Mistake(path, what, "add riding_minutes = ...")]
    found = []
    if leg.kind not in {LegKind.CROSSING, LegKind.STOP}:
        found += _pace(leg)
    line = [tour.places[place].point for place in (leg.start, *leg.via, leg.end)
            if place in tour.places]  # fmt: skip
    if len(line) == 2 + len(leg.via):
        straight = sum(geodesic(a, b).distance for a, b in pairwise(line)) / 1000.0
        if leg.distance_km < SHORTER_BY * straight - ROUNDING_KM:
            what = f"{leg.distance_km:g} km is less than the straight line, {straight:.0f} km"
            mend = "look at the distance and at the coordinates of its places"
            found.append(Mistake((*path, "distance_km"), what, mend))
    chippings = [(leg.road.chippings, (*path, "chippings"))]
    chippings += [
        (section.road.chippings, (*path, "sections", index, "chippings"))
        for index, section in enumerate(leg.sections)
        if section.road.chippings != leg.road.chippings
    ]
    found += [
        Mistake(where, "the chippings are swept before they are laid", "exchange the two dates")
        for laid, where in chippings
        if laid is not None and laid.assumed_until < laid.laid
    ]
    return found


def _pace(leg: Leg) -> list[Mistake]:
    path: Path = ("legs", leg.id, "riding_minutes")
    mend = "look at distance_km and riding_minutes"
    if leg.distance_km > 0 and leg.riding_minutes == 0:
        return [Mistake(path, f"{leg.distance_km:g} km in no time", mend)]
    pace = leg.distance_km / leg.riding_minutes * 60.0 if leg.riding_minutes else SLOWEST_KMH
    if not SLOWEST_KMH <= pace <= FASTEST_KMH:
        return [Mistake(path, f"{pace:.0f} km/h on average cannot be meant", mend)]
    return []


def _sections(leg: Leg) -> list[Mistake]:
    found = []
    base: Path = ("legs", leg.id, "sections")
    for index, section in enumerate(leg.sections):
        if not 0.0 <= section.from_fraction < section.to_fraction <= 1.0:
            told = f"{section.from_fraction:g} to {section.to_fraction:g}"
            what = f"section {section.name!r} runs from {told}"
            mend = "fractions rise from 0 at the start of the leg to 1 at its end"
            found.append(Mistake((*base, index), what, mend))
    names = [repr(section.name) for section in leg.sections]
    spans = [(section.from_fraction, section.to_fraction) for section in leg.sections]
    found += [
        overlap((*base, second), names[first], names[second]) for first, second in overlaps(spans)
    ]
    return found


def _ferry(leg: Leg) -> list[Mistake]:
    path: Path = ("legs", leg.id, "ferry")
    if leg.kind is not LegKind.CROSSING:
        if leg.ferry is None:
            return []
        return [Mistake(path, f"a {leg.kind} has no ferry", 'make it kind = "crossing"')]
    if leg.ferry is None:
        mend = f"add [legs.{leg.id}.ferry] with boarding_minutes and its sailings"
        return [Mistake(path, "a crossing needs its sailings", mend)]
    ways = {sailing.way for sailing in leg.ferry.sailings if sailing.departures}
    missing = [way.name.lower() for way in leg.ways if way not in ways]
    if not missing:
        return []
    mend = f"add [[legs.{leg.id}.ferry.sailings]], or one_way = true"
    return [Mistake(path, f"no sailings {' and '.join(missing)}", mend)]


def _windows(leg: Leg) -> list[Mistake]:
    found = []
    for index, window in enumerate(leg.windows):
        path: Path = ("legs", leg.id, "windows", index)
        if window.opens == window.closes:
            what = f"window {window.name!r} opens and closes at one time"
            found.append(Mistake(path, what, "correct one of the two; all day is 00:00 to 23:59"))
        if (window.effect is WindowEffect.SLOW) != (window.added_minutes > 0):
            what = f"window {window.name!r}: added_minutes go with effect = slow, and only there"
            found.append(Mistake(path, what, "give both or neither"))
    return found


def _tides(tides: TideTable | None, path: Path) -> list[Mistake]:
    if tides is None:
        return []
    found = []
    for index, (opens, closes) in enumerate(tides.open_utc):
        if closes <= opens:
            mend = "write [opens, closes]"
            found.append(Mistake((*path, "open", index), "it closes before it opens", mend))
        elif (closes - opens).total_seconds() / 60.0 <= 2 * tides.margin_minutes:
            what = f"with {tides.margin_minutes:g} minutes kept at both ends nothing is left"
            found.append(Mistake((*path, "open", index), what, "look at margin_minutes"))
    for index, (before, after) in enumerate(pairwise(tides.open_utc), start=1):
        if after[0] < before[1]:
            what = "it opens before the one above has closed"
            found.append(Mistake((*path, "open", index), what, "put the table in order of time"))
    return found


def _stand_in(tour: Tour, leg: Leg, known: Known) -> list[Mistake]:
    if leg.stand_in is None:
        return []
    path: Path = ("legs", leg.id, "stand_in")
    if leg.stand_in.leg == leg.id:
        return [own_stand_in((*path, "leg"))]
    other = tour.legs.get(leg.stand_in.leg)
    found = []
    if other is not None:
        if other.stand_in is not None:
            what = f"stand-in {other.id!r} has a stand-in itself"
            found.append(Mistake((*path, "leg"), what, "keep one stand-in, without its own"))
        rides = {other.ends(way) for way in other.ways}
        if any(leg.ends(way) not in rides for way in leg.ways):
            what = f"stand-in {other.id!r} does not join {leg.start} and {leg.end}"
            mend = "a stand-in starts and ends where its leg does, in every way the leg is ridden"
            found.append(Mistake((*path, "leg"), what, mend))
    on_the_way = {leg.start, *leg.via, leg.end}
    if not on_the_way <= known.places:
        return found  # a mistyped place is told elsewhere, and may be the very one
    for index, join in enumerate(leg.stand_in.joins):
        if join.place not in on_the_way and join.place in tour.places:
            what = f"{leg.name} does not run by {join.place}, so nothing can be joined there"
            mend = f"add {join.place} to its via, or join elsewhere"
            found.append(Mistake((*path, "joins", index, "place"), what, mend))
    return found


def _cycles(tour: Tour) -> list[Mistake]:
    """Return one mistake for each leg that has to come before itself."""
    found = []
    told: set[LegId] = set()
    for leg in tour.legs.values():
        ring = _ring(tour, leg.id)
        if ring and leg.id not in told:
            told |= set(ring)
            what = f"each has to come before the next: {', '.join((*ring, ring[0]))}"
            found.append(Mistake(("legs", leg.id, "before"), what, "take one of them out"))
    return found


def _ring(tour: Tour, start: LegId) -> tuple[LegId, ...]:
    """Return a way along `before` that leads back to its start; empty if there is none."""
    ways: list[tuple[LegId, ...]] = [(start,)]
    seen: set[LegId] = set()
    while ways:
        way = ways.pop()
        leg = tour.legs.get(way[-1])
        for after in leg.before if leg else ():
            if after == start:
                return way
            if after not in seen:
                seen.add(after)
                ways.append((*way, after))
    return ()
