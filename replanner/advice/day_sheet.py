"""Each day of a tour in the rider's own order, without weather: hours, light, fuel, what fails.

Months ahead this is all that can be known. Breaks follow Highway Code rule 91; halts that may be
left out are not counted, sailings, gates, tides and slow hours are met at the hour they would be.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from replanner.advice.day_ride import OwnRide, ride_own_order
from replanner.clock import local_instant
from replanner.trip.connectors import DETOUR_FACTOR, ConnectorTable, connect, day_places
from replanner.trip.fuel import smallest_tank_km, usable_km
from replanner.trip.model import Day, LegId, PlaceId, Tour
from replanner.trip.small_hours import latest_arrival, reception_closes
from replanner.trip.timing import Speeds
from replanner.trip.windows import BanKind
from replanner.weather.daylight import Daylight, daylight

# Hours at the wheel that professional drivers may not exceed (Regulation (EC) 561/2006, article
# 6: 9 hours a day); it does not bind riders, it tells what is a long day.
LONG_DAY_MINUTES = 540.0
WITHOUT_DAWN = time(6)  # where the sun knows no dawn somebody has to name an hour; assumption


class RemarkKind(StrEnum):
    """What does not fit, or has to be known."""

    CLOSED = "closed"  # a window forbids the leg at that hour
    TIDE = "tide"  # the tide does
    NO_SAILING = "no sailing"  # no boat goes that way on that weekday
    LAST_BOAT = "last boat"  # none goes any more at that hour
    AVOIDED = "avoided"  # better not at that hour
    DARK_START = "dark start"  # leaving before civil dawn
    TOO_LATE = "too late"  # in after the limit of the day
    LONG_DAY = "long day"
    TANK = "tank"  # longer than the usable part of the smallest tank
    ESTIMATED = "estimated"  # a connector of the day is an estimate
    NO_WORTH = "no worth"  # a leg of the own order may be left out, and says not what it is worth


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something a rider has to know of the day.

    `subject` names the leg, window or place; `at` is the hour it concerns; `figure` is in
    minutes for DARK_START, TOO_LATE, LONG_DAY and ESTIMATED, in kilometres for TANK.
    """

    kind: RemarkKind
    subject: str = ""
    at: datetime | None = None
    figure: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySheet:
    """One day in the own order. Minutes in [min], distances in [km].

    Parameters
    ----------
    riding_minutes, connector_minutes, halt_minutes, break_minutes : float
        On legs, between legs, at halts that are not optional, and in breaks beyond those halts.
    waiting_minutes, slow_minutes : float
        For boats, and by markets, works and the like.
    optional_halt_minutes : float
        Not counted in the arrival.
    estimated : tuple of (PlaceId, PlaceId)
        Connectors of the day that are estimates.
    light_from, light_until : datetime or None
        Civil dawn at the start and civil dusk at the end; None: does not occur.
    arrival : datetime or None
        None: a leg cannot be ridden at its hour, so that nobody can tell; `slack_minutes` neither.
    never_light : bool
        There is no dusk because it is dark all day.
    slack_minutes : float or None
        From arrival to the first limit; negative: too late. None: no limit.
    slack_limit : str
        "civil dusk", "latest arrival", "reception", or empty.
    longest_without_fuel_km, smallest_tank_km : float or None
        From a full tank in the morning; None: no rider gives a range.
    """

    date: date
    start: PlaceId
    end: PlaceId
    legs: tuple[LegId, ...]
    departure: datetime
    arrival: datetime | None
    distance_km: float
    riding_minutes: float
    connector_minutes: float
    halt_minutes: float
    break_minutes: float
    waiting_minutes: float
    slow_minutes: float
    optional_halt_minutes: float
    estimated: tuple[tuple[PlaceId, PlaceId], ...]
    light_from: datetime | None
    light_until: datetime | None
    never_light: bool
    slack_minutes: float | None
    slack_limit: str
    longest_without_fuel_km: float
    smallest_tank_km: float | None
    remarks: tuple[Remark, ...]

    @property
    def daylight_minutes(self) -> float | None:
        """Minutes from civil dawn to civil dusk; None where one does not occur."""
        if self.light_from is None or self.light_until is None:
            return None
        return _minutes(self.light_until - self.light_from)


def day_sheets(
    tour: Tour, speeds: Speeds, detour_factor: float = DETOUR_FACTOR
) -> tuple[DaySheet, ...]:
    """Return a sheet for every day of a tour.

    Parameters
    ----------
    tour : Tour
        Checked: every own order can be ridden.
    speeds : Speeds
        For estimated connectors.
    detour_factor : float
        Likewise. [1]
    """
    return tuple(day_sheet(tour, day, speeds, detour_factor) for day in tour.days)


