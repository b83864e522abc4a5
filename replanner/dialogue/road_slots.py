"""The slots of a phrase of the road, filled: legs, places, distances, speeds, times."""

import re
from collections.abc import Callable, Sequence
from datetime import time

from replanner.dialogue.book import TourBook
from replanner.dialogue.intent_types import (
    NotUnderstood,
    Option,
    UnknownName,
    Which,
)
from replanner.dialogue.matching import Match
from replanner.dialogue.names import find_name
from replanner.dialogue.road_intent import ROAD_LINES, RoadWord
from replanner.dialogue.sure_lines import sure_line
from replanner.dialogue.times import minutes_of, wall_times
from replanner.dialogue.topics import Topic
from replanner.dialogue.unfit import Unfit
from replanner.trip.model import LegId, PlaceId
from replanner.units import UnitSystem

_KM = {"km": 1.0, "kms": 1.0, "k": 1.0, "kilometres": 1.0, "kilometers": 1.0}
_KM |= dict.fromkeys(("mi", "mile", "miles"), 1.609344)  # the international mile, exact
_MS = {"kmh": 1 / 3.6, "kph": 1 / 3.6, "ms": 1.0}
_MS |= {"mph": 0.44704, "kn": 1852 / 3600, "knots": 1852 / 3600, "kt": 1852 / 3600}
_FIGURE = re.compile(r"(\d{1,4})([a-z]*)")
_MOST_OPTIONS = 4


def road_word(match: Match, book: TourBook, legs: Callable[[], tuple[LegId, ...]]) -> RoadWord:
    """Fill the slots of a phrase of the road.

    Parameters
    ----------
    legs : callable
        Finds the legs named in the phrase; raises Unfit.

    Raises
    ------
    Unfit
        If a slot holds nothing of its kind.
    """
    slots, topic = match.slots, match.topic
    named = _legs_or_by_place(match, book, legs) if {"leg", "legs"} & set(slots) else ()
    place = place_of(slots["place"], book, topic) if "place" in slots else None
    km, said, speed = None, "", None
    if "distance" in slots:
        km, said = _figure(slots["distance"], _KM, book, topic)
    if "speed" in slots:
        speed, said = _figure(slots["speed"], _MS, book, topic)
    return RoadWord(
        topic=topic,
        legs=named,
        place=place,
        minutes=_minutes(slots["minutes"], topic) if "minutes" in slots else None,
        km=km,
        said=said,
        metres_per_second=speed,
        wall=_wall(slots["time"], topic) if "time" in slots else None,
    )


def place_of(said: Sequence[str], book: TourBook, topic: Topic) -> PlaceId:
    """Return the place that was meant.

    Raises
    ------
    Unfit
        If none fits, or several fit equally well.
    """
    found = find_name(" ".join(said), dict(book.places))
    if len(found.best) == 1:
        return found.best[0]
    if not found.best:
        near = tuple(dict(book.places).get(key, key) for key in found.near)
        raise Unfit(UnknownName(" ".join(said), near))
    options = tuple(
        Option(name, sure_line(topic, {"place": name}))
        for name in map(book.place, found.best[:_MOST_OPTIONS])
    )
    raise Unfit(Which(topic, options))


def _legs_or_by_place(
    match: Match, book: TourBook, legs: Callable[[], tuple[LegId, ...]]
) -> tuple[LegId, ...]:
    """Return the legs named; where a place was named instead, the leg that runs by it."""
    try:
        return legs()
    except Unfit as unfit:
        if not isinstance(unfit.answer, UnknownName):
            raise
        said = match.slots["legs" if "legs" in match.slots else "leg"]
        places = find_name(" ".join(said), dict(book.places)).best
        near = [leg for place in places for leg in book.road.running_by(place)]
        if not near:
            raise
        if len(near) == 1:
            return (near[0],)
        shape = ROAD_LINES[match.topic][0]
        options = tuple(Option(book.name(leg), shape.format(legs=book.name(leg))) for leg in near)
        raise Unfit(Which(match.topic, options[:_MOST_OPTIONS])) from None


def _figure(
    said: Sequence[str], units: dict[str, float], book: TourBook, topic: Topic
) -> tuple[float, str]:
    """Return a figure in the unit inside, and as it was understood; no unit: the rider's own."""
    found = _FIGURE.fullmatch("".join(said))
    imperial = book.road.units is UnitSystem.IMPERIAL
    own = ("miles" if imperial else "km") if units is _KM else ("mph" if imperial else "kmh")
    if found is None or (found.group(2) or own) not in units:
        raise Unfit(NotUnderstood((topic,)))
    unit = found.group(2) or own
    return float(found.group(1)) * units[unit], f"{found.group(1)} {unit}"


def _minutes(said: Sequence[str], topic: Topic) -> float:
    found = minutes_of(said)
    if found is None:
        raise Unfit(NotUnderstood((topic,)))
    return found


def _wall(said: Sequence[str], topic: Topic) -> time:
    """Return a time of day; on the road an open half of the day is the afternoon."""
    found = wall_times(said)
    if not found:
        raise Unfit(NotUnderstood((topic,)))
    return found[-1]
