"""A leg cut into the stretches it is made of, as ridden one way, and where each one lies.

Sections, which do not overlap (`trip.checks`), overlay the leg's own road; what lies between them
is the leg's road. Offsets are minutes of dry riding from the start of the leg in the way ridden,
halts not counted.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import ceil

from replanner.geodesy import Point, along, geodesic
from replanner.trip.model import Day, Leg, Road, Section, Tour, Way

PointId = str

# A longer stretch is cut into equal parts, each with the weather of its own middle at its own
# hours: one point does not speak for a day's ride. Assumption.
LONGEST_PIECE_MINUTES = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A stretch of a leg in the way it is ridden.

    Parameters
    ----------
    name : str
        The section's name, or the leg's where no section says otherwise; the parts of a long
        stretch share it.
    from_fraction, to_fraction : float
        In the way ridden: 0 is where the ride begins, whichever end that is.
    point : Point
        Its middle, at its highest elevation.
    point_id : str
        The key of its weather in the hourly tables; the same in both ways.
    headings_deg : tuple of float
        Directions of travel in the way ridden; empty: not known. [deg]
    start_minutes, end_minutes : float
        Dry riding minutes from the start of the leg. [min]
    """

    name: str
    road: Road
    from_fraction: float
    to_fraction: float
    point: Point
    point_id: PointId
    headings_deg: tuple[float, ...]
    start_minutes: float
    end_minutes: float


def leg_line(tour: Tour, leg: Leg) -> tuple[Point, ...]:
    """Return the leg's line, forward way: its track, or its places joined straight."""
    if leg.track:
        return leg.track
    return tuple(tour.places[place].point for place in (leg.start, *leg.via, leg.end))


def pieces(tour: Tour, leg: Leg, way: Way) -> tuple[Piece, ...]:
    """Cut a leg into pieces that cover it from 0 to 1 without gap, in the order ridden."""
    line = leg_line(tour, leg)
    forward = [
        _piece(tour, leg, line, part)
        for section in _cover(leg)
        for part in _parts(section, leg.riding_minutes)
    ]
    if way is Way.FORWARD:
        return tuple(forward)
    return tuple(_turned(piece, leg.riding_minutes) for piece in reversed(forward))


def sample_points(tour: Tour, days: Iterable[Day]) -> dict[PointId, Point]:
    """Return every point whose weather is needed: each piece of each leg, and each leg's foot."""
    points: dict[PointId, Point] = {}
    for leg_id in sorted({leg for day in days for leg in day.legs}):
        leg = tour.legs[leg_id]
        points |= {piece.point_id: piece.point for piece in pieces(tour, leg, Way.FORWARD)}
        points |= foot_point(tour, leg)
        if leg.stand_in is not None:
            other = tour.legs[leg.stand_in.leg]
            points |= {piece.point_id: piece.point for piece in pieces(tour, other, Way.FORWARD)}
            points |= foot_point(tour, other)
    return points


def foot_point(tour: Tour, leg: Leg) -> Mapping[PointId, Point]:
    """Return the lowest place of a leg: the air there tells the height of the cloud base."""
    lowest = min(leg_line(tour, leg), key=lambda point: point.elevation)
    return {point_key(lowest): lowest}


def point_key(point: Point) -> PointId:
    """Return the key of a point: legs that share a place share its weather.

    Rounded to 0.0001 degrees (11 m) and 10 m in height, far below any forecast grid.
    """
    latitude, longitude = round(point.latitude, 4) + 0.0, round(point.longitude, 4) + 0.0
    return f"{latitude:.4f},{longitude:.4f},{round(point.elevation, -1) + 0.0:.0f}"


def _cover(leg: Leg) -> list[Section]:
    """Return the leg's sections with the gaps between them filled by the leg's own road."""
    cover: list[Section] = []
    reached = 0.0
    for section in sorted(leg.sections, key=lambda one: (one.from_fraction, one.to_fraction)):
        if section.from_fraction > reached:
            cover.append(_gap(leg, reached, section.from_fraction))
        cover.append(section)
        reached = section.to_fraction
    if reached < 1.0:
        cover.append(_gap(leg, reached, 1.0))
    return cover


def _gap(leg: Leg, from_fraction: float, to_fraction: float) -> Section:
    return Section(
        name=leg.name, from_fraction=from_fraction, to_fraction=to_fraction, road=leg.road
    )


def _parts(section: Section, riding_minutes: float) -> list[Section]:
    """Cut a section into equal parts that are not too long."""
    first, last = section.from_fraction, section.to_fraction
    count = max(1, ceil((last - first) * riding_minutes / LONGEST_PIECE_MINUTES - 1e-9))
    ends = [first + (last - first) * n / count for n in range(count)] + [last]
    return [
        replace(section, from_fraction=here, to_fraction=there) for here, there in pairwise(ends)
    ]


def _piece(tour: Tour, leg: Leg, line: tuple[Point, ...], section: Section) -> Piece:
    road = section.road
    if section.place is None:
        point = point_at(line, (section.from_fraction + section.to_fraction) / 2)
    else:
        point = tour.places[section.place].point
    if road.elevation_m is not None:
        point = point._replace(elevation=road.elevation_m)
    return Piece(
        name=section.name,
        road=road,
        from_fraction=section.from_fraction,
        to_fraction=section.to_fraction,
        point=point,
        point_id=point_key(point),
        headings_deg=road.headings_deg
        or _headings(line, section.from_fraction, section.to_fraction),
        start_minutes=section.from_fraction * leg.riding_minutes,
        end_minutes=section.to_fraction * leg.riding_minutes,
    )


def _turned(piece: Piece, riding_minutes: float) -> Piece:
    return Piece(
        name=piece.name,
        road=piece.road,
        from_fraction=1.0 - piece.to_fraction,
        to_fraction=1.0 - piece.from_fraction,
        point=piece.point,
        point_id=piece.point_id,
        headings_deg=tuple((heading + 180.0) % 360.0 for heading in reversed(piece.headings_deg)),
        start_minutes=riding_minutes - piece.end_minutes,
        end_minutes=riding_minutes - piece.start_minutes,
    )


@lru_cache(maxsize=1024)  # every piece of a leg asks for the same line
def _hops(line: tuple[Point, ...]) -> tuple[tuple[Point, Point, float, float], ...]:
    """Return (from, to, length [m], bearing [deg]) of each hop of a line that has a length."""
    hops = []
    for start, end in pairwise(line):
        distance, bearing = geodesic(start, end)
        if distance > 0:
            hops.append((start, end, distance, bearing))
    return tuple(hops)


def point_at(line: tuple[Point, ...], fraction: float) -> Point:
    """Return the point at a fraction of a line's length."""
    hops = _hops(line)
    target = fraction * sum(hop[2] for hop in hops)
    for start, end, length, _ in hops:
        if target <= length:
            return along(start, end, target / length)
        target -= length
    return line[-1]


def _headings(
    line: tuple[Point, ...], from_fraction: float, to_fraction: float
) -> tuple[float, ...]:
    hops = _hops(line)
    total = sum(hop[2] for hop in hops)
    found: list[float] = []
    reached = 0.0
    for _, _, length, bearing in hops:
        if reached < to_fraction * total and reached + length > from_fraction * total:
            found.append(bearing)
        reached += length
    return tuple(found)
