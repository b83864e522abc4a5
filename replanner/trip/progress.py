"""Legs marked as ridden by themselves, from one live position after another.

Every leg of the day is followed in each way it may be ridden, as soon as a position lies at its
start: how far along its line the riders have come, step by step and never faster than anybody
rides. It counts as ridden when they are at its end with all that makes it this leg behind them:
the places it runs by (or, on a recorded line, each tenth of it) met in order. What was ridden in
a gap between two positions is believed where it is short. Where two legs fit about as well none is
marked: the riders are asked, or tell. All figures are assumptions.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from replanner.geodesy import Point
from replanner.trip.leg_lines import LegLine, Spot, line_of, metres_apart
from replanner.trip.model import Leg, LegId, LegKind, Tour, Way
from replanner.trip.passage import in_way
from replanner.trip.underway import OnLeg

FASTEST_MS = 45.0  # 162 km/h: faster between two positions is a jump of the receiver
AT_END_M = {True: 400.0, False: 1000.0}  # by whether the line was recorded
KEY_WITHIN_M = {True: 250.0, False: 1500.0}  # how near a place on the line has to be passed
BACK_M = {True: 400.0, False: 1500.0}  # what a position may seem to go back by
SHORT_GAP = 0.12  # of a leg, between two positions on it: believed; so is a spur turned just before
# Of the positions since its start this share has to lie on the leg.
LEAST_ON = 0.8
# In a gap this long riders may have been anywhere: a leg is followed on only where the gap is no
# more than a share of it, and where they came on by another share of what the gap allows.
LONG_GAP_MINUTES, MOST_OF_LEG, LEAST_PACE = 20.0, 0.3, 0.3
# The leg that fits best has to fit this much better than any other that fits.
CLEARLY = 1.5
CLEARLY_M = 30.0
# Before this share of a leg nobody can say which of several begun together is ridden.
_BEGUN = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Following:
    """One leg followed in one way.

    Parameters
    ----------
    reached : float
        In the way ridden.
    last : float or None
        Where the newest position lies, in the way ridden; None: not on the leg.
    missing : tuple of float
        What has still to be met, in the way ridden.
    on, off : int
        Positions on the leg and off it since its start.
    beside_m : float
        Sum of their distances from its line, those off it counted as twice its width. [m]
    """

    leg: LegId
    way: Way
    reached: float
    last: float | None
    missing: tuple[float, ...]
    on: int
    off: int
    beside_m: float

    @property
    def mean_m(self) -> float:
        """Mean distance of the positions from the line. [m]"""  # noqa: D400 - a unit ends it
        return self.beside_m / max(self.on + self.off, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What the positions of a day tell so far.

    Parameters
    ----------
    ridden : tuple of LegId
        In the order they were ridden through.
    following : tuple of Following
        Legs that may be under way.
    point, at : Point and datetime, or None
        The newest position believed.
    on : OnLeg or None
        The leg under way, as far as can be told.
    way_known : bool
        False where the leg under way fits as well the other way round.
    """

    ridden: tuple[LegId, ...] = ()
    following: tuple[Following, ...] = field(default=())
    point: Point | None = None
    at: datetime | None = None
    on: OnLeg | None = None
    way_known: bool = False


