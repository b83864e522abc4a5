from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.files.tour_toml import load_tour
from replanner.geodesy import Point
from replanner.trip.checks import Known, Mistake, check_tour
from replanner.trip.model import (
    Base,
    Connector,
    Join,
    Leg,
    LegKind,
    LooseChippings,
    Rider,
    Road,
    Section,
    StandIn,
    TideTable,
    Tour,
    WeeklyWindow,
    WindowEffect,
)

TOUR = load_tour(Path(__file__).parents[1] / "data/tour_two_bays.toml")
SADDLE = ("legs", "saddle")
DAY = ("days", "2027-04-03")
NEXT = ("days", "2027-04-04")


def with_leg(leg_id: str, **changes: object) -> Tour:
    leg = replace(TOUR.legs[leg_id], **changes)  # type: ignore[arg-type]
    return replace(TOUR, legs={**TOUR.legs, leg_id: leg})


def with_day(index: int, **changes: object) -> Tour:
    days = list(TOUR.days)
    days[index] = replace(days[index], **changes)  # type: ignore[arg-type]
    return replace(TOUR, days=tuple(days))


def section(name: str, start: float, end: float) -> Section:
    return Section(name=name, from_fraction=start, to_fraction=end, road=Road())


def window(**changes: object) -> WeeklyWindow:
    sound = WeeklyWindow(name="gate", effect=WindowEffect.OPEN, opens=time(7), closes=time(17))
    return replace(sound, **changes)  # type: ignore[arg-type]


def tides(*hours: tuple[int, int]) -> TideTable:
    opens = tuple(
        (datetime(2027, 4, 1, a, tzinfo=UTC), datetime(2027, 4, 1, b, tzinfo=UTC)) for a, b in hours
    )
    return TideTable(fractions=(0.5,), open_utc=opens, margin_minutes=30)


def test_a_sound_tour_has_no_mistakes() -> None:
    assert check_tour(TOUR) == ()


