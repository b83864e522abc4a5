"""Time what riders may ask on the road, on the demo tour; a script, not a test.

    python tests/benchmarks/road.py

Prints the milliseconds of the whole answer (assess, build, search, explain, way home; the forecast
is at hand), the best of some runs, in processor time of this process and on the clock on the wall,
with what was decided and the first turn-back time. Over a second of processor time: exit status 1.
"""

import sys
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time
from pathlib import Path
from time import perf_counter, process_time

from replanner.advice.briefing import Briefing
from replanner.clock import local_instant
from replanner.geodesy import Point
from replanner.service.evening import plan_day
from replanner.trip.edits import Demands
from replanner.trip.model import Way
from replanner.trip.reported import report_of
from replanner.trip.underway import OnLeg, ReportKind, Underway
from replanner.weather.hourly import Forecast, ForecastSource, PointId, Window
from replanner.wiring import House, demo_house

RUNS = 3
MOST_SECONDS = 1.0
FRIDAY, SATURDAY = date(2027, 4, 2), date(2027, 4, 3)


class AtHand:
    """Keeps every answer of a forecast service."""

    def __init__(self, source: ForecastSource) -> None:
        self._source = source
        self._kept: dict[tuple[frozenset[PointId], Window], Forecast] = {}

    def hourly(self, points: Mapping[PointId, Point], window: Window) -> Forecast:
        """Return a forecast, asked for once."""
        key = (frozenset(points), window)
        if key not in self._kept:
            self._kept[key] = self._source.hourly(points, window)
        return self._kept[key]


def situations(house: House) -> dict[str, tuple[date, Demands]]:
    """Return what is asked, by name."""
    zone = house.tour.zone

    def at(day: date, hour: int, minute: int = 0) -> datetime:
        return local_instant(day, time(hour, minute), zone)

    def place(name: str, ready: datetime, *ridden: str) -> Underway:
        return Underway(at=ready, ready=ready, place=name, ridden=frozenset(ridden))

    noon, quay = at(FRIDAY, 12), place("ferry_w", at(SATURDAY, 11), "lantern_coast")
    hask = Underway(
        at=noon, ready=noon, on_leg=OnLeg(leg="hask_saddle", way=Way.FORWARD, fraction=0.3)
    )
    shut = report_of("hask_saddle", ReportKind.CLOSED, at(FRIDAY, 9), zone)
    stopped = report_of("narrows_ferry", ReportKind.NO_SAILING, at(SATURDAY, 11), zone)
    base = place("orrowick", at(FRIDAY, 9))
    return {
        "leaving": (FRIDAY, Demands(underway=base)),
        "late": (FRIDAY, Demands(underway=place("orrowick", at(FRIDAY, 15), "brindle_loop"))),
        "closed leg": (FRIDAY, Demands(underway=base, reports=frozenset({shut}))),
        "on a pass": (FRIDAY, Demands(underway=hask)),
        "turning back": (FRIDAY, Demands(underway=replace(hask, turning_back=True))),
        "puncture": (FRIDAY, Demands(underway=replace(base, ready=at(FRIDAY, 13)))),
        "tired": (FRIDAY, Demands(underway=base, stricter=1)),
        "homeward": (FRIDAY, Demands(underway=hask, homeward=True)),
        "off the route": (
            FRIDAY,
            Demands(underway=Underway(at=noon, ready=noon, point=Point(-46.1, 168.1, 0.0))),
        ),
        "missed boat": (SATURDAY, Demands(underway=quay)),
        "no sailing": (SATURDAY, Demands(underway=quay, reports=frozenset({stopped}))),
        "another night": (
            SATURDAY,
            Demands(
                underway=place("orrowick", at(SATURDAY, 9)),
                nights=frozenset({(SATURDAY, "orrowick")}),
            ),
        ),
    }


def answered(house: House, day: date, demands: Demands) -> tuple[float, float, Briefing]:
    """Return the least processor and wall seconds of an answer, and the answer."""
    if demands.underway is None:
        raise AssertionError("nobody is on the road")
    now, found = demands.underway.at, []
    plan_day(house.tour, house.tour.day(day), now, demands, house.means)  # fetches
    for _ in range(RUNS):
        begun, began = process_time(), perf_counter()
        evening = plan_day(house.tour, house.tour.day(day), now, demands, house.means)
        found.append((process_time() - begun, perf_counter() - began))
    return min(one for one, _ in found), min(one for _, one in found), evening.briefing


def main() -> None:
    """Print a line a situation."""
    slowest = 0.0
    with (
        tempfile.TemporaryDirectory() as folder,
        demo_house(Path(folder) / "demo.sqlite", FRIDAY) as house,
    ):
        at_hand = replace(house.means, forecasts=AtHand(house.means.forecasts))
        kept = replace(house, means=at_hand)
        sys.stdout.write("situation        cpu ms  wall ms  decision     turn back  home by\n")
        for name, (day, demands) in situations(kept).items():
            cpu, wall, briefing = answered(kept, day, demands)
            slowest = max(slowest, cpu)
            turns = [leg.turn_back for leg in briefing.legs if leg.turn_back is not None]
            home = briefing.way_home
            told = [
                "-" if moment is None else f"{moment.astimezone(house.tour.zone):%H:%M}"
                for moment in (min(turns, default=None), None if home is None else home.arrival)
            ]
            sys.stdout.write(
                f"{name:15} {1000 * cpu:7.0f} {1000 * wall:8.0f}  {briefing.decision:12} "
                f"{told[0]:9}  {told[1]}\n"
            )
    sys.exit(1 if slowest > MOST_SECONDS else 0)


if __name__ == "__main__":
    main()
