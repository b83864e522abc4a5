"""GPX out: a day's plan as GPX 1.1, in riding order.

Each leg is a track, each plain road between legs a route of two points, each thing that has an
hour of its own a waypoint: leaving, stops, sailings, decision points, turn-back times, being in.
`time` is the planned instant in UTC, the texts tell it in the tour's own zone. A leg without a
recorded line is drawn straight from place to place and says so.
"""

import re
from collections.abc import Iterator, Sequence
from datetime import datetime
from math import inf, isfinite

from gpxpy.gpx import (
    GPX,
    GPXRoute,
    GPXRoutePoint,
    GPXTrack,
    GPXTrackPoint,
    GPXTrackSegment,
    GPXWaypoint,
)

from replanner.advice.briefing import Briefing, DecisionPoint, PlannedLeg
from replanner.advice.names import clean
from replanner.advice.telling import written
from replanner.advice.trust_lines import signs_decide, source_of_data
from replanner.advice.wording import level_word
from replanner.geodesy import Point
from replanner.hazards.model import CAUTION
from replanner.trip.model import Leg, LegKind, Place, PlaceId, Tour, Way
from replanner.trip.stretches import leg_line, point_at

CREATOR = "replanner"
_CREDIT_WIDTH = 200
_DIGITS = 7  # about a centimetre
# What XML 1.0 cannot hold at all (W3C, XML 1.0 fifth edition, production 2, Char).
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_HALF_TURN = 180.0
_FEWEST_POINTS = 2


def day_gpx(briefing: Briefing, tour: Tour) -> bytes:
    """Write the GPX file of a day.

    Parameters
    ----------
    briefing : Briefing
        Also one of the rest of a day under way, or an old one.
    tour : Tour
        The tour it was made for. A leg or place the tour no longer has is left out, and named in
        the file's description.

    Returns
    -------
    bytes
        GPX 1.1 in UTF-8; the same for the same plan.
    """
    return _Day(briefing, tour).file().to_xml("1.1").encode("utf-8")


class _Day:
    """Writes one day."""

    def __init__(self, briefing: Briefing, tour: Tour) -> None:
        self._briefing, self._tour = briefing, tour
        self._telling = written(briefing)
        self._say = self._telling.words.say

    def file(self) -> GPX:
        briefing, gpx = self._briefing, GPX()
        gpx.creator = CREATOR
        gpx.name = _plain(f"{briefing.tour}, {briefing.date.isoformat()}")
        gpx.description = self._description()
        gpx.time = briefing.made_at
        gpx.waypoints = list(self._waypoints())
        gpx.routes = list(self._routes())
        gpx.tracks = [
            self._track(number, planned, leg)
            for number, (planned, leg) in enumerate(self._ridden(), 1)
            if leg is not None and _is_road(self._tour, leg)
        ]
        return gpx

    def _ridden(self) -> list[tuple[PlannedLeg, Leg | None]]:
        return [(planned, self._tour.legs.get(planned.id)) for planned in self._briefing.legs]

    def _description(self) -> str:
        briefing, say = self._briefing, self._say
        lost = tuple(planned.name for planned, leg in self._ridden() if leg is None)
        lines = [
            say("INVENTED, not to be ridden by") if briefing.invented else "",
            say("OLD PLAN of {time}", time=self._clock(briefing.made_at))
            if briefing.plan_stale
            else "",
            say("No longer in the tour: {names}", names=", ".join(lost)) if lost else "",
            say("All times are local, {zone}", zone=briefing.zone),
            source_of_data(self._telling, _CREDIT_WIDTH),
            signs_decide(self._telling),
        ]
        return _plain(". ".join(line for line in lines if line))

    # ------------------------------------------------------------------------------- waypoints

    def _waypoints(self) -> Iterator[GPXWaypoint]:
        briefing, say = self._briefing, self._say
        start, end = _day_ends(briefing, self._tour)
        if start is not None and briefing.departure is not None:
            time = self._clock(briefing.departure)
            name = say("{time} leave {place}", time=time, place=start.name)
            yield _waypoint(start.point, name, briefing.departure, "base")
        for planned, leg in self._ridden():
            if leg is not None:
                yield from self._along(planned, leg)
        if end is not None and briefing.arrival is not None:
            time = self._telling.figures.clock(briefing.arrival, up=True)
            name = say("{time} in at {place}", time=time, place=end.name)
            yield _waypoint(end.point, name, briefing.arrival, "base")

    def _along(self, planned: PlannedLeg, leg: Leg) -> Iterator[GPXWaypoint]:
        """Return what has an hour of its own on a leg: decisions, boat, stops, turning back."""
        line, say = _line(self._tour, leg, planned.way), self._say
        for point in self._briefing.decision_points:
            if point.leg == planned.id and point.place in self._tour.places:
                yield self._decision(point)
        if planned.sailing is not None:
            name = say("{time} boat, {leg}", time=self._clock(planned.sailing), leg=planned.name)
            yield _waypoint(line[0], name, planned.sailing, "crossing")
        if leg.kind is LegKind.STOP:
            yield self._stop(leg.name, line[0], planned.start, leg)
        for name, reached in planned.halts:
            place = _place_named(self._tour, name, [halt.place for halt in leg.halts])
            if place is not None:
                yield self._stop(name, place.point, reached, leg)
        if planned.turn_back is not None:
            yield self._turn_back(planned, planned.turn_back, line)

    def _stop(self, name: str, point: Point, reached: datetime, leg: Leg) -> GPXWaypoint:
        told = self._say("{time} stop {place}", time=self._clock(reached), place=name)
        return _waypoint(point, told, reached, "stop", leg.name)

    def _decision(self, point: DecisionPoint) -> GPXWaypoint:
        say = self._say
        latest = self._clock(point.latest)
        seen = self._telling.look_for(point)
        instead = self._telling.leg(point.instead)
        leg = self._telling.leg(point.leg)
        name = say("{time} decide at {place}", time=latest, place=point.place_name)
        told = (
            say("{leg} by {time}, else {instead}", leg=leg, time=latest, instead=instead)
            if not seen
            else say(
                "{leg} by {time}. {seen} or later? Take {instead}",
                leg=leg,
                time=latest,
                seen=seen[:1].upper() + seen[1:],
                instead=instead,
            )
        )
        place = self._tour.places[point.place]
        return _waypoint(place.point, name, point.latest, "decision point", told)

    def _turn_back(
        self, planned: PlannedLeg, latest: datetime, line: Sequence[Point]
    ) -> GPXWaypoint:
        time = self._clock(latest)
        name = self._say("{time} turn back at the latest", time=time)
        told = self._say(
            "{leg}: at {time} turn round at the latest, wherever you are on it",
            leg=planned.name,
            time=time,
        )
        return _waypoint(_far_point(line), name, latest, "turn-back time", told)

    # ---------------------------------------------------------------------- roads and connectors

    def _track(self, number: int, planned: PlannedLeg, leg: Leg) -> GPXTrack:
        telling, say = self._telling, self._say
        start, end = self._clock(planned.start), telling.figures.clock(planned.end, up=True)
        told = [say("{start} to {end}", start=start, end=end)]
        if planned.severity >= CAUTION:
            told.append(level_word(planned.severity, telling.words))
        if planned.hazard is not None:
            told.append(telling.reason(planned.hazard))
        if planned.note:
            told.append(planned.note)
        if not leg.track:
            told.append(say("drawn straight from place to place, not along the road"))
        track = GPXTrack(
            name=_plain(f"{number} {planned.name}"), description=_plain(", ".join(told))
        )
        track.number = number
        track.type = leg.kind.value  # type: ignore[assignment] # gpxpy's hint knows None only
        line = _line(self._tour, leg, planned.way)
        track.segments = [GPXTrackSegment([GPXTrackPoint(*_spot(p)) for p in line])]
        return track

    def _routes(self) -> Iterator[GPXRoute]:
        """Return the plain roads between legs; `number` is that of the leg they lead to."""
        here, end = _day_ends(self._briefing, self._tour)
        for number, (planned, leg) in enumerate(self._ridden(), 1):
            if leg is None:
                here = None
                continue
            first, last = (self._tour.places[place] for place in leg.ends(planned.way))
            if here is not None:
                yield from self._route(number, here, first)
            here = last
        if here is not None and end is not None and self._briefing.departure is not None:
            yield from self._route(len(self._briefing.legs) + 1, here, end)

    def _route(self, number: int, start: Place, end: Place) -> Iterator[GPXRoute]:
        if start.id == end.id or start.point == end.point:
            return
        name = self._say("{start} to {end}", start=start.name, end=end.name)
        told = self._say("drawn straight from place to place, not along the road")
        route = GPXRoute(name=_plain(name), description=_plain(told), number=number)
        route.type = "connector"
        route.points = [
            GPXRoutePoint(*_spot(place.point), name=_plain(place.name)) for place in (start, end)
        ]
        yield route

    def _clock(self, moment: datetime) -> str:
        return self._telling.figures.clock(moment)


