"""From weather to plan on small tours: what every touring rider does. Common practice, no source.

The hazards, their shipped limits, the daylight and the search are the real ones; the roads, the
places' names and the weather are INVENTED.
"""

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from replanner.files.limits_toml import read_limits
from replanner.geodesy import Point
from replanner.hazards.assess import assess_day
from replanner.hazards.party import party_of
from replanner.planning.build import BuiltDay, build_day
from replanner.planning.day_clock import day_clock
from replanner.planning.day_search import solve
from replanner.planning.rules import Rules
from replanner.planning.sharing import share_legs
from replanner.planning.timetable import timetable
from replanner.trip.connectors import ConnectorTable
from replanner.trip.edits import Demands
from replanner.trip.model import (
    Day,
    Exposure,
    Leg,
    LegKind,
    LooseChippings,
    Place,
    Rider,
    Road,
    Section,
    StandIn,
    Tour,
)
from replanner.trip.stretches import sample_points
from replanner.weather.daylight import daylight
from replanner.weather.hourly import PointHours
from tests.planning.invented import FRIDAY, ZONE, ridden
from tests.service.fair import FAIR

LIMITS = read_limits(Path(__file__).parents[2] / "config" / "limits.toml")
THURSDAY = FRIDAY - timedelta(days=1)

PLACES = {
    "base": Point(-46.36, 168.02, 8.0),
    "head": Point(-46.42, 168.24, 20.0),
    "foot": Point(-46.02, 167.86, 120.0),
    "saddle": Point(-45.96, 167.69, 612.0),
    "away": Point(-45.25, 169.38, 200.0),
}

Weather = Mapping[str, Callable[[np.ndarray], np.ndarray]]


def a_tour(legs: list[Leg], days: list[Day]) -> Tour:
    return Tour(
        name="Invented",
        zone=ZONE,
        places={name: Place(id=name, name=name, point=point) for name, point in PLACES.items()},
        legs={leg.id: leg for leg in legs},
        days=tuple(days),
        riders=(Rider(id="one"), Rider(id="two")),
        invented=True,
    )


def a_leg(name: str, minutes: float, worth: float, **other: object) -> Leg:
    given = {
        "kind": LegKind.LOOP,
        "start": "base",
        "end": "base",
        "via": ("head",),
        "distance_km": minutes * 0.75,
        "road": Road(width_m=6.0, steepest_grade_percent=5.0, elevation_m=60.0),
    }
    return Leg(id=name, name=name, riding_minutes=minutes, worth_minutes=worth, **(given | other))


def a_day(*own: str, when: date = FRIDAY, **other: object) -> Day:
    return Day(**({"date": when, "start": "base", "end": "base", "own_order": own} | other))


def planned(tour: Tour, day: Day, weather: Weather) -> BuiltDay:
    """Walk the corridor: hours, hazards, problem. Weather by local hour since Friday 00:00."""
    rules, demands = Rules(), Demands()
    light = [daylight(tour.places[place].point, day.date, ZONE) for place in (day.start, day.end)]
    starts = day_clock(tour, day, light[0], light[1], rules, demands).instants
    first = np.datetime64("2027-03-29T11:00:00", "s")
    time = first + np.arange(7 * 24).astype("timedelta64[h]")
    since_friday = (time - np.datetime64("2027-04-01T11:00:00", "s")).astype(float) / 3600
    columns = {name: np.full(time.shape, value) for name, value in FAIR.items()}
    columns |= {name: made(since_friday) for name, made in weather.items()}
    hours = {point: PointHours(time, columns) for point in sample_points(tour, [day])}
    assessed = assess_day(tour, day, starts, hours, party_of(tour.riders, LIMITS), LIMITS)
    size = len(PLACES)
    minutes = np.full((size, size), 60.0)
    np.fill_diagonal(minutes, 0.0)
    roads = ConnectorTable(tuple(PLACES), minutes, np.zeros((size, size), dtype=bool), minutes)
    return build_day(tour, day, assessed, light[0], light[1], rules, demands, roads)


def rain(first: float, last: float, amount: float) -> Weather:
    """Rain of so many mm an hour between two local hours since Friday 00:00."""

    def column(high: float, low: float) -> Callable[[np.ndarray], np.ndarray]:
        return lambda hour: np.where((hour >= first) & (hour < last), high, low)

    return {
        "precipitation_amount": column(amount, 0.0),
        "precipitation_probability": column(90.0, 0.0),
        "relative_humidity": column(95.0, 60.0),
        "weather_code": column(61.0, 2.0),
    }


