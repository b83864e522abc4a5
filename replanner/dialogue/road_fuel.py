"""Fuel: the next pump along the plan, whether the range reaches it, and before which dead end."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from replanner.advice.names import clean
from replanner.dialogue import replies
from replanner.dialogue.by_plan import Stand, stand
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.intent_types import Option
from replanner.dialogue.road_book import straight_km
from replanner.dialogue.road_change import from_here, with_tail
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.state import Choice, State
from replanner.dialogue.topics import Topic
from replanner.geodesy import Point
from replanner.trip.fuel import USABLE_TANK
from replanner.trip.model import LegId, LegKind, PlaceId, Way
from replanner.trip.passage import in_way
from replanner.trip.underway import Underway
from replanner.units import METRES_PER_MILE, UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """A fuel stop: where, and about how far by the plan or by the straight line. [km]."""

    place: PlaceId
    km: float
    along: bool


def fuel(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Tell the next pump; a bare distance may mean two things: ask which."""
    if word.topic is Topic.FUEL and word.km is not None:
        options = (
            Option(f"{word.said} left", f"{word.said} left"),
            Option(f"fuel wanted in {word.said}", f"fuel in {word.said}"),
        )
        asked = replace(state, question=Choice(about=Topic.FUEL, options=options))
        line = "{said}: 1 left in the tank, or 2 fuel wanted {said} on?"
        return say(asked, state.words.say(line, said=word.said))
    here = stand(state, sent)
    if here is None:
        return say(state, _stops_of_day(state))
    pumps = _pumps(state, here)
    if word.topic is Topic.FUEL_LEFT and word.km is not None and not word.trial:
        known = replace(here, underway=_with_left(state, here.underway, word.km))
        return from_here(state, known, state.demands, _left(state, here, pumps, word))
    if word.topic is Topic.FUEL_AHEAD and word.km is not None:
        return with_tail(state, sent, _ahead(state, pumps, word.km, word.said))
    return with_tail(state, sent, _next(state, here, pumps))


def counted_on(state: State) -> str:
    """Return what is counted on from a full tank."""
    full = state.book.road.range_km
    if full is None:
        return state.words.say("Full tank noted; the tour file gives no range.")
    usable = distance(state, USABLE_TANK * full)
    return state.words.say("Full tank noted, I count on {km}.", km=usable)


def full_in_the_morning(state: State, day: date | None) -> str:
    """Return that a day to come begins with a full tank, whoever fills up before it; None: none."""
    full = state.book.road.range_km
    if full is None or day is None:
        return counted_on(state)
    line = "The plan of {day} counts on a full tank in the morning: {km}."
    usable = distance(state, USABLE_TANK * full)
    return state.words.say(line, day=replies.date_of(day, state), km=usable)


def _with_left(state: State, underway: Underway, km: float) -> Underway:
    """Return the riders with so much left in their tank, where its range is known."""
    full = state.book.road.range_km
    if full is None:
        return underway
    since_full = USABLE_TANK * max(full - km, 0.0)
    return replace(underway, tank_km=since_full, tank_told_km=since_full)


def _stops_of_day(state: State) -> str:
    """Return the fuel stops of the day, before it has begun."""
    day = state.book.day(state.day)
    places = {place for leg in (day.legs if day else ()) for place in _places(state, leg)}
    if not places:
        return state.words.say("The tour file has no fuel stop on this day: fill before leaving.")
    names = tuple(clean(state.book.place(place)) for place in sorted(places))
    return state.words.say("Fuel on this day: {places}.", places=state.words.listed(names))


def _places(state: State, leg: LegId) -> tuple[PlaceId, ...]:
    road = state.book.road.leg(leg)
    return tuple(place for place, _ in road.fuel) if road else ()


def _pumps(state: State, here: Stand) -> tuple[Pump, ...]:
    """Return the tour's fuel stops, nearest first: along the plan, else by the straight line."""
    found: dict[PlaceId, Pump] = {}
    for place, km in _along(state, here):
        found.setdefault(place, Pump(place=place, km=km, along=True))
    point = _point(state, here)
    for _, road in state.book.road.legs:
        for place, _at in road.fuel:
            there = state.book.road.point(place)
            if place in found or point is None or there is None:
                continue
            found[place] = Pump(place=place, km=straight_km(point, there), along=False)
    return tuple(sorted(found.values(), key=lambda pump: (pump.km, pump.place)))