def advance(
    progress: Progress, tour: Tour, legs: Sequence[LegId], point: Point, at: datetime
) -> Progress:
    """Return the progress after one more position.

    Parameters
    ----------
    legs : sequence of LegId
        Of the day, planned ones in their order first; those marked as ridden are not followed
        again.
    at : datetime
        When the riders were there, UTC-aware; one not later than the last changes nothing, and
        neither does one nobody can have come to since.
    """
    if progress.at is not None and progress.point is not None:
        seconds = (at - progress.at).total_seconds()
        metres = metres_apart(progress.point, point)
        if seconds <= 0 or metres > FASTEST_MS * seconds + AT_END_M[False]:
            return progress
        reach = FASTEST_MS * seconds
    else:
        reach = 0.0
    left = [leg for leg in dict.fromkeys(legs) if leg not in progress.ridden]
    known = {(one.leg, one.way): one for one in progress.following if one.leg in left}
    followed = [
        moved
        for name in left
        if tour.legs[name].kind is not LegKind.STOP
        and (line := line_of(tour, tour.legs[name])) is not None
        for way in _ways(tour.legs[name])
        if (moved := _moved(tour, tour.legs[name], way, line, known.get((name, way)), point, reach))
    ]
    done = _done(tour, followed, point)
    if done is not None:
        progress = replace(progress, ridden=(*progress.ridden, done))
        # what was ridden has been this leg and no other: all others begin anew
        followed = [
            fresh
            for name in left
            if name != done
            and tour.legs[name].kind is not LegKind.STOP
            and (line := line_of(tour, tour.legs[name])) is not None
            for way in _ways(tour.legs[name])
            if (fresh := _begun(tour, tour.legs[name], way, line, point))
        ]
    else:
        # at an end and not marked: not seen whole, or not to be told apart from another
        renewed = [
            _anew(tour, one, point) if _at_end(tour, one, point) else one for one in followed
        ]
        followed = [one for one in renewed if one is not None]
    on, sure = _under_way(followed)
    return replace(
        progress,
        following=tuple(followed),
        point=point,
        at=at,
        on=None if on is None else _as_told(on),
        way_known=sure,
    )


def _ways(leg: Leg) -> tuple[Way, ...]:
    """Return the ways that can be told apart: a spur, there and back, has only one."""
    return (Way.FORWARD,) if leg.kind is LegKind.SPUR else leg.ways


def _begun(tour: Tour, leg: Leg, way: Way, line: LegLine, point: Point) -> Following | None:
    """Return a leg begun at a point; None: its start is not there."""
    start = tour.places[leg.ends(way)[0]].point
    if metres_apart(point, start) > AT_END_M[line.recorded]:
        return None
    return Following(
        leg=leg.id, way=way, reached=0.0, last=0.0, missing=_keys(tour, leg, way, line),
        on=1, off=0, beside_m=0.0,
    )  # fmt: skip


def _anew(tour: Tour, one: Following, point: Point) -> Following | None:
    """Return a leg begun once more where it ends at its own start; None: it does not."""
    leg = tour.legs[one.leg]
    line = line_of(tour, leg)
    return None if line is None else _begun(tour, leg, one.way, line, point)


def _keys(tour: Tour, leg: Leg, way: Way, line: LegLine) -> tuple[float, ...]:
    """Return what has to be met of a leg: its places, or each tenth of a recorded line."""
    if line.recorded:
        return tuple(n / 10 for n in range(1, 10))
    keys: list[float] = []
    for place in leg.via:
        spots = line.spots(tour.places[place].point)
        after = [s for s in spots if s.distance_m < 1.0 and s.fraction > max(keys, default=0.0)]
        keys += [min(spot.fraction for spot in after)] if after else []
    if leg.kind is LegKind.SPUR and not keys:
        keys.append(leg.far_end)
    return tuple(sorted(in_way(key, way) for key in keys))


def _moved(
    tour: Tour,
    leg: Leg,
    way: Way,
    line: LegLine,
    known: Following | None,
    point: Point,
    reach: float,
) -> Following | None:
    """Return a leg followed one position further; None: it is not under way."""
    fresh = _begun(tour, leg, way, line, point)
    if known is None:
        return fresh
    spot = _next(known, line, point, reach)
    if spot is None or (fresh is not None and in_way(spot.fraction, way) < _BEGUN):
        if fresh is not None:  # back at the start: begun anew
            return fresh
        if reach > FASTEST_MS * 60.0 * LONG_GAP_MINUTES:
            return None
        twice = 2.0 * float(line.within.max())
        return replace(known, last=None, off=known.off + 1, beside_m=known.beside_m + twice)
    here = in_way(spot.fraction, way)
    minutes = reach / FASTEST_MS / 60.0
    last = known.reached if known.last is None else known.last
    slow = (here - last) * leg.riding_minutes < LEAST_PACE * minutes
    if minutes > LONG_GAP_MINUTES and (slow or minutes > MOST_OF_LEG * leg.riding_minutes):
        return fresh
    return replace(
        known,
        reached=max(known.reached, here),
        last=here,
        missing=_still(known, line, point, here),
        on=known.on + 1,
        beside_m=known.beside_m + spot.distance_m,
    )