def day_sheet(
    tour: Tour, day: Day, speeds: Speeds, detour_factor: float = DETOUR_FACTOR
) -> DaySheet:
    """Return the sheet of one day; see `day_sheets`."""
    table = connect(tour, day_places(tour, day), speeds, detour_factor)
    light_start = daylight(tour.places[day.start].point, day.date, tour.zone)
    light_end = daylight(tour.places[day.end].point, day.date, tour.zone)
    ride = ride_own_order(tour, day, table, _departure(tour, day, light_start), speeds)
    slack, limit = (None, "") if ride.closed else _slack(tour, day, light_end, ride)
    return DaySheet(
        date=day.date,
        start=day.start,
        end=day.end,
        legs=day.own_order,
        departure=ride.departure,
        arrival=None if ride.closed else ride.arrival,
        distance_km=ride.distance_km,
        riding_minutes=ride.riding,
        connector_minutes=ride.connectors,
        halt_minutes=ride.halts,
        break_minutes=ride.breaks,
        waiting_minutes=ride.waiting,
        slow_minutes=ride.slow,
        optional_halt_minutes=ride.optional_halts,
        estimated=_estimated(table, ride),
        light_from=light_start.civil_dawn,
        light_until=light_end.civil_dusk,
        never_light=light_start.never_light or light_end.never_light,
        slack_minutes=slack,
        slack_limit=limit,
        longest_without_fuel_km=ride.longest_without_fuel_km,
        smallest_tank_km=smallest_tank_km(tour),
        remarks=(
            *_hours_remarks(light_start, slack, limit, ride),
            *(_met_remarks(ride)),
            *_fuel_remarks(ride, usable_km(tour)),
            *_worth_remarks(tour, day),
            *(
                Remark(
                    kind=RemarkKind.ESTIMATED,
                    subject=f"{tour.places[start].name} - {tour.places[end].name}",
                    figure=table.between(start, end),
                )
                for start, end in _estimated(table, ride)
            ),
        ),
    )


def _departure(tour: Tour, day: Day, light: Daylight) -> datetime:
    wall = day.own_departure or day.earliest_departure
    if wall is not None:
        return local_instant(day.date, wall, tour.zone)
    return light.civil_dawn or local_instant(day.date, WITHOUT_DAWN, tour.zone)


def _slack(tour: Tour, day: Day, light: Daylight, ride: OwnRide) -> tuple[float | None, str]:
    """Return the minutes from arrival to the first limit, and which it is."""
    limits: list[tuple[datetime, str]] = []
    if light.civil_dusk is not None:
        limits.append((light.civil_dusk, "civil dusk"))
    by = latest_arrival(day, tour.zone)
    if by is not None:
        limits.append((by, "latest arrival"))
    limits += [
        (closes, "reception")
        for base in tour.bases
        if base.place == day.end
        and day.date in base.nights
        and (closes := reception_closes(base, day.date, tour.zone)) is not None
    ]
    if not limits:
        return None, ""
    first, limit = min(limits)
    return _minutes(first - ride.arrival), limit


def _estimated(table: ConnectorTable, ride: OwnRide) -> tuple[tuple[PlaceId, PlaceId], ...]:
    return tuple(
        hop for hop in ride.hops if table.estimated[table.index(hop[0]), table.index(hop[1])]
    )


def _hours_remarks(light: Daylight, slack: float | None, limit: str, ride: OwnRide) -> list[Remark]:
    found = []
    if light.civil_dawn is not None and ride.departure < light.civil_dawn:
        early = _minutes(light.civil_dawn - ride.departure)
        found.append(Remark(kind=RemarkKind.DARK_START, at=ride.departure, figure=early))
    if slack is not None and slack < 0:
        found.append(
            Remark(kind=RemarkKind.TOO_LATE, subject=limit, at=ride.arrival, figure=-slack)
        )
    if ride.riding + ride.connectors > LONG_DAY_MINUTES:
        found.append(Remark(kind=RemarkKind.LONG_DAY, figure=ride.riding + ride.connectors))
    return found


_WHY_CLOSED = {BanKind.WINDOW: RemarkKind.CLOSED, BanKind.TIDE: RemarkKind.TIDE}


def _met_remarks(ride: OwnRide) -> list[Remark]:
    boats = {True: RemarkKind.LAST_BOAT, False: RemarkKind.NO_SAILING}
    closed = [
        Remark(kind=_WHY_CLOSED.get(one.kind, boats[one.sails]), subject=one.name, at=one.at)
        for one in ride.closed
    ]
    return closed + [
        Remark(kind=RemarkKind.AVOIDED, subject=name, at=at) for name, at in ride.avoided
    ]


def _worth_remarks(tour: Tour, day: Day) -> list[Remark]:
    """Return the legs of an own order that are the first to go, since nothing says their worth."""
    legs = (tour.legs[leg] for leg in day.own_order)
    return [
        Remark(kind=RemarkKind.NO_WORTH, subject=leg.name)
        for leg in legs
        if not leg.must and leg.worth_minutes == 0
    ]


def _fuel_remarks(ride: OwnRide, usable: float | None) -> list[Remark]:
    if usable is None or ride.longest_without_fuel_km <= usable:
        return []
    return [Remark(kind=RemarkKind.TANK, figure=ride.longest_without_fuel_km)]


def _minutes(span: timedelta) -> float:
    return span.total_seconds() / 60.0