CASES: list[tuple[str, Callable[[], Tour], tuple[object, ...], str]] = [
    ("ends of a loop", lambda: with_leg("valley", end="quay"), ("legs", "valley", "end"),
     "a loop starts and ends at one place"),
    ("loop to nowhere", lambda: with_leg("valley", via=()), ("legs", "valley"),
     "nothing says where the loop runs"),
    ("quays", lambda: with_leg("ferry", end="quay"), ("legs", "ferry", "end"),
     "a crossing has two quays"),
    ("sailings", lambda: with_leg("ferry", ferry=None), ("legs", "ferry", "ferry"),
     "a crossing needs its sailings"),
    ("sailings back", lambda: with_leg(
        "ferry", ferry=replace(TOUR.legs["ferry"].ferry, sailings=()),  # type: ignore[type-var]
     ), ("legs", "ferry", "ferry"), "no sailings forward and reverse"),
    ("ferry on land", lambda: with_leg("coast", ferry=TOUR.legs["ferry"].ferry),
     ("legs", "coast", "ferry"), "a coast lane has no ferry"),
    ("crossing untimed", lambda: with_leg("ferry", riding_minutes=float("nan")),
     ("legs", "ferry"), "a crossing needs riding_minutes"),
    ("too fast", lambda: with_leg("coast", riding_minutes=9.5),
     ("legs", "coast", "riding_minutes"), "518 km/h on average cannot be meant"),
    ("too slow", lambda: with_leg("coast", riding_minutes=1400),
     ("legs", "coast", "riding_minutes"), "4 km/h on average cannot be meant"),
    ("no time", lambda: with_leg("coast", riding_minutes=0.0),
     ("legs", "coast", "riding_minutes"), "82 km in no time"),
    ("too short", lambda: with_leg("coast", distance_km=8.2, riding_minutes=9.5),
     ("legs", "coast", "distance_km"), "8.2 km is less than the straight line, 68 km"),
    ("section backwards", lambda: with_leg("saddle", sections=(section("a", 0.5, 0.4),)),
     (*SADDLE, "sections", 0), "section 'a' runs from 0.5 to 0.4"),
    ("section outside", lambda: with_leg("saddle", sections=(section("a", 0.5, 1.1),)),
     (*SADDLE, "sections", 0), "section 'a' runs from 0.5 to 1.1"),
    ("overlap", lambda: with_leg(
        "saddle", sections=(section("b", 0.3, 0.6), section("a", 0.2, 0.31))),
     (*SADDLE, "sections", 0), "section 'b' overlaps section 'a'"),
    ("unknown place of a section", lambda: with_leg(
        "saddle", sections=(replace(section("a", 0.2, 0.3), place="fot"),)),
     (*SADDLE, "sections", 0, "place"), "unknown place 'fot'"),
    ("chippings", lambda: with_leg("saddle", sections=(), road=Road(
        chippings=LooseChippings(laid=date(2027, 4, 2), assumed_until=date(2027, 4, 1)))),
     (*SADDLE, "chippings"), "the chippings are swept before they are laid"),
    ("window", lambda: with_leg("saddle", windows=(window(closes=time(7)),)),
     (*SADDLE, "windows", 0), "window 'gate' opens and closes at one time"),
    ("slow by nothing", lambda: with_leg("saddle", windows=(window(effect=WindowEffect.SLOW),)),
     (*SADDLE, "windows", 0), "window 'gate': added_minutes go with effect = slow"),
    ("minutes without slow", lambda: with_leg("saddle", windows=(window(added_minutes=5),)),
     (*SADDLE, "windows", 0), "window 'gate': added_minutes go with effect = slow"),
    ("tide backwards", lambda: with_leg("saddle", tides=tides((11, 7))),
     (*SADDLE, "tides", "open", 0), "it closes before it opens"),
    ("tide order", lambda: with_leg("saddle", tides=tides((14, 18), (7, 11))),
     (*SADDLE, "tides", "open", 1), "it opens before the one above has closed"),
    ("tide all margin", lambda: with_leg("saddle", tides=tides((7, 8))),
     (*SADDLE, "tides", "open", 0), "with 30 minutes kept at both ends nothing is left"),
    ("own stand-in", lambda: with_leg("saddle", stand_in=StandIn(leg="saddle")),
     (*SADDLE, "stand_in", "leg"), "a leg cannot stand in for itself"),
    ("stand-in chain", lambda: with_leg("valley", stand_in=StandIn(leg="saddle")),
     (*SADDLE, "stand_in", "leg"), "stand-in 'valley' has a stand-in itself"),
    ("stand-in elsewhere", lambda: with_leg("saddle", stand_in=StandIn(leg="coast")),
     (*SADDLE, "stand_in", "leg"), "stand-in 'coast' does not join inn and inn"),
    ("stand-in one way", lambda: replace(TOUR, legs={
        **TOUR.legs,
        "lane": replace(TOUR.legs["coast"], id="lane", stand_in=StandIn(leg="road")),
        "road": replace(TOUR.legs["coast"], id="road", one_way=True)}),
     ("legs", "lane", "stand_in", "leg"), "stand-in 'road' does not join inn and quay"),
    ("unknown stand-in", lambda: with_leg("saddle", stand_in=StandIn(leg="vally")),
     (*SADDLE, "stand_in", "leg"), "unknown leg 'vally'"),
    ("join off the way", lambda: with_leg("saddle", stand_in=StandIn(leg="valley", joins=(
        Join(place="isle", riding_minutes=5, distance_km=5),))),
     (*SADDLE, "stand_in", "joins", 0, "place"), "Saddle does not run by isle"),
    ("no rider", lambda: replace(TOUR, riders=()), ("riders",), "nobody rides"),
    ("no leader", lambda: replace(TOUR, riders=(Rider(id="a"),)), ("riders",), "nobody leads"),
    ("two leaders", lambda: replace(
        TOUR, riders=(Rider(id="a", leader=True), Rider(id="b", leader=True))),
     ("riders",), "a and b lead"),
    ("rider twice", lambda: replace(TOUR, riders=(Rider(id="a", leader=True), Rider(id="a"))),
     ("riders", 1, "id"), "rider 'a' is there twice"),
    ("no days", lambda: replace(TOUR, days=()), ("days",), "the tour has no days"),
    ("day twice", lambda: replace(TOUR, days=(TOUR.days[0], TOUR.days[0])),
     DAY, "2027-04-03 is there 2 times"),
    ("no legs", lambda: with_day(0, own_order=()), DAY, "the day has no legs"),
    ("leg twice", lambda: with_day(0, own_order=("saddle", "saddle")),
     (*DAY, "own_order", 1), "leg 'saddle' is there twice"),
    ("both", lambda: with_day(0, own_order=("saddle", "valley")),
     (*DAY, "own_order", 0), "both 'saddle' and its stand-in 'valley' are to be ridden"),
    ("order", lambda: with_day(0, own_order=("coast", "saddle")),
     (*DAY, "own_order", 1), "'saddle' has to come before 'coast'"),
    ("hours", lambda: with_day(0, latest_departure=time(7)),
     (*DAY, "latest_departure"), "latest_departure 07:00 is before own_departure 08:00"),
    ("no way over", lambda: with_day(1, own_order=("coast",)),
     (*NEXT, "end"), "there is no road from Coast to Isle"),
    ("no way on", lambda: with_day(1, start="isle", own_order=("coast", "ferry")),
     (*NEXT, "own_order", 0), "there is no road from Isle to Coast"),
    ("chain", lambda: with_day(1, start="quay"),
     (*NEXT, "start"), "the day starts at quay, the day before ended at inn"),
    ("night", lambda: replace(TOUR, bases=(Base(place="inn", nights=(date(2027, 4, 4),)),)),
     ("bases", 0, "nights", 0), "the night of 2027-04-04 is at inn, that day ends at isle"),
    ("two beds", lambda: replace(TOUR, bases=(*TOUR.bases, *TOUR.bases)),
     ("bases", 1, "nights", 0), "the night of 2027-04-03 is spent at inn already"),
    ("reception", lambda: replace(TOUR, bases=(
        replace(TOUR.bases[0], reception_until=time(14)),)),
     ("bases", 0, "reception_until"), "reception_until 14:00 is before check_in_from 15:00"),
    ("connector to itself", lambda: replace(TOUR, connectors=(
        Connector(between=("inn", "inn"), riding_minutes=3.0),)),
     ("connectors", 0, "between"), "it joins a place with itself"),
    ("connector twice", lambda: replace(TOUR, connectors=(
        *TOUR.connectors, Connector(between=("quay", "inn"), riding_minutes=3.0))),
     ("connectors", 1, "between"), "quay and inn are joined twice"),
    ("no road of 5 km", lambda: replace(TOUR, connectors=(
        Connector(between=("inn", "quay"), riding_minutes=None, distance_km=5.0),)),
     ("connectors", 0), "it has kilometres but no road"),
    ("zone", lambda: replace(TOUR, zone=ZoneInfo("Europe/Lisbon")), ("zone",),
     "Europe/Lisbon is 11 h off the sun at its places"),
]  # fmt: skip