class TestSteepNarrowPass:
    """A steep narrow pass in any wet is left out when its parallel valley road is as good."""

    def tour(self) -> Tour:
        steep = Section(
            name="twin track",
            from_fraction=0.42,
            to_fraction=0.5,
            road=Road(
                surface="grass",
                width_m=1.8,
                steepest_grade_percent=17.0,
                exposure=Exposure.EXPOSED,
                elevation_m=612.0,
            ),
        )
        saddle = a_leg(
            "saddle",
            165,
            60,
            kind=LegKind.PASS,
            via=("foot", "saddle"),
            sections=(steep,),
            must=True,
            stand_in=StandIn(leg="valley road"),
        )
        return a_tour([saddle, a_leg("valley road", 125, 58, via=("foot",))], [a_day("saddle")])

    @pytest.mark.parametrize("amount", [0.2, 1.0, 5.0])
    def test_in_any_wet_the_valley_road(self, amount: float) -> None:
        tour = self.tour()
        built = planned(tour, tour.days[0], rain(-6, 24, amount))
        assert ridden(built, solve(built.problem).solution) == ["valley road"]

    def test_after_dry_days_the_pass(self) -> None:
        tour = self.tour()
        built = planned(tour, tour.days[0], {})
        assert ridden(built, solve(built.problem).solution) == ["saddle"]


class TestGravelDressing:
    """A loop dressed with gravel is taken dry and by day, or told with a caution."""

    def tour(self) -> Tour:
        dressed = Section(
            name="loose chippings",
            from_fraction=0.35,
            to_fraction=0.52,
            road=Road(
                exposure=Exposure.OPEN,
                width_m=4.0,
                steepest_grade_percent=8.0,
                elevation_m=310.0,
                chippings=LooseChippings(laid=date(2027, 3, 27), assumed_until=date(2027, 4, 10)),
            ),
        )
        loop = a_leg("dressed", 110, 80, sections=(dressed,))
        return a_tour([loop, a_leg("ring", 150, 50)], [a_day("ring", "dressed")])

    def test_dry_and_by_day(self) -> None:
        tour = self.tour()
        built = planned(tour, tour.days[0], rain(12, 20, 1.5))
        solution = solve(built.problem).solution
        assert solution is not None
        # The rider's own order has it last; before the rain comes, and in full daylight:
        assert ridden(built, solution)[0] == "dressed"
        leg = timetable(built, solution).legs[0]
        sunrise = built.light.start.sunrise
        assert sunrise is not None
        assert leg.start > sunrise
        assert leg.end < datetime(2027, 4, 2, 12, 0, tzinfo=ZONE)

    def test_or_told_with_a_caution(self) -> None:
        tour = self.tour()
        built = planned(tour, tour.days[0], rain(-6, 24, 1.0))
        solution = solve(built.problem).solution
        assert solution is not None
        for visit in solution.visits:
            if built.legs[visit.leg].leg.id == "dressed":
                finding = built.worst(visit.leg, visit.way, visit.start_slot)
                assert finding is not None
                assert built.way(visit.leg, visit.way).assessed.severity[visit.start_slot] >= 2

    def test_dry_loose_chippings_are_told_as_well(self) -> None:
        tour = self.tour()
        built = planned(tour, tour.days[0], {})
        way = built.way(built.index("dressed"), 0)
        assert np.all(way.assessed.severity >= 2)


class TestArrivalEvening:
    """A small peninsula loop is about an hour, and is put before check-in on the arrival evening
    when tomorrow gains by it.
    """

    def test_tonight_because_tomorrow_is_wet_until_noon(self) -> None:
        transfer = a_leg("transfer", 300, 20, kind=LegKind.TRANSIT, start="away", must=True)
        peninsula = a_leg("peninsula", 60, 45)
        range_road = a_leg(
            "range",
            300,
            120,
            via=("foot", "saddle"),
            road=Road(exposure=Exposure.EXPOSED, width_m=5.0, elevation_m=600.0),
            last_light="sunset-30",
        )
        arrival = a_day("transfer", when=THURSDAY, start="away", optional=("peninsula",))
        tomorrow = a_day("peninsula", "range")
        tour = a_tour([transfer, peninsula, range_road], [arrival, tomorrow])
        wet = rain(4, 24, 7.0)
        days = [planned(tour, day, wet) for day in tour.days]
        shared = share_legs(days)
        assert ridden(days[0], shared.solutions[0]) == ["transfer", "peninsula"]
        assert shared.moved == (("peninsula", FRIDAY, THURSDAY),)
        first = timetable(days[0], shared.solutions[0])
        (loop,) = [leg for leg in first.legs if leg.leg == "peninsula"]
        assert timedelta(minutes=50) <= loop.end - loop.start <= timedelta(minutes=75)

    def test_not_tonight_when_tomorrow_is_as_fair(self) -> None:
        transfer = a_leg("transfer", 300, 20, kind=LegKind.TRANSIT, start="away", must=True)
        arrival = a_day("transfer", when=THURSDAY, start="away", optional=("peninsula",))
        tour = a_tour([transfer, a_leg("peninsula", 60, 45)], [arrival, a_day("peninsula")])
        days = [planned(tour, day, {}) for day in tour.days]
        assert share_legs(days).moved == ()
