"""The own order of a day ridden dry, to the minute, with nothing optional in it."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from replanner.trip.connectors import ConnectorTable
from replanner.trip.fuel import stretches_km
from replanner.trip.model import Day, HaltKind, Leg, LegKind, PlaceId, Tour, Way
from replanner.trip.passage import Delay, Passage, in_way, instant64, moment_of
from replanner.trip.timing import BREAK_MINUTES, Speeds, break_minutes
from replanner.trip.windows import BanKind, judge_windows

ANY_WAIT_MINUTES = 24 * 60  # the next boat is waited for, however long


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """What forbids a leg when it is reached at an hour.

    `name` is that of the window, of the leg for a tide or a boat. `sails` says whether any boat
    goes that way on that day.
    """

    kind: BanKind
    name: str
    at: datetime
    sails: bool = True


@dataclass(slots=True, kw_only=True)
class OwnRide:
    """What riding the own order takes; minutes in [min].

    `hops` are the connectors ridden, `closed` what forbids a leg at its hour, `avoided` the
    windows better not met, with the start of the leg.
    """

    departure: datetime
    arrival: datetime
    distance_km: float = 0.0
    riding: float = 0.0
    connectors: float = 0.0
    halts: float = 0.0
    breaks: float = 0.0
    waiting: float = 0.0
    slow: float = 0.0
    optional_halts: float = 0.0
    longest_without_fuel_km: float = 0.0
    hops: list[tuple[PlaceId, PlaceId]] = field(default_factory=list)
    closed: list[Closed] = field(default_factory=list)
    avoided: list[tuple[str, datetime]] = field(default_factory=list)
    _since_fuel_km: float = 0.0
    _breaks_in_halts: float = 0.0

    def _go(self, minutes: float) -> None:
        self.arrival += timedelta(minutes=minutes)

    def hop(self, start: PlaceId, end: PlaceId, table: ConnectorTable, speeds: Speeds) -> None:
        """Ride a connector."""
        if start == end:
            return
        row, column = table.index(start), table.index(end)
        minutes = float(table.minutes[row, column])
        length = float(table.distance_km[row, column])
        self.connectors += minutes
        self.hops.append((start, end))
        self._go(minutes)
        self._roll(minutes / 60.0 * speeds.connector if np.isnan(length) else length)

    def leg(self, tour: Tour, leg: Leg, way: Way) -> None:
        """Ride a leg, meeting its windows, tides and sailings at their hour."""
        self.take_breaks()
        needed = [halt for halt in leg.halts if not halt.optional]
        start = self.arrival
        dry = Passage(
            way=way,
            starts=np.array([instant64(start)]),
            fractions=np.array([0.0, 1.0]),
            piece_minutes=np.array([[leg.riding_minutes]]),
            delays=tuple(
                Delay(in_way(halt.fraction, way), np.array([halt.minutes])) for halt in needed
            ),
        )
        verdict = judge_windows(leg, dry, tour.zone, ANY_WAIT_MINUTES)
        sails = _sails_on(leg, way, start.astimezone(tour.zone).weekday())
        self.closed += [
            Closed(kind=ban.kind, name=ban.name, at=start, sails=sails) for ban, _ in verdict.bans
        ]
        self.avoided += [(f"{leg.name}, {name}", start) for name, met in verdict.avoided if met[0]]
        if not np.isnat(verdict.departure[0]):
            boards = moment_of(verdict.departure[0])
            self.waiting += (boards - start).total_seconds() / 60.0
            if boards.astimezone(tour.zone).date() != start.astimezone(tour.zone).date():
                self.closed.append(
                    Closed(kind=BanKind.SAILING, name=leg.name, at=start, sails=sails)
                )
        self.slow += float(verdict.added_minutes[0])
        if leg.kind is not LegKind.CROSSING:
            self.riding += leg.riding_minutes
        else:
            self.waiting += leg.riding_minutes
        self.halts += sum(halt.minutes for halt in needed)
        self.optional_halts += sum(halt.minutes for halt in leg.halts if halt.optional)
        self._breaks_in_halts += BREAK_MINUTES * sum(
            halt.minutes >= BREAK_MINUTES for halt in needed
        )
        self.arrival = moment_of(verdict.passage.ends[0])
        self._roll_leg(leg, way)

    def take_breaks(self) -> None:
        """Take the breaks that are due and that no halt has been."""
        due = break_minutes(self.riding + self.connectors)
        missing = max(0.0, due - self._breaks_in_halts - self.breaks)
        self.breaks += missing
        self._go(missing)

    def _roll(self, length_km: float) -> None:
        self.distance_km += length_km
        self._since_fuel_km += length_km
        self.longest_without_fuel_km = max(self.longest_without_fuel_km, self._since_fuel_km)

    def _roll_leg(self, leg: Leg, way: Way) -> None:
        if leg.kind is LegKind.CROSSING:  # the boat burns its own
            return
        fuel = [halt for halt in leg.halts if halt.kind is HaltKind.FUEL and not halt.optional]
        pumps = sorted(in_way(halt.fraction, way) for halt in fuel)
        *to_pumps, rest = stretches_km(leg, pumps)
        for stretch in to_pumps:
            self._roll(stretch)
            self._since_fuel_km = 0.0
        self._roll(rest)


def _sails_on(leg: Leg, way: Way, weekday: int) -> bool:
    """Return whether any boat of a crossing goes that way on a weekday."""
    sailings = leg.ferry.sailings if leg.ferry is not None else ()
    return any(
        sailing.way is way and weekday in sailing.weekdays and sailing.departures
        for sailing in sailings
    )


def ride_own_order(
    tour: Tour, day: Day, table: ConnectorTable, departure: datetime, speeds: Speeds
) -> OwnRide:
    """Ride the own order of a day from its start to its end.

    Parameters
    ----------
    tour : Tour
        Checked: the own order can be ridden.
    day : Day
    table : ConnectorTable
        Of the places of the day.
    departure : datetime
        UTC.
    speeds : Speeds
        Tells the kilometres of connectors that give minutes only.
    """
    ride = OwnRide(departure=departure, arrival=departure)
    here = day.start
    for leg, way in own_ways(tour, day, table):
        start, end = leg.ends(way)
        ride.hop(here, start, table, speeds)
        ride.leg(tour, leg, way)
        here = end
    ride.hop(here, day.end, table, speeds)
    ride.take_breaks()
    return ride


def own_ways(tour: Tour, day: Day, table: ConnectorTable) -> tuple[tuple[Leg, Way], ...]:
    """Return the own order with the way of each leg that needs the least plain road.

    Raises
    ------
    ValueError
        If the own order cannot be ridden; a checked tour never raises it.
    """
    best: dict[PlaceId, tuple[float, tuple[tuple[Leg, Way], ...]]] = {day.start: (0.0, ())}
    for leg in (tour.legs[name] for name in day.own_order):
        following: dict[PlaceId, tuple[float, tuple[tuple[Leg, Way], ...]]] = {}
        for way in leg.ways:
            start, end = leg.ends(way)
            for here, (minutes, ridden) in best.items():
                hop = table.between(here, start)
                if hop is None:
                    continue
                if end not in following or minutes + hop < following[end][0]:
                    following[end] = (minutes + hop, (*ridden, (leg, way)))
        best = following
    home = {here: table.between(here, day.end) for here in best}
    ends = [(best[here][0] + hop, here) for here, hop in home.items() if hop is not None]
    if not ends:
        raise ValueError(f"the own order of {day.date} cannot be ridden")
    return best[min(ends)[1]][1]