@pytest.mark.parametrize(("spoil", "path", "what"), [case[1:] for case in CASES],
                         ids=[case[0] for case in CASES])  # fmt: skip
def test_each_mistake_is_found_at_its_place(
    spoil: Callable[[], Tour], path: tuple[object, ...], what: str
) -> None:
    found = check_tour(spoil())
    assert (path, True) in [(each.path, each.what.startswith(what)) for each in found], found
    assert all(each.mend for each in found)
    assert len(found) == 1 or path[0] in {"legs", "days"}, "one slip, one mistake"


def test_a_place_on_the_wrong_side_of_the_world_is_named() -> None:
    foot = replace(TOUR.places["foot"], point=Point(-46.02, 67.86, 120.0))
    tour = replace(TOUR, places={**TOUR.places, "foot": foot})
    found = [mistake for mistake in check_tour(tour) if mistake.path[0] == "places"]
    assert [mistake.path for mistake in found] == [("places", "foot", "longitude")]
    assert "Foot lies 7 h off the zone Pacific/Auckland" in found[0].what


@pytest.mark.parametrize(
    ("zone", "longitude"),
    [  # real zones far from the sun: IANA tz database; longitudes from memory
        ("Asia/Shanghai", 76.0),  # Kashgar, UTC+8
        ("Pacific/Chatham", -176.6),  # UTC+12:45, east of the date line by the map
        ("America/Adak", -176.6),  # UTC-10
        ("Pacific/Kiritimati", -157.4),  # UTC+14
        ("Europe/Madrid", -9.0),  # Galicia, UTC+1
    ],
)
def test_real_zones_far_from_the_sun_are_no_mistake(zone: str, longitude: float) -> None:
    places = {
        name: replace(place, point=Point(0.0, longitude, 0.0))
        for name, place in TOUR.places.items()
    }
    found = check_tour(replace(TOUR, zone=ZoneInfo(zone), places=places))
    assert [mistake for mistake in found if mistake.path[0] in {"zone", "places"}] == []


