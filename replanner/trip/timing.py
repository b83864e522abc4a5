"""How long riding takes on a dry day, where the tour file gives kilometres but no minutes.

Weather slows a leg later, in `hazards`; here only the road itself counts. All speeds are
averages over the leg, corners, villages and junctions included, halts not.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

from replanner.trip.model import LegKind, Road, Section, SurfaceClass

BREAK_AFTER_MINUTES = 120.0  # Highway Code rule 91: at least 15 minutes every two hours (OGL)
BREAK_MINUTES = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """Average speeds [km/h] by kind of leg on a sealed road, and what slows below them.

    Parameters
    ----------
    transit, pass_road, loop, coast_lane, spur, connector : float
        On a sealed road. Common practice, no source.
    gravel_at_most : float
        40 to 50 km/h on unsealed roads: New Zealand Department of Conservation.
    track_at_most : float
        Assumption.
    steep_percent, steep_factor : float
        From that grade on, minutes are multiplied by the factor. Assumption. [%], [1]
    """

    transit: float = 68.0
    pass_road: float = 55.0
    loop: float = 46.0
    coast_lane: float = 46.0
    spur: float = 44.0
    connector: float = 60.0
    gravel_at_most: float = 45.0
    track_at_most: float = 25.0
    steep_percent: float = 8.0
    steep_factor: float = 1.15

    def of_kind(self, kind: LegKind) -> float:
        """Return the sealed-road speed of a kind [km/h].

        Raises
        ------
        ValueError
            For a crossing or a stop: their minutes do not follow from kilometres.
        """
        speeds = {
            LegKind.TRANSIT: self.transit,
            LegKind.PASS: self.pass_road,
            LegKind.LOOP: self.loop,
            LegKind.COAST_LANE: self.coast_lane,
            LegKind.SPUR: self.spur,
        }
        if kind not in speeds:
            raise ValueError(f"the minutes of a {kind} do not follow from its kilometres")
        return speeds[kind]


def estimate_minutes(distance_km: float, kind: LegKind, road: Road, speeds: Speeds) -> float:
    """Estimate the dry riding minutes of a stretch of one kind of road.

    Parameters
    ----------
    distance_km : float
        On the road. [km]
    kind : LegKind
        Not a crossing or a stop.
    road : Road
        Surface and steepest grade count.
    speeds : Speeds

    Returns
    -------
    float
        [min]

    Raises
    ------
    ValueError
        If the distance is negative, or for a crossing or a stop.

    Examples
    --------
    >>> estimate_minutes(68.0, LegKind.TRANSIT, Road(), Speeds())
    60.0
    """
    if not distance_km >= 0:
        raise ValueError(f"distance_km must not be negative, got {distance_km}")
    speed = speeds.of_kind(kind)
    if road.surface_class is SurfaceClass.GRAVEL:
        speed = min(speed, speeds.gravel_at_most)
    if road.surface_class is SurfaceClass.TRACK:
        speed = min(speed, speeds.track_at_most)
    grade = road.steepest_grade_percent
    steep = grade is not None and grade > speeds.steep_percent
    return distance_km / speed * 60.0 * (speeds.steep_factor if steep else 1.0)


def estimate_leg_minutes(
    distance_km: float, kind: LegKind, road: Road, sections: Iterable[Section], speeds: Speeds
) -> float:
    """Estimate the dry riding minutes of a leg: each section by its own road, the rest by `road`.

    Parameters
    ----------
    distance_km : float
        Of the whole leg. [km]
    kind : LegKind
    road : Road
        What holds outside the sections.
    sections : iterable of Section
        Not overlapping.
    speeds : Speeds

    Returns
    -------
    float
        [min]
    """
    minutes = 0.0
    rest = 1.0
    for section in sections:
        share = section.to_fraction - section.from_fraction
        minutes += estimate_minutes(distance_km * share, kind, section.road, speeds)
        rest -= share
    return minutes + estimate_minutes(distance_km * max(rest, 0.0), kind, road, speeds)


def break_minutes(riding_minutes: float) -> float:
    """Return the minutes of break a day's riding asks for: 15 after each full or begun 2 h but one.

    Highway Code rule 91 asks for at least 15 minutes every two hours; the last stretch of up to
    two hours ends at the base and needs none after it.

    Examples
    --------
    >>> break_minutes(120.0), break_minutes(121.0), break_minutes(600.0)
    (0.0, 15.0, 60.0)
    """
    return BREAK_MINUTES * max(0, ceil(riding_minutes / BREAK_AFTER_MINUTES) - 1)
