"""GPX in: the tracks and routes of a stranger's file, or one line each on what is wrong with it.

Read straight from the tree that the gate has let through (`xml_gate`): a second reader would cost
the same time again and could not say which point is wrong. Versions 1.0 and 1.1 hold tracks and
routes alike; files without a namespace are common and read as well.
"""

import math
from collections.abc import Iterator
from datetime import UTC, datetime
from xml.etree.ElementTree import Element

from replanner.advice.names import clean, shorten
from replanner.errors import Fault, InputError
from replanner.files.xml_gate import local_name, read_xml, shown_name
from replanner.geodesy import Point
from replanner.trip.track import Track, TrackPoint

MOST_BYTES = 2_000_000
_MOST_FAULTS = 5
_NAME_WIDTH = 80
# No road lies outside; recorders that lost their fix write such heights. Assumption.
_LOWEST_M, _HIGHEST_M = -500.0, 9000.0
_FEWEST_POINTS = 2


def read_gpx(data: bytes, *, where: str) -> tuple[Track, ...]:
    """Read the tracks and routes of a GPX file, tracks first, each in the order of the file.

    An elevation that is missing, unreadable or on no road is not known (NaN), a time that is
    missing or unreadable is not known (None); a time without a zone is UTC, as GPX has it. Lines
    of fewer than two points are passed over as long as another one is left.

    Parameters
    ----------
    data : bytes
        The file as it came.
    where : str
        Its name, for errors only.

    Raises
    ------
    InputError
        In one plain line each: too large, not XML, with a DTD or entities, not GPX, a point that
        is not on the earth (the first five are told), no track or route at all.
    """
    name = shown_name(where)
    root = read_xml(data, where=where, most_bytes=MOST_BYTES)
    if local_name(root) != "gpx":
        raise InputError(
            f"is no GPX: it begins with <{shorten(local_name(root), 30)}>",
            where=name,
            mend="export it as GPX 1.1",
        )
    faults: list[Fault] = []
    tracks = tuple(_lines(root, name, faults))
    if faults:
        raise InputError.of(_told(faults, name))
    sound = tuple(track for track in tracks if len(track.points) >= _FEWEST_POINTS)
    if not sound:
        raise _nothing_to_ride(root, tracks, name)
    return sound


def _lines(root: Element, name: str, faults: list[Fault]) -> Iterator[Track]:
    for number, element in enumerate(_children(root, "trk"), 1):
        where = f"{name}, track {number}"
        parts = [_children(part, "trkpt") for part in _children(element, "trkseg")]
        yield _track(element, parts, where, faults, planned=False)
    for number, element in enumerate(_children(root, "rte"), 1):
        where = f"{name}, route {number}"
        yield _track(element, [_children(element, "rtept")], where, faults, planned=True)


def _track(
    element: Element,
    parts: list[list[Element]],
    where: str,
    faults: list[Fault],
    *,
    planned: bool,
) -> Track:
    segments: list[tuple[TrackPoint, ...]] = []
    counted = 0
    for part in parts:
        points = []
        for point in part:
            counted += 1
            found = _point(point, f"{where}, point {counted}", faults)
            if found is not None:
                points.append(found)
        if points:
            segments.append(tuple(points))
    name = shorten(clean(_text(element, "name")), _NAME_WIDTH)
    return Track(name=name, segments=tuple(segments), planned=planned)


def _point(element: Element, where: str, faults: list[Fault]) -> TrackPoint | None:
    """Return a point; None, with its faults noted, where it is not on the earth."""
    latitude = _coordinate(element, "lat", 90.0, where, faults)
    longitude = _coordinate(element, "lon", 180.0, where, faults)
    if latitude is None or longitude is None:
        return None
    return TrackPoint(Point(latitude, longitude, _elevation(element)), _instant(element))


def _coordinate(
    element: Element, key: str, most: float, where: str, faults: list[Fault]
) -> float | None:
    name = {"lat": "latitude", "lon": "longitude"}[key]
    written = element.get(key)
    if written is None:
        faults.append(Fault(where, f"has no {name}", _LEAVE_IT_OUT))
        return None
    value = _number(written)
    if value is None:
        faults.append(Fault(where, f"{name} {_quoted(written)} is no number", _LEAVE_IT_OUT))
        return None
    if not -most <= value <= most:
        beyond = f"{name} {_quoted(written)} lies beyond {most:.0f} degrees"
        faults.append(Fault(where, beyond, _LEAVE_IT_OUT))
        return None
    return value


_LEAVE_IT_OUT = "delete the point, or export the file again"


def _quoted(written: str) -> str:
    return repr(shorten(written, 20))


def _number(written: str) -> float | None:
    try:
        value = float(written)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _elevation(element: Element) -> float:
    value = _number(_text(element, "ele"))
    return value if value is not None and _LOWEST_M <= value <= _HIGHEST_M else math.nan


def _instant(element: Element) -> datetime | None:
    try:
        found = datetime.fromisoformat(_text(element, "time").strip())
        return (found if found.tzinfo else found.replace(tzinfo=UTC)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _children(element: Element, name: str) -> list[Element]:
    return [child for child in element if local_name(child) == name]


def _text(element: Element, name: str) -> str:
    return next((child.text or "" for child in element if local_name(child) == name), "")


def _told(faults: list[Fault], name: str) -> tuple[Fault, ...]:
    """Return the first faults, and how many more there are."""
    told, more = faults[:_MOST_FAULTS], len(faults) - _MOST_FAULTS
    if more > 0:
        told.append(Fault(name, f"{more} more points are wrong", "export the file again"))
    return tuple(told)


def _nothing_to_ride(root: Element, tracks: tuple[Track, ...], name: str) -> InputError:
    if any(track.points for track in tracks):
        what = "holds no line, only a single point"
    elif tracks:
        what = "holds a track or route without any point"
    elif waypoints := len(_children(root, "wpt")):
        what = f"holds no track or route, only waypoints ({waypoints})"
    else:
        what = "holds no track or route"
    return InputError(what, where=name, mend="export the ride as a track")