def leg(leg_id: str, before: set[str]) -> Leg:
    return Leg(
        id=leg_id,
        name=leg_id,
        kind=LegKind.TRANSIT,
        start="inn",
        end="quay",
        riding_minutes=90,
        distance_km=80,
        before=tuple(sorted(before)),
    )


@given(
    st.dictionaries(
        st.sampled_from("abcdef"), st.sets(st.sampled_from("abcdef"), max_size=3), min_size=6
    )
)
def test_cycles_are_found_exactly_where_the_standard_library_finds_them(
    graph: dict[str, set[str]],
) -> None:
    tour = replace(TOUR, legs={name: leg(name, before) for name, before in graph.items()})
    found = [m for m in check_tour(tour) if m.what.startswith("each has to come before")]
    try:
        TopologicalSorter(graph).prepare()
    except CycleError:
        assert found
    else:
        assert not found


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(1, 4)), max_size=4))
def test_overlaps_are_found_exactly_where_two_sections_share_a_stretch(
    cuts: list[tuple[int, int]],
) -> None:
    spans = [(start, min(start + length, 10)) for start, length in cuts]
    cells = [cell for start, end in spans for cell in range(start, end)]
    sections = tuple(section("s", start / 10, end / 10) for start, end in spans)
    found = check_tour(with_leg("saddle", sections=sections))
    assert bool(found) == (len(set(cells)) < len(cells))


def test_what_could_not_be_read_is_known_all_the_same() -> None:
    legs = {name: leg for name, leg in TOUR.legs.items() if name != "coast"}
    places = {name: place for name, place in TOUR.places.items() if name != "foot"}
    tour = replace(TOUR, legs=legs, places=places, days=TOUR.days[1:])
    known = Known(frozenset(TOUR.places), frozenset(TOUR.legs), all_days=False)
    assert check_tour(tour, known) == ()
    assert Mistake(
        ("legs", "saddle", "before", 0), "unknown leg 'coast'", "known are ferry, saddle, valley"
    ) in check_tour(tour)


def test_hours_past_midnight_are_of_the_evening() -> None:
    late = replace(TOUR.bases[0], check_in_from=time(15), reception_until=time(1))
    assert check_tour(replace(TOUR, bases=(late,))) == ()
    assert check_tour(with_day(0, latest_arrival=time(0, 30))) == ()
    (mistake,) = check_tour(with_day(0, latest_arrival=time(7, 30)))
    assert mistake.path == (*DAY, "latest_arrival")
