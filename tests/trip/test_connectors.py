from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.geodesy import Point
from replanner.trip.connectors import connect, day_places, joined
from replanner.trip.model import (
    Connector,
    Day,
    Join,
    Leg,
    LegKind,
    Place,
    PlaceId,
    Rider,
    StandIn,
    Tour,
)
from replanner.trip.timing import Speeds

SPEEDS = Speeds(connector=60.0)


def leg(leg_id: str, kind: LegKind, start: PlaceId, end: PlaceId, **more: object) -> Leg:
    return Leg(
        id=leg_id,
        name=leg_id,
        kind=kind,
        start=start,
        end=end,
        riding_minutes=30.0,
        distance_km=20.0,
        **more,  # type: ignore[arg-type]
    )


def tour(*legs: Leg, connectors: tuple[Connector, ...] = ()) -> Tour:
    points = {
        "west": Point(0.0, 0.0, 0.0),
        "inn": Point(0.0, -0.2, 0.0),
        "east": Point(0.0, 1.0, 0.0),
        "cape": Point(0.0, 1.2, 0.0),
        "hill": Point(1.0, 0.5, 0.0),
    }
    return Tour(
        name="invented",
        zone=ZoneInfo("UTC"),
        places={name: Place(id=name, name=name, point=point) for name, point in points.items()},
        legs={item.id: item for item in legs},
        days=(),
        riders=(Rider(id="a", leader=True),),
        connectors=connectors,
    )


FERRY = leg("ferry", LegKind.CROSSING, "west", "east")


def test_an_estimate_is_the_geodesic_times_the_detour_factor() -> None:
    # One degree of longitude on the equator is 6378137 m x pi / 180 = 111.31949 km (WGS 84).
    table = connect(tour(), ("west", "east"), SPEEDS, detour_factor=1.5)
    assert table.between("west", "east") == pytest.approx(111.31949 * 1.5, abs=1e-4)
    assert table.distance_km[0, 1] == pytest.approx(111.31949 * 1.5, abs=1e-4)
    assert table.estimated[0, 1]


def test_a_given_connector_counts_as_given_both_ways() -> None:
    given_one = Connector(between=("east", "west"), riding_minutes=77.0, distance_km=80.0)
    table = connect(tour(connectors=(given_one,)), ("west", "east"), SPEEDS)
    assert table.minutes[0, 1] == table.minutes[1, 0] == 77.0
    assert table.distance_km[1, 0] == 80.0
    assert not table.estimated.any()


def test_a_connector_without_minutes_means_no_road() -> None:
    none = Connector(between=("west", "east"), riding_minutes=None)
    sea = tour(connectors=(none,))
    assert connect(sea, ("west", "east"), SPEEDS).between("west", "east") is None
    assert not joined(sea, "west", "east")


def test_quays_are_not_joined_by_an_estimate_even_with_a_road_round() -> None:
    round_the_inlet = leg("round", LegKind.TRANSIT, "west", "east")
    table = connect(tour(FERRY, round_the_inlet), ("west", "east", "hill"), SPEEDS)
    assert table.between("west", "east") is None
    assert table.between("west", "hill") is not None


def test_nothing_estimated_joins_two_shores_that_only_a_ferry_joins() -> None:
    island = tour(
        FERRY, leg("a", LegKind.TRANSIT, "inn", "west"), leg("b", LegKind.SPUR, "east", "cape")
    )
    table = connect(island, ("inn", "west", "east", "cape"), SPEEDS)
    assert table.between("inn", "cape") is None
    assert table.between("inn", "east") is None
    assert table.between("inn", "west") is not None
    assert not joined(island, "inn", "cape")
    assert joined(island, "east", "cape")


def test_a_given_road_over_the_water_joins_the_shores() -> None:
    bridge = Connector(between=("inn", "cape"), riding_minutes=90.0)
    joined_up = tour(FERRY, connectors=(bridge,))
    assert joined(joined_up, "inn", "cape")
    assert not joined(joined_up, "west", "east")


@given(st.permutations(["west", "inn", "east", "cape", "hill"]), st.floats(1.0, 3.0))
def test_tables_are_symmetric_and_free_on_the_diagonal(order: list[str], factor: float) -> None:
    table = connect(tour(FERRY), order, SPEEDS, factor)
    np.testing.assert_array_equal(table.minutes, table.minutes.T)
    assert (np.diag(table.minutes) == 0).all()
    assert (table.estimated == table.estimated.T).all()
    assert not table.estimated[np.isnan(table.minutes)].any()


def test_places_of_a_day_hold_stand_ins_and_their_joins() -> None:
    main = leg(
        "main",
        LegKind.PASS,
        "west",
        "east",
        stand_in=StandIn(leg="low", joins=(Join(place="hill", riding_minutes=20, distance_km=15),)),
    )
    day = Day(date=date(2027, 4, 1), start="inn", end="inn", own_order=("main",))
    low = leg("low", LegKind.TRANSIT, "west", "east")
    assert day_places(tour(main, low), day) == ("inn", "west", "east", "hill")


def test_a_detour_factor_below_one_is_refused() -> None:
    with pytest.raises(ValueError, match=r"detour_factor must be at least 1, got 0\.9"):
        connect(tour(), ("west", "east"), SPEEDS, 0.9)
