"""The rest of a leg that riders are on, or the way back over it: a leg in its own right.

It is judged like any other leg, hour by hour and piece by piece, under the weather of the very
points the whole leg was judged by.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from replanner.trip.model import (
    Halt,
    Leg,
    LegId,
    LegKind,
    Place,
    PlaceId,
    Section,
    TideTable,
    Tour,
    Way,
    WeeklyWindow,
)
from replanner.trip.passage import in_way
from replanner.trip.stretches import Piece, leg_line, pieces

# What is left of a leg shorter than this is as good as nothing. Assumption.
LEAST_SHARE = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOfLeg:
    """A part of a leg as a leg, one way from where the riders are to an end of the whole.

    Parameters
    ----------
    places : tuple of Place
        Where its pieces lie: places the tour does not have yet.
    """

    leg: Leg
    places: tuple[Place, ...]


def rest_of_leg(
    tour: Tour, leg: Leg, way: Way, fraction: float, *, name: LegId, start: PlaceId
) -> PartOfLeg:
    """Return what is left of a leg from a point on it, ridden one way to its end.

    Its line stays that of the whole leg: the air at the foot tells the cloud base as before.
    Halts, windows and tides behind the riders are left out; so is the boat of a crossing, which
    has sailed with them.

    Parameters
    ----------
    fraction : float
        Where the riders are, told in the forward way; in front of the leg's end.
    name : LegId
        Of the part.
    start : PlaceId
        The place where the riders are.

    Raises
    ------
    ValueError
        If nothing of the leg is left.
    """
    begun = in_way(fraction, way)
    left = 1.0 - begun
    if not LEAST_SHARE < left <= 1.0:
        raise ValueError(f"nothing is left of leg {leg.id} at fraction {fraction}")
    places, sections = _sections(pieces(tour, leg, way), begun, name)
    part = Leg(
        id=name,
        name=leg.name,
        kind=leg.kind,
        start=start,
        end=leg.ends(way)[1],
        riding_minutes=leg.riding_minutes * left,
        distance_km=leg.distance_km * left,
        worth_minutes=leg.worth_minutes,
        must=True,
        one_way=True,
        road=leg.road,
        sections=sections,
        track=leg_line(tour, leg),
        windows=tuple(_windows(leg.windows, way, begun)),
        tides=_tides(leg.tides, way, begun),
        halts=tuple(_halts(leg.halts, way, begun)),
        animals=leg.animals,
        phone=leg.phone,
        last_light=leg.last_light,
        remark=leg.remark,
        far_end=(leg.far_end - begun) / left,
    )
    return PartOfLeg(leg=part, places=places)


def way_back(
    tour: Tour, leg: Leg, way: Way, fraction: float, *, name: LegId, start: PlaceId
) -> PartOfLeg:
    """Return the way back over what has been ridden of a leg, halts left out, worth nothing.

    Raises
    ------
    ValueError
        If nothing of it has been ridden.
    """
    back = Way.REVERSE if way is Way.FORWARD else Way.FORWARD
    part = rest_of_leg(tour, leg, back, fraction, name=name, start=start)
    return replace(part, leg=replace(part.leg, kind=LegKind.TRANSIT, worth_minutes=0.0, halts=()))


def _sections(
    cut: Iterable[Piece], begun: float, name: LegId
) -> tuple[tuple[Place, ...], tuple[Section, ...]]:
    """Return the pieces ahead as sections, each at the place the whole leg's piece lies."""
    places: list[Place] = []
    sections: list[Section] = []
    for number, piece in enumerate(cut):
        first, last = (_mapped(at, begun) for at in (piece.from_fraction, piece.to_fraction))
        if last <= LEAST_SHARE:
            continue
        place = Place(id=f"{name} {number}", name=piece.name, point=piece.point)
        places.append(place)
        sections.append(
            Section(
                name=piece.name,
                from_fraction=max(first, 0.0) if sections else 0.0,
                to_fraction=min(last, 1.0),
                road=replace(piece.road, headings_deg=piece.headings_deg),
                place=place.id,
            )
        )
    sections[-1] = replace(sections[-1], to_fraction=1.0)
    return tuple(places), tuple(sections)


def _mapped(at: float, begun: float) -> float:
    """Return a fraction of the way ridden as one of what is left of it."""
    return (at - begun) / (1.0 - begun)


def _ahead(fractions: Iterable[float], way: Way, begun: float) -> tuple[float, ...]:
    """Return points told in the forward way that are still ahead, as fractions of what is left."""
    met = (in_way(fraction, way) for fraction in fractions)
    return tuple(_mapped(at, begun) for at in met if at > begun)


def _windows(windows: Iterable[WeeklyWindow], way: Way, begun: float) -> Iterable[WeeklyWindow]:
    for window in windows:
        ahead = _ahead(window.fractions, way, begun)
        if window.way in (None, way) and (ahead or not window.fractions):
            yield replace(window, fractions=ahead, way=None)


def _tides(tides: TideTable | None, way: Way, begun: float) -> TideTable | None:
    if tides is None or not tides.fractions:
        return tides
    ahead = _ahead(tides.fractions, way, begun)
    return replace(tides, fractions=ahead) if ahead else None


def _halts(halts: Iterable[Halt], way: Way, begun: float) -> Iterable[Halt]:
    for halt in halts:
        for ahead in _ahead((halt.fraction,), way, begun):
            yield replace(halt, fraction=ahead)