def _along(state: State, here: Stand) -> list[tuple[PlaceId, float]]:
    """Return fuel stops on the legs still ahead with the distance to each by the plan."""
    found: list[tuple[PlaceId, float]] = []
    km, point = 0.0, _point(state, here)
    on = here.underway.on_leg
    rides = [(leg.id, leg.way, 0.0) for leg in here.ahead]
    if on is not None and not here.underway.turning_back:
        rides.insert(0, (on.leg, on.way, in_way(on.fraction, on.way)))
    for leg, way, begun in rides:
        road = state.book.road.leg(leg)
        if road is None:
            continue
        start, end = (road.start, road.end) if way is Way.FORWARD else (road.end, road.start)
        there = state.book.road.point(start)
        if begun == 0.0 and point is not None and there is not None:
            km += straight_km(point, there)
        stops = [(in_way(at, way), place) for place, at in road.fuel]
        found += [
            (place, km + (at - begun) * road.distance_km) for at, place in stops if at >= begun
        ]
        km += (1.0 - begun) * road.distance_km
        point = state.book.road.point(end)
    return found


def _point(state: State, here: Stand) -> Point | None:
    """Return about where the riders are: their place, or the nearer end of their leg."""
    underway = here.underway
    if underway.point is not None:
        return underway.point
    if underway.place is not None:
        return state.book.road.point(underway.place)
    on = underway.on_leg
    road = state.book.road.leg(on.leg) if on else None
    if on is None or road is None:
        return None
    stops = ((road.start, 0.0), *road.spots, (road.end, 1.0))
    nearest = min(stops, key=lambda stop: abs(stop[1] - on.fraction))
    return state.book.road.point(nearest[0])


def _told(state: State, pump: Pump) -> str:
    shape = "{place}, about {km} on" if pump.along else "{place}, about {km} off the plan"
    place = clean(state.book.place(pump.place))
    return state.words.say(shape, place=place, km=distance(state, pump.km))


def distance(state: State, km: float) -> str:
    """Return a distance in the rider's unit."""
    if state.book.road.units is UnitSystem.IMPERIAL:
        return state.words.say("{n} miles", n=f"{km * 1000.0 / METRES_PER_MILE:.0f}")
    return state.words.say("{n} km", n=f"{km:.0f}")


def _next(state: State, here: Stand, pumps: tuple[Pump, ...]) -> str:
    words = state.words
    if not pumps:
        return words.say("The tour file knows no fuel stop: ask, and fill before a dead end.")
    parts = [words.say("Fuel: {pump}.", pump=_told(state, pumps[0]))]
    if pumps[1:]:
        parts.append(words.say("Then {pump}.", pump=_told(state, pumps[1])))
    parts.append(_before_dead_end(state, here))
    if state.book.road.range_km is not None:
        full = distance(state, state.book.road.range_km)
        parts.append(words.say("Smallest tank {range}.", range=full))
    return " ".join(part for part in parts if part)


def _before_dead_end(state: State, here: Stand) -> str:
    for leg in here.ahead:
        road = state.book.road.leg(leg.id)
        if road is not None and road.kind is LegKind.SPUR and not road.fuel:
            return state.words.say("Fill before {leg}.", leg=clean(state.book.name(leg.id)))
    return ""


def _left(state: State, here: Stand, pumps: tuple[Pump, ...], word: RoadWord) -> str:
    """Return whether what is left in the tank reaches the nearest pump, a fifth kept back."""
    words, counted = state.words, (word.km or 0.0) * USABLE_TANK
    head = words.say("{said} left, I count on {km}.", said=word.said, km=distance(state, counted))
    if not pumps:
        return f"{head} {words.say('The tour file knows no fuel stop: ask now.')}"
    nearest = pumps[0]
    if nearest.km > counted:
        line = words.say("Not sure to reach {pump}: ask nearer by.", pump=_told(state, nearest))
        return f"{head} {line}"
    line = words.say("Nearest fuel: {pump}.", pump=_told(state, nearest))
    return " ".join(part for part in (head, line, _before_dead_end(state, here)) if part)


def _ahead(state: State, pumps: tuple[Pump, ...], km: float, said: str) -> str:
    words = state.words
    head = words.say("Fuel wanted within {said}.", said=said)
    along = [pump for pump in pumps if pump.along and pump.km <= km]
    if along:
        return f"{head} {words.say('Last before that: {pump}.', pump=_told(state, along[-1]))}"
    if not pumps:
        return f"{head} {words.say('The tour file knows no fuel stop.')}"
    line = words.say("None on the plan by then; nearest: {pump}.", pump=_told(state, pumps[0]))
    return f"{head} {line}"