def _next(known: Following, line: LegLine, point: Point, reach: float) -> Spot | None:
    """Return the first spot on the leg at or after what was reached that could be ridden to."""
    back, ahead = BACK_M[line.recorded], reach + BACK_M[line.recorded]
    spots = [
        spot
        for spot in line.spots(point)
        if spot.on
        and -back <= (in_way(spot.fraction, known.way) - known.reached) * line.length_m <= ahead
    ]
    return min(spots, key=lambda spot: in_way(spot.fraction, known.way), default=None)


def _still(known: Following, line: LegLine, point: Point, here: float) -> tuple[float, ...]:
    """Return what has still to be met: keys passed close by, or in a short gap, are met."""
    close = KEY_WITHIN_M[line.recorded] / line.length_m
    bridged = known.last is not None and here - known.last <= SHORT_GAP
    still = []
    for key in known.missing:
        near = (
            abs(key - here) <= close
            and _distance(line, point, in_way(key, known.way)) <= (KEY_WITHIN_M[line.recorded])
        )
        passed = bridged and known.last is not None and known.last <= key <= here
        if not near and not passed:
            still.append(key)
    return tuple(still)


def _distance(line: LegLine, point: Point, fraction: float) -> float:
    """Return how far a point is from the nearer end of the hop a fraction lies on. [m]."""
    at = int(line.metres.searchsorted(fraction * line.length_m))
    ends = (max(at - 1, 0), min(at, line.metres.size - 1))
    return min(
        metres_apart(point, Point(float(line.latitude[n]), float(line.longitude[n]), 0.0))
        for n in ends
    )


def _done(tour: Tour, followed: Iterable[Following], point: Point) -> LegId | None:
    """Return the leg that has been ridden through with this position, if it is clear which."""
    here = [one for one in followed if _at_end(tour, one, point)]
    over = [one for one in here if not one.missing and one.on >= LEAST_ON * (one.on + one.off)]
    if not over:
        return None
    best = min(over, key=lambda one: one.mean_m)
    # one that was not seen whole, but fits, may be what was ridden
    others = [one for one in here if one.leg != best.leg]
    clear = all(one.mean_m > _at_most(best) for one in others)
    return best.leg if clear else None


def _at_end(tour: Tour, one: Following, point: Point) -> bool:
    leg = tour.legs[one.leg]
    line = line_of(tour, leg)
    if line is None or one.last is None:
        return False
    end = tour.places[leg.ends(one.way)[1]].point
    near = metres_apart(point, end) <= AT_END_M[line.recorded]
    late = (1.0 - one.reached) * line.length_m <= 2.0 * AT_END_M[line.recorded]
    return near and late


def _under_way(followed: Iterable[Following]) -> tuple[Following | None, bool]:
    """Return the leg that is under way and whether its way is known; None: not to be told."""
    here = [one for one in followed if one.last is not None and one.reached >= _BEGUN]
    if not here:
        return None, False
    nearest = min(here, key=lambda one: (one.off, one.mean_m, -one.reached))
    alike = [one for one in here if one.leg == nearest.leg and one.mean_m <= _at_most(nearest)]
    best = min(alike, key=lambda one: (one.off, one.way))
    others = [one for one in here if one is not best]
    rivals = [one for one in others if one.leg != best.leg]
    if any(one.mean_m <= _at_most(best) and one.off <= best.off for one in rivals):
        return None, False
    return best, all(one.leg != best.leg for one in others)


def _at_most(best: Following) -> float:
    """Return how far off others may be that fit about as well. [m]."""
    return CLEARLY * best.mean_m + CLEARLY_M


def _as_told(one: Following) -> OnLeg:
    return OnLeg(leg=one.leg, way=one.way, fraction=in_way(one.reached, one.way))