def _day_ends(briefing: Briefing, tour: Tour) -> tuple[Place | None, Place | None]:
    """Return where the day begins and ends; None: told by a name the tour does not know."""
    day = next((day for day in tour.days if day.date == briefing.date), None)
    return (
        _place_named(tour, briefing.base_from, [] if day is None else [day.start]),
        _place_named(tour, briefing.base_to, [] if day is None else [day.end]),
    )


def _place_named(tour: Tour, name: str, likely: Sequence[PlaceId]) -> Place | None:
    """Return the place of a name, the likely ones looked at first."""
    for place in (*likely, *tour.places):
        if place in tour.places and tour.places[place].name == name:
            return tour.places[place]
    return tour.places.get(name)


def _is_road(tour: Tour, leg: Leg) -> bool:
    return leg.kind is not LegKind.STOP and len(set(leg_line(tour, leg))) >= _FEWEST_POINTS


def _line(tour: Tour, leg: Leg, way: Way) -> tuple[Point, ...]:
    line = leg_line(tour, leg)
    return line if way is Way.FORWARD else line[::-1]


def _far_point(line: Sequence[Point]) -> Point:
    """Return where turning back is told: half way there and back, on a pass its highest point."""
    if line[0][:2] == line[-1][:2]:
        return point_at(tuple(line), 0.5)
    return max(line, key=lambda point: point.elevation if isfinite(point.elevation) else -inf)


def _waypoint(
    point: Point, name: str, at: datetime, kind: str, told: str | None = None
) -> GPXWaypoint:
    return GPXWaypoint(
        *_spot(point),
        time=at.replace(microsecond=0),
        name=_plain(name),
        description=None if told is None else _plain(told),
        type=kind,
    )


def _spot(point: Point) -> tuple[float, float, float | None]:
    """Return a point as GPX takes it: longitude under 180, no elevation where not known."""
    longitude = round(point.longitude, _DIGITS) + 0.0  # no "-0.0"
    if longitude >= _HALF_TURN:
        longitude -= 2.0 * _HALF_TURN
    elevation = round(point.elevation, 1) + 0.0 if isfinite(point.elevation) else None
    return round(point.latitude, _DIGITS) + 0.0, longitude, elevation


def _plain(text: str) -> str:
    """Return a text on one line with nothing in it that XML cannot hold."""
    return clean(_NO_XML.sub(" ", text))
